//! Plain: what may be said of an error where nobody may read what is stored, such as in a log of operation.

use std::error::Error;
use std::io;

use crate::error::StoreError;
use crate::{postgres, sqlite};

/// An error without anything that was stored, sent or named by a caller.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plain {
    /// What kind of error it is; one of a few words, fit to be counted by.
    pub kind: &'static str,
    /// What was being done; empty where the kind says it all.
    pub doing: &'static str,
    /// The code that the backend or the system gave; empty when there is none.
    pub code: String,
}

impl StoreError {
    /// Its kind; one of a few words.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::NotFound { .. } => "not-found",
            Self::AlreadyExists { .. } => "already-exists",
            Self::RequestReused { .. } => "request-reused",
            Self::Moved { .. } => "moved",
            Self::SetIdTaken { .. } => "set-id-taken",
            Self::SetUnknown { .. } => "set-unknown",
            Self::Refused { .. } => "refused",
            Self::Backend { .. } => "backend",
            Self::Full { .. } => "full",
            Self::Corrupt { .. } => "corrupt",
            Self::UnknownSchema { .. } => "unknown-schema",
            Self::Foreign { .. } => "foreign",
            Self::SqliteTooOld { .. } => "sqlite-too-old",
            Self::Unreachable { .. } => "unreachable",
            Self::NotDurable { .. } => "not-durable",
            Self::Unproven { .. } => "unproven",
            Self::Unswept { .. } => "unswept",
            Self::Stopped => "stopped",
        }
    }

    /// True when the store or its disk is at fault, and not what it was asked.
    pub fn is_fault(&self) -> bool {
        match self {
            Self::Backend { .. }
            | Self::Full { .. }
            | Self::Corrupt { .. }
            | Self::UnknownSchema { .. }
            | Self::Foreign { .. }
            | Self::SqliteTooOld { .. }
            | Self::Unreachable { .. }
            | Self::NotDurable { .. }
            | Self::Unproven { .. }
            | Self::Unswept { .. }
            | Self::Stopped => true,
            Self::NotFound { .. }
            | Self::AlreadyExists { .. }
            | Self::RequestReused { .. }
            | Self::Moved { .. }
            | Self::SetIdTaken { .. }
            | Self::SetUnknown { .. }
            | Self::Refused { .. } => false,
        }
    }

    /// What may be said of it anywhere. The texts of causes are left out: they may quote what is stored.
    pub fn plain(&self) -> Plain {
        let kind = self.kind();
        if let Self::Backend { doing, source }
        | Self::Full { doing, source }
        | Self::Unreachable { doing, source }
        | Self::Unswept { doing, source } = self
        {
            let code = sqlite::code(self).or_else(|| postgres::code(self));
            let code = code.or_else(|| system_code(source.as_ref())).unwrap_or_default();
            Plain { kind, doing, code }
        } else {
            Plain { kind, doing: "", code: String::new() }
        }
    }
}

/// The system's name for an error of input or output, wherever it stands among the causes.
fn system_code(error: &(dyn Error + 'static)) -> Option<String> {
    let mut next = Some(error);
    while let Some(error) = next {
        if let Some(error) = error.downcast_ref::<io::Error>() {
            return Some(format!("{:?}", error.kind()));
        }
        next = error.source();
    }
    None
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;

    #[test]
    fn causes_are_told_by_their_code_alone() {
        let disk = io::Error::new(io::ErrorKind::StorageFull, "while writing `Wren`");
        let error = StoreError::Backend { doing: "committing", source: Arc::new(disk) };
        let plain = error.plain();
        assert_eq!(plain, Plain { kind: "backend", doing: "committing", code: "StorageFull".to_owned() });
        let quoting: Box<dyn Error + Send + Sync> = "cannot read `Wren`".into();
        let error =
            StoreError::Corrupt { what: "athlete `hall/wren`".to_owned(), source: Arc::from(quoting) };
        assert!(error.is_fault());
        assert_eq!(error.plain(), Plain { kind: "corrupt", doing: "", code: String::new() });
    }
}
