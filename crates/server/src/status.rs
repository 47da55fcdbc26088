//! Status: the one file that turns what went wrong into gRPC statuses.

use nextrung_domain::ids::ClientSetId;
use nextrung_domain::problem::Problem;
use nextrung_engine::error::EngineError;
use nextrung_store::error::StoreError;
use tonic::{Code, Status};
use tonic_types::{ErrorDetails, FieldViolation, StatusExt};

/// Domain of every [`tonic_types::ErrorInfo`].
pub const DOMAIN: &str = "nextrung";
/// Room for the list of bad fields: statuses travel in headers, and clients take about 8 KiB of those.
const ROOM: usize = 4500;

fn status(code: Code, reason: &str, message: impl AsRef<str>, metadata: &[(&str, String)]) -> Status {
    Status::with_error_details(code, cut(message.as_ref(), 1000), with_info(reason, metadata))
}

fn with_info(reason: &str, metadata: &[(&str, String)]) -> ErrorDetails {
    #[expect(
        clippy::disallowed_types,
        reason = "the error details are made of this type; nothing walks through it"
    )]
    type Metadata = std::collections::HashMap<String, String>;
    let metadata: Metadata = metadata.iter().map(|(k, v)| ((*k).to_owned(), cut(v, 500))).collect();
    ErrorDetails::with_error_info(reason, DOMAIN, metadata)
}

fn cut(text: &str, most: usize) -> String {
    if text.len() <= most {
        return text.to_owned();
    }
    let end = (0..=most).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0);
    format!("{}...", &text[..end])
}

/// Bad fields, every one of them as far as there is room; the last violation then says how many more there are.
pub fn bad_fields(problems: &[Problem]) -> Status {
    let mut violations = Vec::new();
    let mut used = 0;
    for problem in problems {
        let description = cut(&format!("found {}; expected {}", problem.found, problem.expected), 600);
        used += problem.field.len() + description.len() + 8;
        if used > ROOM && !violations.is_empty() {
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
    Status::with_error_details(Code::InvalidArgument, cut(&message, 1000), details)
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
        EngineError::BadFields { problems } => bad_fields(&problems),
        EngineError::SetReused { ids } => set_reused(message, &ids),
        EngineError::SetNotFound { name } => not_found("set", &name),
        EngineError::SetWithdrawn { name } => {
            status(Code::FailedPrecondition, "SET_WITHDRAWN", message, &[("name", name)])
        }
        EngineError::VersionNotAvailable { name, version } => {
            let metadata = [("name", name), ("version", version)];
            status(Code::FailedPrecondition, "VERSION_NOT_AVAILABLE", message, &metadata)
        }
        EngineError::Drifted { .. } => internal(&message),
        EngineError::Store(error) => of_store(error),
    }
}

fn set_reused(message: String, ids: &[ClientSetId]) -> Status {
    let list = ids.iter().map(ClientSetId::as_str).collect::<Vec<_>>().join(",");
    status(Code::AlreadyExists, "SET_ID_REUSED", message, &[("client_set_ids", list)])
}

fn of_store(error: StoreError) -> Status {
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
        StoreError::Moved { .. } => status(Code::Aborted, "LOG_MOVED", message, &[]),
        StoreError::SetIdTaken { ids } => set_reused(message, &ids),
        StoreError::Stopped => stopping(),
        StoreError::SetUnknown { .. }
        | StoreError::Refused { .. }
        | StoreError::Backend { .. }
        | StoreError::Corrupt { .. }
        | StoreError::UnknownSchema { .. }
        | StoreError::Foreign { .. }
        | StoreError::SqliteTooOld { .. } => internal(&with_causes(&error)),
    }
}

fn with_causes(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(source) = cause {
        text = format!("{text}: {source}");
        cause = source.source();
    }
    text
}

/// The service is going down, or its disk failed.
pub fn stopping() -> Status {
    let message = "the service is stopping or its disk failed; send it again later";
    status(Code::Unavailable, "STOPPING", message, &[])
}

/// A fault of the service; the detail goes to its log and not to the caller.
pub fn internal(detail: &str) -> Status {
    tracing::error!(detail, "internal error");
    status(Code::Internal, "INTERNAL", "a fault of the service; it is in its log".to_owned(), &[])
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

/// Gives a status that the transport made the code and reason that the contract names; nothing when it is fine as it is.
pub fn of_transport(code: Code, message: &str) -> Option<Status> {
    if message.contains("decoded message length too large") {
        let text = format!("the message is too large ({message}); send less at a time");
        return Some(status(Code::ResourceExhausted, "MESSAGE_TOO_LARGE", text, &[]));
    }
    if code == Code::Internal && message.starts_with("failed to decode Protobuf message") {
        return Some(bad_fields(&[Problem::new(
            "message",
            message,
            "a message of this method's request type",
        )]));
    }
    (code == Code::Cancelled && message.contains("Timeout expired")).then(deadline_exceeded)
}
