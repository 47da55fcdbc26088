//! Refusal: what a refused call said.

use std::collections::BTreeMap;

use tonic::{Code, Status};
use tonic_types::StatusExt;

/// Code, ErrorInfo and bad fields of a refused call.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Refusal {
    pub(crate) code: Code,
    pub(crate) reason: String,
    pub(crate) metadata: BTreeMap<String, String>,
    /// Bad fields with their descriptions, in order.
    pub(crate) violations: Vec<(String, String)>,
    pub(crate) message: String,
}

impl Refusal {
    /// Reads a status; it must carry an ErrorInfo of this service.
    pub(crate) fn of(status: &Status) -> Self {
        let info = status.get_details_error_info().unwrap_or_else(|| panic!("no ErrorInfo in {status:?}"));
        assert_eq!(info.domain, "nextrung");
        let bad = status.get_details_bad_request().map(|bad| bad.field_violations).unwrap_or_default();
        Self {
            code: status.code(),
            reason: info.reason,
            metadata: info.metadata.into_iter().collect(),
            violations: bad.into_iter().map(|v| (v.field, v.description)).collect(),
            message: status.message().to_owned(),
        }
    }

    /// Names of the bad fields, in order.
    pub(crate) fn fields(&self) -> Vec<&str> {
        self.violations.iter().map(|(field, _)| field.as_str()).collect()
    }

    /// What is said about a bad field.
    pub(crate) fn about(&self, field: &str) -> &str {
        let found = self.violations.iter().find(|(name, _)| name == field);
        found.map_or_else(|| panic!("{field} is not in {self:?}"), |(_, text)| text)
    }
}

/// The refusal of a call that must not work.
#[track_caller]
pub(crate) fn refused<T: std::fmt::Debug>(answer: Result<T, Status>) -> Refusal {
    Refusal::of(&answer.expect_err("the call must be refused"))
}

/// The bad fields of a call that must be refused for them, in order.
#[track_caller]
pub(crate) fn bad_fields<T: std::fmt::Debug>(answer: Result<T, Status>) -> Vec<String> {
    let refusal = refused(answer);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::InvalidArgument, "BAD_FIELDS"), "{refusal:?}");
    refusal.fields().into_iter().map(str::to_owned).collect()
}
