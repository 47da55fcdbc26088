//! Status: the one file that turns what went wrong into gRPC statuses.

use std::time::Duration;

use nextrung_domain::ids::ClientSetId;
use nextrung_domain::problem::Problem;
use nextrung_engine::error::EngineError;
use nextrung_replay::evaluate::run::ReplayError;
use nextrung_store::error::StoreError;
use nextrung_store::key::{KeyRecord, Role};
use nextrung_store::plain::Plain;
use tonic::{Code, Status};
use tonic_types::{ErrorDetails, FieldViolation, StatusExt};

pub(crate) mod plain_http;

/// Domain of every [`tonic_types::ErrorInfo`].
pub const DOMAIN: &str = "nextrung";
/// Why a message is not taken that has more in it than is taken.
pub(crate) const MESSAGE_TOO_LARGE: &str = "MESSAGE_TOO_LARGE";
/// Room for the list of bad fields, bytes. Statuses travel in headers, where clients take about 8 KiB in all: the details
/// in base64 (a third longer) and the message once more, escaped (up to three times as long).
const ROOM: usize = 4300;
/// Longest message beside a list of bad fields, bytes.
const LONGEST_BESIDE_FIELDS: usize = 300;
/// Longest message otherwise, bytes.
const LONGEST: usize = 1000;
/// Longest description of one bad field, bytes.
const LONGEST_DESCRIPTION: usize = 600;
/// What a caller is told of a fault.
const INTERNAL: &str = "a fault of the service; it is in its log, under the x-request-id of this answer";
/// Longest value of metadata, bytes.
const LONGEST_VALUE: usize = 2000;

fn status(code: Code, reason: &str, message: impl AsRef<str>, metadata: &[(&str, String)]) -> Status {
    Status::with_error_details(code, cut(message.as_ref(), LONGEST), with_info(reason, metadata))
}

fn with_info(reason: &str, metadata: &[(&str, String)]) -> ErrorDetails {
    #[expect(
        clippy::disallowed_types,
        reason = "the error details are made of this type; nothing walks through it"
    )]
    type Metadata = std::collections::HashMap<String, String>;
    let metadata: Metadata = metadata.iter().map(|(k, v)| ((*k).to_owned(), cut(v, LONGEST_VALUE))).collect();
    ErrorDetails::with_error_info(reason, DOMAIN, metadata)
}

fn cut(text: &str, most: usize) -> String {
    if text.len() <= most {
        return text.to_owned();
    }
    format!("{}...", &text[..text.floor_char_boundary(most)])
}

/// Bad fields, every one of them as far as there is room; the last violation then says how many more there are.
pub fn bad_fields(problems: impl AsRef<[Problem]>) -> Status {
    let problems = problems.as_ref();
    let mut violations = Vec::new();
    let mut used = 0;
    for problem in problems {
        let text = format!("found {}; expected {}", problem.found, problem.expected);
        let description = cut(&text, LONGEST_DESCRIPTION);
        used += problem.field.len() + description.len() + 12;
        if used > ROOM {
            let more = problems.len() - violations.len();
            let text = format!("{more} more bad fields; mend those named first and send it again");
            violations.push(FieldViolation::new("...", text));
            break;
        }
        violations.push(FieldViolation::new(problem.field.clone(), description));
    }
    let first = problems.first().map_or_else(String::new, ToString::to_string);
    let message = match problems.len() {
        1 => first,
        n => format!("{n} bad fields; the first: {first}"),
    };
    let mut details = with_info("BAD_FIELDS", &[]);
    details.set_bad_request(violations);
    Status::with_error_details(Code::InvalidArgument, cut(&message, LONGEST_BESIDE_FIELDS), details)
}

/// A page token that was not made for this list.
pub fn bad_page_token() -> Status {
    let message = "the page token was not made for this list with these filters; start again without one";
    status(Code::InvalidArgument, "BAD_PAGE_TOKEN", message, &[])
}

/// No such ladder.
pub fn ladder_not_found(name: &str) -> Status {
    not_found("ladder", name)
}

fn not_found(what: &str, name: &str) -> Status {
    let reason = match what {
        "roster" => "ROSTER_NOT_FOUND",
        "athlete" => "ATHLETE_NOT_FOUND",
        "set" => "SET_NOT_FOUND",
        "prescription" => "PRESCRIPTION_NOT_FOUND",
        _ => "LADDER_NOT_FOUND",
    };
    status(Code::NotFound, reason, format!("there is no {what} `{name}`"), &[("name", name.to_owned())])
}

/// What the engine could not do.
pub fn of_engine(error: EngineError) -> Status {
    let message = error.to_string();
    match error {
        EngineError::BadFields { problems } => bad_fields(problems),
        EngineError::SetReused { ids } => set_reused(message, &ids),
        EngineError::AthletesNotFound { names } => athletes_not_found(message, &names),
        EngineError::SetNotFound { name } => not_found("set", &name),
        EngineError::SetWithdrawn { name } => {
            status(Code::FailedPrecondition, "SET_WITHDRAWN", message, &[("name", name)])
        }
        EngineError::VersionNotAvailable { name, version } => {
            let metadata = [("name", name), ("version", version)];
            status(Code::FailedPrecondition, "VERSION_NOT_AVAILABLE", message, &metadata)
        }
        EngineError::NoGoal { name } => {
            status(Code::FailedPrecondition, "NO_GOAL", message, &[("name", name)])
        }
        EngineError::LogMoved { name } => status(Code::Aborted, "LOG_MOVED", message, &[("name", name)]),
        EngineError::Drifted { .. } => internal("a prescription or log that cannot be made again"),
        EngineError::Store(error) => of_store(error),
    }
}

/// What a replay could not do.
pub fn of_replay(error: ReplayError) -> Status {
    let message = error.to_string();
    match error {
        ReplayError::Empty { why } => {
            status(Code::FailedPrecondition, "NOTHING_TO_SCORE", message, &[("why", why)])
        }
        ReplayError::Unreadable { source } => match source.downcast::<EngineError>() {
            Ok(error) => of_engine(*error),
            Err(_) => internal("a log that a replay cannot read"),
        },
        // Nobody hears of it when it was the caller who went away.
        ReplayError::Ended { .. } | ReplayError::Unwritten { .. } => stopping(),
        ReplayError::Wrong { .. } => internal("a replay that went wrong"),
        ReplayError::Unlearnable { .. } => internal("a regression that cannot be fitted"),
    }
}

fn athletes_not_found(message: String, names: &[String]) -> Status {
    let list = listed(names.iter().map(String::as_str));
    let first = names.first().cloned().unwrap_or_default();
    status(Code::NotFound, "ATHLETE_NOT_FOUND", message, &[("name", first), ("names", list)])
}

fn set_reused(message: String, ids: &[ClientSetId]) -> Status {
    let list = listed(ids.iter().map(ClientSetId::as_str));
    status(Code::AlreadyExists, "SET_ID_REUSED", message, &[("client_set_ids", list)])
}

/// Whole ids as far as there is room, with a comma between them.
fn listed<'a>(ids: impl Iterator<Item = &'a str>) -> String {
    let mut list = String::new();
    for id in ids {
        if list.len() + id.len() + 1 > LONGEST_VALUE {
            break;
        }
        if !list.is_empty() {
            list.push(',');
        }
        list.push_str(id);
    }
    list
}

/// What the store could not do.
pub fn of_store(error: StoreError) -> Status {
    let message = error.to_string();
    match error {
        StoreError::NotFound { what, name } => not_found(what, &name),
        StoreError::AlreadyExists { what, name } => {
            let reason = if what == "roster" { "ROSTER_EXISTS" } else { "ATHLETE_EXISTS" };
            status(Code::AlreadyExists, reason, message, &[("name", name)])
        }
        StoreError::RequestReused { request_id } => {
            status(Code::AlreadyExists, "REQUEST_ID_REUSED", message, &[("request_id", request_id)])
        }
        StoreError::SetIdTaken { ids } => set_reused(message, &ids),
        StoreError::Stopped => stopping(),
        StoreError::Unreachable { .. } => unreachable(&error.plain()),
        StoreError::Full { .. } => full(&error.plain()),
        StoreError::Unswept { .. } => unswept(&error.plain()),
        StoreError::Moved { .. }
        | StoreError::SetUnknown { .. }
        | StoreError::Refused { .. }
        | StoreError::Backend { .. }
        | StoreError::Corrupt { .. }
        | StoreError::UnknownSchema { .. }
        | StoreError::NotDurable { .. }
        | StoreError::Unproven { .. }
        | StoreError::Foreign { .. }
        | StoreError::SqliteTooOld { .. } => fault(&error.plain()),
    }
}

/// The service is going down, or its disk failed.
pub fn stopping() -> Status {
    let message = "the service is stopping or its disk failed; send it again later";
    status(Code::Unavailable, "STOPPING", message, &[])
}

/// The disk has no room for the write.
fn full(plain: &Plain) -> Status {
    let Plain { kind, doing, code } = plain;
    tracing::error!(kind, doing, code, "the disk is full");
    let message = "the disk of the service is full and nothing was kept; send it again when there is room";
    status(Code::ResourceExhausted, "DISK_FULL", message, &[])
}

/// The database cannot be asked now; why goes to the log and not to the caller.
fn unreachable(plain: &Plain) -> Status {
    let Plain { kind, doing, code } = plain;
    tracing::warn!(kind, doing, code, "the database cannot be reached");
    let message = "the database cannot be reached; send it again later, a write with the same request id";
    status(Code::Unavailable, "DATABASE_UNREACHABLE", message, &[])
}

/// Somebody was erased, but not to the last byte.
fn unswept(plain: &Plain) -> Status {
    let Plain { kind, doing, code } = plain;
    tracing::warn!(kind, doing, code, "what was erased may still have bytes in the file");
    let message = "the athlete is erased, but bytes of what was kept may still be in the database's file; end what else reads \
                   the file and send it again with the same request id";
    status(Code::Unavailable, "NOT_SWEPT", message, &[])
}

/// A fault of the service; what it was goes to its log and not to the caller. It is one of the program's own sentences, so
/// that nothing a caller sent or stored can come into a log.
pub fn internal(what: &'static str) -> Status {
    tracing::error!(what, "internal error");
    status(Code::Internal, "INTERNAL", INTERNAL, &[])
}

/// A fault of the store; what may be said of it goes to the log and not to the caller.
fn fault(plain: &Plain) -> Status {
    let Plain { kind, doing, code } = plain;
    tracing::error!(kind, doing, code, "internal error");
    status(Code::Internal, "INTERNAL", INTERNAL, &[])
}

/// Not done in time.
pub fn deadline_exceeded() -> Status {
    let message = "not done in time; a write may have been kept: repeat it with the same request id";
    status(Code::DeadlineExceeded, "DEADLINE_EXCEEDED", message, &[])
}

/// Too many calls at once.
pub fn too_busy() -> Status {
    let message = "too many calls at once; send it again a little later";
    status(Code::ResourceExhausted, "TOO_BUSY", message, &[])
}

/// One key asks for too much.
pub fn key_too_busy(wait: Duration) -> Status {
    // Whole milliseconds upwards, so that whoever waits as long is let in.
    let wait = Duration::from_millis(u64::try_from(wait.as_millis()).unwrap_or(u64::MAX).saturating_add(1));
    let message = format!("this key asks for too much; send it again after {} ms", wait.as_millis());
    let mut details = with_info("KEY_TOO_BUSY", &[]);
    details.set_retry_info(Some(wait));
    Status::with_error_details(Code::ResourceExhausted, message, details)
}

/// The message of a call did not come in time.
pub fn message_late(limit: Duration) -> Status {
    let message =
        format!("the message did not come within {} ms of its call; nothing was done", limit.as_millis());
    status(Code::DeadlineExceeded, "MESSAGE_LATE", message, &[])
}

/// Too many replays at once.
pub fn too_many_replays() -> Status {
    let message =
        "too many replays at once; end one by cancelling its call, or send it again when one has ended";
    status(Code::ResourceExhausted, "TOO_BUSY", message, &[])
}

/// The name of a code as gRPC writes it.
pub fn word(code: Code) -> &'static str {
    match code {
        Code::Ok => "OK",
        Code::Cancelled => "CANCELLED",
        Code::Unknown => "UNKNOWN",
        Code::InvalidArgument => "INVALID_ARGUMENT",
        Code::DeadlineExceeded => "DEADLINE_EXCEEDED",
        Code::NotFound => "NOT_FOUND",
        Code::AlreadyExists => "ALREADY_EXISTS",
        Code::PermissionDenied => "PERMISSION_DENIED",
        Code::ResourceExhausted => "RESOURCE_EXHAUSTED",
        Code::FailedPrecondition => "FAILED_PRECONDITION",
        Code::Aborted => "ABORTED",
        Code::OutOfRange => "OUT_OF_RANGE",
        Code::Unimplemented => "UNIMPLEMENTED",
        Code::Internal => "INTERNAL",
        Code::Unavailable => "UNAVAILABLE",
        Code::DataLoss => "DATA_LOSS",
        Code::Unauthenticated => "UNAUTHENTICATED",
    }
}

/// A message that cannot be read.
pub fn message_malformed(message: &str) -> Status {
    bad_fields([undecoded(message)])
}

/// No key came with the call.
pub fn key_missing() -> Status {
    let message = "a key is wanted: send it as `authorization: Bearer nextrung-...`";
    status(Code::Unauthenticated, "KEY_MISSING", message, &[])
}

/// The key is none of this service's; nothing is told of which part is wrong.
pub fn key_unknown() -> Status {
    let message = "the key is none of this service's; look whether all of it was sent, or ask for a new one";
    status(Code::Unauthenticated, "KEY_UNKNOWN", message, &[])
}

/// The key was revoked or has expired.
pub fn key_over(key: &KeyRecord) -> Status {
    let (reason, how) = match key.revoked_at_ms {
        Some(_) => ("KEY_REVOKED", "was revoked"),
        None => ("KEY_EXPIRED", "has expired"),
    };
    let message = format!("the key {} {how}; ask for a new one", key.id);
    status(Code::Unauthenticated, reason, message, &[("key", key.id.to_string())])
}

/// The key's holder has another role than the method asks for.
pub fn role_missing(role: Role, wanted: &[Role]) -> Status {
    let wanted: Vec<&str> = wanted.iter().map(|role| role.word()).collect();
    let message =
        format!("this key is of the role {}; the method asks for {}", role.word(), wanted.join(" or "));
    let metadata = [("role", role.word().to_owned()), ("roles", wanted.join(","))];
    status(Code::PermissionDenied, "ROLE_MISSING", message, &metadata)
}

/// The key does not reach what the request names, whether it is there or not.
pub fn out_of_reach(name: &str) -> Status {
    let message = format!("this key does not reach `{name}`");
    status(Code::PermissionDenied, "OUT_OF_REACH", message, &[("name", name.to_owned())])
}

/// There is no such method.
pub fn method_unknown() -> Status {
    status(Code::Unimplemented, "METHOD_UNKNOWN", "the contract has no such method", &[])
}

/// The message is made of too many parts, whatever its length.
pub fn message_crowded(most: usize) -> Status {
    let text = format!("the message has more than {most} texts and messages within it; send less at a time");
    status(Code::ResourceExhausted, MESSAGE_TOO_LARGE, text, &[])
}

/// Gives a status that the transport made the code and reason that the contract names; nothing when it is fine as it is.
pub fn of_transport(code: Code, message: &str) -> Option<Status> {
    if code == Code::OutOfRange {
        let text = format!("the message is too large ({message}); send less at a time");
        return Some(status(Code::ResourceExhausted, MESSAGE_TOO_LARGE, text, &[]));
    }
    // What else is not implemented, such as a compression, is told in words.
    if code == Code::Unimplemented && message.is_empty() {
        return Some(method_unknown());
    }
    // Faults of the service itself have details and do not come here.
    (code == Code::Internal).then(|| bad_fields([undecoded(message)]))
}

/// What is wrong with a message that could not be decoded, such as `failed to decode Protobuf message: LoggedSet.note:
/// RecordSetsRequest.sets: invalid string value`: the path to the field stands there from the inside out.
fn undecoded(message: &str) -> Problem {
    let told = message.strip_prefix("failed to decode Protobuf message: ").unwrap_or(message);
    let mut found = told;
    let mut path = Vec::new();
    while let Some((place, rest)) = found.split_once(": ")
        && let Some((_, field)) = place.split_once('.')
        && !place.contains(' ')
    {
        path.push(field);
        found = rest;
    }
    path.reverse();
    let field = if path.is_empty() { "message".to_owned() } else { path.join(".") };
    Problem::new(field, found, "a well-formed message of this method's request type, text in UTF-8")
}

#[cfg(test)]
mod tests;
