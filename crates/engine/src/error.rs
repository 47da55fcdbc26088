//! Errors: why a use case did not do as it was asked.

use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_domain::problem::Problem;
use nextrung_store::error::StoreError;

/// Why a use case did not do as it was asked. After any of them nothing of the call is kept, but see [`StoreError`].
#[derive(Debug, Clone, thiserror::Error)]
pub enum EngineError {
    /// Fields of the call are bad; all of them are listed.
    #[error("{} bad {}", problems.len(), if problems.len() == 1 { "field" } else { "fields" })]
    BadFields {
        /// Every bad field.
        problems: Vec<Problem>,
    },
    /// Sets recorded before with other content.
    #[error("recorded before with other content: {}", list(ids))]
    SetReused {
        /// The sets.
        ids: Vec<ClientSetId>,
    },
    /// Athletes that were asked for are not there.
    #[error("{} athletes asked for are not there: {}", names.len(), quoted(names))]
    AthletesNotFound {
        /// Their full names.
        names: Vec<String>,
    },
    /// There is no such set.
    #[error("there is no set `{name}`")]
    SetNotFound {
        /// Its full name.
        name: String,
    },
    /// The set was withdrawn and cannot be changed any more.
    #[error("the set `{name}` was withdrawn")]
    SetWithdrawn {
        /// Its full name.
        name: String,
    },
    /// The ladders or the model that a prescription was made with are not those loaded.
    #[error("`{name}` was made with {version}, which is not loaded")]
    VersionNotAvailable {
        /// The prescription.
        name: String,
        /// What it was made with.
        version: String,
    },
    /// A stored prescription cannot be made again from its own log position: a fault of the service.
    #[error("`{name}` cannot be made again from its log position: {detail}")]
    Drifted {
        /// The prescription.
        name: String,
        /// What differs.
        detail: String,
    },
    /// No rung was named and the athlete has no goal.
    #[error("no rung is named, and `{name}` has no goal")]
    NoGoal {
        /// The athlete.
        name: String,
    },
    /// Others kept writing to an athlete's log.
    #[error("others kept writing to the log of `{name}`; send it again")]
    LogMoved {
        /// The athlete.
        name: String,
    },
    /// The store did not do as it was asked.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl EngineError {
    /// One bad field.
    pub fn bad_field(field: &str, found: impl Into<String>, expected: impl Into<String>) -> Self {
        Self::BadFields { problems: vec![Problem::new(field, found, expected)] }
    }

    /// Its kind; one of a few words, without anything that a caller named or sent.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::BadFields { .. } => "bad-fields",
            Self::SetReused { .. } => "set-reused",
            Self::AthletesNotFound { .. } => "athletes-not-found",
            Self::SetNotFound { .. } => "set-not-found",
            Self::SetWithdrawn { .. } => "set-withdrawn",
            Self::VersionNotAvailable { .. } => "version-not-available",
            Self::Drifted { .. } => "drifted",
            Self::NoGoal { .. } => "no-goal",
            Self::LogMoved { .. } => "log-moved",
            Self::Store(error) => error.kind(),
        }
    }

    /// What a failed append to an athlete's log means.
    pub(crate) fn of_append(athlete: &AthleteRef, error: StoreError) -> Self {
        if matches!(error, StoreError::Moved { .. }) {
            Self::LogMoved { name: athlete.to_string() }
        } else {
            Self::Store(error)
        }
    }
}

fn quoted(names: &[String]) -> String {
    names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
}

fn list(ids: &[ClientSetId]) -> String {
    ids.iter().map(ClientSetId::as_str).collect::<Vec<_>>().join(", ")
}
