//! Refusal: an error the service answered with, read from its status.

use std::collections::BTreeMap;
use std::error::Error;
use std::time::Duration;

use tonic::{Code, Status};
use tonic_types::StatusExt;

use crate::failure::{Detail, PLAIN_TO_TLS, on_the_way};
use crate::names::short;

/// An error the service answered with.
#[derive(Debug, Clone)]
pub(crate) struct Refusal {
    /// The code of the status.
    pub(crate) code: Code,
    /// What it says.
    pub(crate) message: String,
    /// The reason of the contract, such as `BAD_FIELDS`; empty when the error did not come from the service itself.
    pub(crate) reason: String,
    /// What it is about.
    pub(crate) metadata: BTreeMap<String, String>,
    /// Every bad field.
    pub(crate) fields: Vec<Detail>,
    /// The id of the write that was refused.
    pub(crate) request_id: Option<String>,
    /// How long to wait before asking again, where the service says so.
    pub(crate) wait: Option<Duration>,
}

/// What a service with TLS closes a connection for; what it says about it is not always heard.
const CUT_OFF: &str = "If its port speaks TLS, write https:// in place of http://; if it asks callers for a certificate, show \
                       one that it takes: --certificate and --certificate-key.";

impl Refusal {
    /// Reads a status and its details.
    pub(crate) fn read(status: &Status) -> Self {
        let details = status.get_error_details();
        let violations = details.bad_request().map(|bad| bad.field_violations.as_slice()).unwrap_or_default();
        let fields = violations
            .iter()
            .map(|bad| Detail { place: bad.field.clone(), text: bad.description.clone() })
            .collect();
        let info = details.error_info();
        let (code, message) = match lost(status.code(), status.source()) {
            Some(cause) => (Code::Unavailable, format!("the connection to the service was lost: {cause}")),
            None => (status.code(), status.message().to_owned()),
        };
        Self {
            code,
            message,
            reason: info.map(|info| info.reason.clone()).unwrap_or_default(),
            metadata: info
                .map(|info| info.metadata.iter().map(|(key, value)| (key.clone(), value.clone())).collect())
                .unwrap_or_default(),
            fields,
            request_id: None,
            wait: details.retry_info().and_then(|retry| retry.retry_delay),
        }
    }

    /// True when the service only has too much to do at the moment, and did nothing of what was asked.
    pub(crate) fn is_too_busy(&self) -> bool {
        matches!(self.reason.as_str(), "TOO_BUSY" | "KEY_TOO_BUSY")
    }

    /// What it says, without what its fields say again.
    pub(crate) fn headline(&self) -> String {
        match self.fields.len() {
            0 => self.message.clone(),
            1 => "the service found one bad field".to_owned(),
            count => format!("the service found {count} bad fields"),
        }
    }

    /// The exit code of the process.
    pub(crate) fn exit_code(&self) -> u8 {
        match self.code {
            Code::Unavailable | Code::DeadlineExceeded | Code::Cancelled => 3,
            Code::Internal | Code::Unknown | Code::DataLoss | Code::Unimplemented => 4,
            Code::Ok
            | Code::InvalidArgument
            | Code::NotFound
            | Code::AlreadyExists
            | Code::PermissionDenied
            | Code::ResourceExhausted
            | Code::FailedPrecondition
            | Code::Aborted
            | Code::OutOfRange
            | Code::Unauthenticated => 1,
        }
    }

    /// The code as the contract writes it.
    pub(crate) fn code_name(&self) -> &'static str {
        nextrung_server::status::word(self.code)
    }

    /// What to do about it.
    pub(crate) fn advice(&self) -> String {
        let name = self.metadata.get("name").map(|name| short(name)).unwrap_or_default();
        let parent = name.rsplit_once('/').map_or("ROSTER", |(parent, _)| parent);
        // What the service says has a reason.
        if let Some(advice) = on_the_way(&self.message).filter(|_| self.reason.is_empty()) {
            return advice.to_owned();
        }
        match self.reason.as_str() {
            "BAD_FIELDS" if self.request_id.is_none() => "Mend what is named above and ask again.".to_owned(),
            "BAD_FIELDS" => "Nothing was kept. Mend what is named above and send it again.".to_owned(),
            "ROSTER_NOT_FOUND" => "See which there are: nextrung roster list".to_owned(),
            "ATHLETE_NOT_FOUND" => format!("See which there are: nextrung athlete list {parent}"),
            "LADDER_NOT_FOUND" => "See which there are: nextrung ladders list".to_owned(),
            "SET_NOT_FOUND" => format!("See which there are: nextrung sets list {parent}"),
            "PRESCRIPTION_NOT_FOUND" => format!("See which there are: nextrung prescriptions list {parent}"),
            "ROSTER_EXISTS" => format!("See it: nextrung roster show {name}"),
            "ATHLETE_EXISTS" => format!("Change it: nextrung athlete edit {name} ..."),
            "REQUEST_ID_REUSED" => "Leave --request-id out to send this as a new write.".to_owned(),
            "SET_ID_REUSED" => {
                "Nothing was kept. Change a recorded set with `nextrung sets correct`, or give a new one its own --id."
                    .to_owned()
            }
            "SET_WITHDRAWN" => "Record the set anew with an id of its own (--id).".to_owned(),
            "KEY_MISSING" => "Set NEXTRUNG_KEY to your key, or tell it with --key.".to_owned(),
            "KEY_UNKNOWN" => "It was taken from NEXTRUNG_KEY or --key.".to_owned(),
            "MESSAGE_TOO_LARGE" => "Send less at a time.".to_owned(),
            "INTERNAL" => format!("The service's own log says more. {}", self.repeat()),
            _ if self.may_be_repeated() && self.is_cut_off() => format!("{} {CUT_OFF}", self.repeat()),
            _ if self.may_be_repeated() => self.repeat(),
            _ => String::new(),
        }
    }

    /// Whether the other side closed the connection while it was written to; why it did may not have been heard then.
    fn is_cut_off(&self) -> bool {
        let is_told = |word: &str| self.message.contains(word);
        let words = ["broken pipe", "reset by peer", "operation was canceled"];
        self.reason.is_empty() && words.into_iter().any(is_told)
    }

    /// Whether the same request could go through, or already has.
    fn may_be_repeated(&self) -> bool {
        let passing =
            [Code::Unavailable, Code::DeadlineExceeded, Code::Cancelled, Code::Aborted, Code::Unknown];
        passing.contains(&self.code) || self.is_too_busy() || self.reason == "DISK_FULL"
    }

    fn repeat(&self) -> String {
        match &self.request_id {
            Some(id) => format!(
                "It may have been kept. The same command with `--request-id {id}` is safe: nothing is kept twice."
            ),
            None => "Try again in a moment.".to_owned(),
        }
    }
}

/// The last cause of a status that this side made because the connection broke, which has the code of an unknown fault, or
/// because what came was no HTTP/2, which has that of a fault of the service.
fn lost(code: Code, cause: Option<&dyn Error>) -> Option<String> {
    let mut cause = cause?;
    while let Some(deeper) = cause.source() {
        cause = deeper;
    }
    let cause = cause.to_string();
    let is_other = code == Code::Internal && cause.contains(PLAIN_TO_TLS);
    (code == Code::Unknown || is_other).then_some(cause)
}

#[cfg(test)]
mod tests {
    use tonic_types::ErrorDetails;

    use super::*;

    fn status(code: Code, reason: &str, name: &str) -> Status {
        let mut details = ErrorDetails::new();
        let metadata = [("name".to_owned(), name.to_owned())];
        details.set_error_info(reason, "nextrung", metadata);
        details.add_bad_request_violation("sets[0].reps", "found -1; expected a whole number from 0 to 300");
        <Status as StatusExt>::with_error_details(code, "no", details)
    }

    #[test]
    fn every_detail_is_read() {
        let refusal = Refusal::read(&status(Code::InvalidArgument, "BAD_FIELDS", ""));
        assert_eq!((refusal.reason.as_str(), refusal.code_name()), ("BAD_FIELDS", "INVALID_ARGUMENT"));
        assert_eq!(refusal.fields[0].place, "sets[0].reps");
        assert_eq!(refusal.exit_code(), 1);
    }

    #[test]
    fn a_connection_that_broke_is_no_fault_of_anybody() {
        let broken = std::io::Error::other("connection reset");
        assert_eq!(lost(Code::Unknown, Some(&broken)).as_deref(), Some("connection reset"));
        assert_eq!(lost(Code::Unknown, None), None, "the service said so itself");
        assert_eq!(lost(Code::Internal, Some(&broken)), None);
        let other = std::io::Error::other("connection error detected: frame with invalid size");
        assert!(lost(Code::Internal, Some(&other)).is_some(), "an alert of TLS, read as a frame");
    }

    #[test]
    fn advice_names_what_to_type() {
        let refusal =
            Refusal::read(&status(Code::NotFound, "ATHLETE_NOT_FOUND", "rosters/hall/athletes/wren"));
        assert_eq!(refusal.advice(), "See which there are: nextrung athlete list hall");
    }

    #[test]
    fn only_a_write_says_that_nothing_was_kept() {
        let mut refusal = Refusal::read(&status(Code::InvalidArgument, "BAD_FIELDS", ""));
        assert_eq!(refusal.advice(), "Mend what is named above and ask again.");
        refusal.request_id = Some("abc".to_owned());
        assert_eq!(refusal.advice(), "Nothing was kept. Mend what is named above and send it again.");
    }

    #[test]
    fn a_write_that_may_have_been_kept_says_how_to_repeat_it() {
        let mut refusal = Refusal::read(&status(Code::Unavailable, "STOPPING", ""));
        assert_eq!(refusal.exit_code(), 3);
        assert_eq!(refusal.advice(), "Try again in a moment.");
        refusal.request_id = Some("abc".to_owned());
        assert!(refusal.advice().contains("--request-id abc"), "{}", refusal.advice());
    }
}
