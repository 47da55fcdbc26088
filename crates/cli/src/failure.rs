//! Failure: why a command did not do as it was asked, what that means for the exit code, and what to do next.

use std::io;

use serde_json::{Value, json};

use crate::paragraph::{hanging, paragraph};
use crate::refusal::Refusal;

/// Why a command did not do as it was asked.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Failure {
    /// The command line is wrong, or a file has errors.
    #[error("{message}")]
    Input {
        /// What is wrong.
        message: String,
        /// Every place where something is wrong.
        details: Vec<Detail>,
        /// What to do.
        advice: String,
    },
    /// The service answered with an error.
    #[error("{}", .0.headline())]
    Refused(Box<Refusal>),
    /// The service could not be reached.
    #[error("no service answers at {server}: {message}")]
    Unreachable {
        /// Where it was looked for.
        server: String,
        /// What went wrong.
        message: String,
    },
    /// What was asked for is not there.
    #[error("{message}")]
    NotFound {
        /// What is missing.
        message: String,
        /// What to do.
        advice: String,
    },
    /// A sheet was recorded in part.
    #[error("{source}")]
    Partly {
        /// Sets recorded.
        recorded: u64,
        /// Sets of the sheet.
        total: usize,
        /// What stopped it.
        source: Box<Failure>,
    },
    /// A second signal came while the service was stopping.
    #[error("ended by a second signal before open calls were finished")]
    Hurried,
    /// The service ended by itself, because its store takes no more writes.
    #[error("the service ended: its store stopped for good, as after a failed sync of its file")]
    StoreStopped,
    /// The answer could not be written.
    #[error("the answer could not be written: {source}")]
    Output {
        /// What the system said.
        #[from]
        source: io::Error,
    },
    /// A fault of this program or of the machine.
    #[error("{message}")]
    Internal {
        /// What went wrong.
        message: String,
    },
}

/// One place where something is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Detail {
    /// The field, or the row and column.
    pub(crate) place: String,
    /// What is wrong there.
    pub(crate) text: String,
}

impl Failure {
    /// Wrong usage, with what to do instead.
    pub(crate) fn usage(message: impl Into<String>, advice: impl Into<String>) -> Self {
        Self::Input { message: message.into(), details: Vec::new(), advice: advice.into() }
    }

    /// A fault of this program or of the machine.
    pub(crate) fn internal(message: &impl ToString) -> Self {
        Self::Internal { message: message.to_string() }
    }

    /// The same failure of a write that was sent under this id.
    #[must_use]
    pub(crate) fn of_request(mut self, id: &str) -> Self {
        if let Self::Refused(refusal) = &mut self {
            refusal.request_id = Some(id.to_owned());
        }
        self
    }

    /// The same failure of a sheet, after some of its sets were recorded.
    #[must_use]
    pub(crate) fn half_way(self, recorded: u64, total: usize) -> Self {
        Self::Partly { recorded, total, source: Box::new(self) }
    }

    /// The exit code of the process.
    pub(crate) fn exit_code(&self) -> u8 {
        match self {
            Self::Refused(refusal) => refusal.exit_code(),
            Self::Partly { source, .. } => source.exit_code(),
            Self::NotFound { .. } => 1,
            Self::Input { .. } => 2,
            Self::Unreachable { .. } => 3,
            Self::Output { .. } | Self::Internal { .. } | Self::Hurried | Self::StoreStopped => 4,
        }
    }

    fn details(&self) -> &[Detail] {
        match self {
            Self::Input { details, .. } => details,
            Self::Refused(refusal) => &refusal.fields,
            Self::Partly { source, .. } => source.details(),
            Self::Unreachable { .. }
            | Self::NotFound { .. }
            | Self::Output { .. }
            | Self::Internal { .. }
            | Self::Hurried
            | Self::StoreStopped => &[],
        }
    }

    fn advice(&self) -> String {
        match self {
            Self::Input { advice, .. } | Self::NotFound { advice, .. } => advice.clone(),
            Self::Refused(refusal) => refusal.advice(),
            Self::Partly { recorded, total, .. } => format!(
                "{recorded} of {total} sets are recorded. The same command again finishes it: no set is recorded twice."
            ),
            Self::Unreachable { message, .. } => on_the_way(message)
                .unwrap_or(
                    "Start one with `nextrung serve`, or name another with --server or NEXTRUNG_SERVER.",
                )
                .to_owned(),
            Self::Hurried => "Every write that was acknowledged is kept.".to_owned(),
            Self::StoreStopped => {
                "Every write that was acknowledged is kept. See to the disk, and start the service again."
                    .to_owned()
            }
            Self::Output { .. } => String::new(),
            Self::Internal { .. } => {
                "This should not happen; please report it with what you typed.".to_owned()
            }
        }
    }

    /// For people: the message, every bad field, what to do. Ends with a line feed.
    pub(crate) fn page(&self, width: usize) -> String {
        let mut page = paragraph(&format!("error: {self}"), width, 0);
        for detail in self.details() {
            page += &hanging("  ", &format!("{}: {}", detail.place, detail.text), width);
        }
        let advice = self.advice();
        if !advice.is_empty() {
            page += &paragraph(&advice, width, 0);
        }
        page
    }

    /// For a list: the message, every bad field, what to do, each in a line.
    pub(crate) fn lines(&self) -> Vec<String> {
        let fields = self.details().iter().map(|detail| format!("{}: {}", detail.place, detail.text));
        let advice = Some(self.advice()).filter(|advice| !advice.is_empty());
        std::iter::once(self.to_string()).chain(fields).chain(advice).collect()
    }

    /// For programs.
    pub(crate) fn to_json(&self) -> Value {
        let fields: Vec<Value> = self
            .details()
            .iter()
            .map(|detail| json!({ "field": detail.place, "description": detail.text }))
            .collect();
        let mut error = json!({
            "message": self.to_string(),
            "fields": fields,
            "advice": self.advice(),
            "exitCode": self.exit_code(),
        });
        if let Self::Refused(refusal) = self {
            error["code"] = refusal.code_name().into();
            error["reason"] = refusal.reason.clone().into();
            error["metadata"] = json!(refusal.metadata);
            error["requestId"] = refusal.request_id.clone().into();
        }
        json!({ "error": error })
    }
}

/// How the library of HTTP/2 tells that what came back is none.
pub(crate) const PLAIN_TO_TLS: &str = "frame with invalid size";

/// About a certificate of the service's that nobody vouches for.
const UNKNOWN: &str =
    "Name the file of the authority that vouches for the service with --authority or NEXTRUNG_AUTHORITY.";

/// About a certificate of the caller's that the service does not take.
const STRANGE: &str = "The service does not take what --certificate and --certificate-key name: ask for one of an authority that it knows.";

/// What to do about words of the libraries that make connections; nothing when they say nothing of TLS.
pub(crate) fn on_the_way(message: &str) -> Option<&'static str> {
    [
        (PLAIN_TO_TLS, "This port speaks TLS: write https:// in place of http:// (--server, NEXTRUNG_SERVER)."),
        ("InvalidContentType", "This port speaks no TLS: write http:// in place of https:// (--server, NEXTRUNG_SERVER)."),
        ("UnknownIssuer", UNKNOWN),
        // An authority of the same name with another key.
        ("BadSignature", UNKNOWN),
        ("NotValidForName", "Write the name or address that the service's certificate is for (--server, NEXTRUNG_SERVER)."),
        (
            "CertificateRequired",
            "This service asks for a certificate of its callers: name yours with --certificate and --certificate-key \
             (NEXTRUNG_CERTIFICATE, NEXTRUNG_CERTIFICATE_KEY).",
        ),
        ("UnknownCA", STRANGE),
        ("CertificateUnknown", STRANGE),
        ("DecryptError", STRANGE),
    ]
    .into_iter()
    .find(|(word, _)| message.contains(word))
    .map(|(_, advice)| advice)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bad_file() -> Failure {
        let details = vec![Detail {
            place: "row[3].reps".to_owned(),
            text: "found `x`; expected a whole number".to_owned(),
        }];
        Failure::Input {
            message: "sets.csv has 1 problem".to_owned(),
            details,
            advice: "Nothing was sent.".to_owned(),
        }
    }

    #[test]
    fn people_read_the_message_then_every_place_then_what_to_do() {
        let expected = "error: sets.csv has 1 problem\n  row[3].reps: found `x`; expected a whole number\n\
                        Nothing was sent.\n";
        assert_eq!(bad_file().page(80), expected);
    }

    #[test]
    fn programs_read_the_same() {
        let error = bad_file().to_json();
        assert_eq!(error["error"]["fields"][0]["field"], "row[3].reps");
        assert_eq!(error["error"]["exitCode"], 2);
    }

    #[test]
    fn lines_say_the_same_as_a_page() {
        let expected = [
            "sets.csv has 1 problem",
            "row[3].reps: found `x`; expected a whole number",
            "Nothing was sent.",
        ];
        assert_eq!(bad_file().lines(), expected);
    }

    #[test]
    fn a_sheet_recorded_in_part_says_how_far_and_what_to_do() {
        let unreachable = Failure::Unreachable { server: "x".to_owned(), message: "gone".to_owned() };
        let partly = unreachable.half_way(1000, 2500);
        assert_eq!(partly.exit_code(), 3);
        let page = partly.page(120);
        assert!(
            page.contains("1000 of 2500 sets are recorded. The same command again finishes it"),
            "{page}"
        );
    }

    #[test]
    fn exit_codes_are_those_of_the_help_page() {
        let unreachable = Failure::Unreachable { server: "x".to_owned(), message: "y".to_owned() };
        assert_eq!(bad_file().exit_code(), 2);
        assert_eq!(unreachable.exit_code(), 3);
        assert_eq!(Failure::internal(&"z").exit_code(), 4);
    }
}
