//! Statuses, tested for their code, reason and fields.

use std::error::Error;
use std::path::PathBuf;
use std::sync::Arc;

use tonic_types::StatusExt;

use super::*;

fn cause() -> Arc<dyn Error + Send + Sync> {
    Arc::new(std::io::Error::other("sectors 7 to 9 are gone"))
}

/// Code, reason and metadata of a status.
fn told(status: &Status) -> (Code, String, Vec<(String, String)>) {
    let info = status.get_details_error_info().unwrap();
    assert_eq!(info.domain, DOMAIN);
    let mut metadata: Vec<(String, String)> = info.metadata.into_iter().collect();
    metadata.sort();
    (status.code(), info.reason, metadata)
}

fn pair(key: &str, value: &str) -> (String, String) {
    (key.to_owned(), value.to_owned())
}

fn of(error: StoreError) -> Status {
    of_engine(EngineError::Store(error))
}

#[test]
fn what_only_others_or_the_disk_bring_about() {
    let name = || "rosters/hall/athletes/wren".to_owned();
    let moved = of_engine(EngineError::LogMoved { name: name() });
    assert_eq!(told(&moved), (Code::Aborted, "LOG_MOVED".to_owned(), vec![pair("name", &name())]));
    assert_eq!(told(&of(StoreError::Stopped)), (Code::Unavailable, "STOPPING".to_owned(), Vec::new()));
    let full = of(StoreError::Full { doing: "committing", source: cause() });
    assert_eq!(told(&full), (Code::ResourceExhausted, "DISK_FULL".to_owned(), Vec::new()));
    let closed = of(StoreError::Backend { doing: "committing", source: cause() });
    assert_eq!(told(&closed), (Code::Internal, "INTERNAL".to_owned(), Vec::new()));
}

#[test]
fn faults_of_the_service_tell_the_caller_nothing_of_its_inside() {
    let path = PathBuf::from("secret/place.sqlite");
    let corrupt = StoreError::Corrupt { what: "event 7 of secret".to_owned(), source: cause() };
    let drifted = EngineError::Drifted { name: "secret".to_owned(), detail: "another one".to_owned() };
    for status in [
        of(StoreError::Backend { doing: "reading secret", source: cause() }),
        of(corrupt),
        of(StoreError::UnknownSchema { found: 9, known: 1 }),
        of(StoreError::Foreign { path, reason: "sectors".to_owned() }),
        of(StoreError::SqliteTooOld { found: "3".to_owned(), needed: "4" }),
        of(StoreError::Moved { expected: 1, actual: 2 }),
        of(StoreError::SetUnknown { ids: Vec::new() }),
        of(StoreError::Refused { field: "secret", expected: "sectors" }),
        of_engine(drifted),
    ] {
        assert_eq!(told(&status).1, "INTERNAL");
        let text = format!("{status:?}");
        assert!(!text.contains("secret") && !text.contains("sectors"), "{text}");
    }
}

#[test]
fn reused_sets_are_listed_in_whole_ids_as_far_as_there_is_room() {
    let ids: Vec<ClientSetId> = (0..200).map(|n| ClientSetId::new(&format!("{n:0>60}")).unwrap()).collect();
    let status = of_engine(EngineError::SetReused { ids });
    let (code, reason, metadata) = told(&status);
    assert_eq!((code, reason.as_str(), metadata.len()), (Code::AlreadyExists, "SET_ID_REUSED", 1));
    let listed = &metadata[0].1;
    assert!((LONGEST_VALUE - 61..=LONGEST_VALUE).contains(&listed.len()), "{}", listed.len());
    assert!(listed.split(',').enumerate().all(|(n, id)| id == format!("{n:0>60}")));
}

#[test]
fn athletes_that_are_not_there_are_counted_and_listed_as_far_as_there_is_room() {
    let names: Vec<String> = (0..1000).map(|n| format!("rosters/hall/athletes/a{n:0>60}")).collect();
    let status = of_engine(EngineError::AthletesNotFound { names: names.clone() });
    let (code, reason, metadata) = told(&status);
    assert_eq!((code, reason.as_str()), (Code::NotFound, "ATHLETE_NOT_FOUND"));
    assert_eq!(metadata[0], pair("name", &names[0]));
    assert!(
        metadata[1].1.len() <= LONGEST_VALUE && metadata[1].1.split(',').eq(&names[..23]),
        "{metadata:?}"
    );
    assert!(status.message().starts_with("1000 athletes asked for are not there: "), "{status:?}");
    let headers = status.into_http::<()>().into_parts().0.headers;
    let size: usize = headers.iter().map(|(k, v)| k.as_str().len() + v.len() + 32).sum();
    assert!(size <= 8192 - 400, "{size}");
}

#[test]
fn replays_that_came_to_no_end_say_why_and_keep_faults_to_themselves() {
    let empty = of_replay(ReplayError::Empty { why: "of 7 sets read, 7 withdrawn later".to_owned() });
    let why = pair("why", "of 7 sets read, 7 withdrawn later");
    assert_eq!(told(&empty), (Code::FailedPrecondition, "NOTHING_TO_SCORE".to_owned(), vec![why]));
    let stopped = EngineError::Store(StoreError::Stopped);
    let unreadable = of_replay(ReplayError::Unreadable { source: Box::new(stopped) });
    assert_eq!(told(&unreadable), (Code::Unavailable, "STOPPING".to_owned(), Vec::new()));
    let progress = nextrung_replay::evaluate::run::Progress { reading: 1, athletes: 2, sets: 3 };
    assert_eq!(told(&of_replay(ReplayError::Ended { progress })).1, "STOPPING");
    let fault = || Box::new(std::io::Error::other("sectors 7 to 9 are gone"));
    assert_eq!(told(&of_replay(ReplayError::Unwritten { source: fault() })).1, "STOPPING");
    let other = of_replay(ReplayError::Unreadable { source: fault() });
    assert_eq!(told(&other).1, "INTERNAL");
    assert!(!format!("{other:?}").contains("sectors"));
}

#[test]
fn decoding_errors_name_the_path_to_the_field() {
    let told = "LoggedSet.note: RecordSetsRequest.sets: invalid string value: data is not UTF-8 encoded";
    let problem = undecoded(&format!("failed to decode Protobuf message: {told}"));
    assert_eq!(problem.field, "sets.note");
    assert_eq!(problem.found, "invalid string value: data is not UTF-8 encoded");
    for other in ["Missing request message.", "a: b", "with space.x: y", ""] {
        let problem = undecoded(other);
        assert_eq!((problem.field.as_str(), problem.found.as_str()), ("message", other));
    }
}

#[test]
fn only_what_the_transport_made_is_replaced() {
    let reason = |code, text: &str| of_transport(code, text).map(|status| told(&status).1);
    assert_eq!(reason(Code::OutOfRange, "too large").as_deref(), Some("MESSAGE_TOO_LARGE"));
    assert_eq!(reason(Code::Internal, "Missing request message.").as_deref(), Some("BAD_FIELDS"));
    assert_eq!(reason(Code::Unimplemented, "").as_deref(), Some("METHOD_UNKNOWN"));
    for code in [Code::Unimplemented, Code::NotFound, Code::Unavailable, Code::Cancelled] {
        assert_eq!(reason(code, "anything"), None, "{code:?}");
    }
}

#[test]
fn however_much_is_wrong_a_status_fits_into_headers() {
    // 8 KiB in all, less the other headers of an answer with their framing.
    let room = 8192 - 400;
    let worst = ["x", "%", "\u{7}", "猫"];
    for (sign, count) in worst.into_iter().flat_map(|sign| [1, 2, 9, 1000].map(|count| (sign, count))) {
        for length in [0, 1, 150, 299, 5000] {
            let text = sign.repeat(length);
            let problems: Vec<Problem> =
                (0..count).map(|n| Problem::new(format!("sets[{n}].stop"), &text, &text)).collect();
            let status = bad_fields(problems);
            let headers = status.into_http::<()>().into_parts().0.headers;
            let size: usize = headers.iter().map(|(k, v)| k.as_str().len() + v.len() + 32).sum();
            assert!(size <= room, "{count} x {length} x {sign}: {size}");
        }
    }
}

#[test]
fn texts_are_cut_between_letters() {
    assert_eq!(cut("abc", 3), "abc");
    assert_eq!(cut("abcd", 3), "abc...");
    assert_eq!(cut("a猫", 3), "a...");
}
