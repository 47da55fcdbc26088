//! Errors: why the store did not do as it was asked.

use std::error::Error;
use std::path::PathBuf;
use std::sync::Arc;

use nextrung_domain::ids::ClientSetId;

/// What lies under an error; shared, because one failed commit answers a whole group of writes.
pub type Cause = Arc<dyn Error + Send + Sync>;

/// Why the store did not do as it was asked. After any error nothing of the write is kept, save that after
/// [`Backend`](Self::Backend), [`Unreachable`](Self::Unreachable) and [`Stopped`](Self::Stopped) a write may or may not have been kept: repeat it with the
/// same request key.
#[derive(Debug, Clone, thiserror::Error)]
pub enum StoreError {
    /// There is no such thing.
    #[error("there is no {what} `{name}`")]
    NotFound {
        /// The kind of thing: `roster`, `athlete`, `prescription`.
        what: &'static str,
        /// Its full name.
        name: String,
    },
    /// The name is taken.
    #[error("there is already a {what} `{name}`")]
    AlreadyExists {
        /// The kind of thing.
        what: &'static str,
        /// Its full name.
        name: String,
    },
    /// The request id was used before, for something else.
    #[error("the request id `{request_id}` was used before with other content")]
    RequestReused {
        /// The id.
        request_id: String,
    },
    /// The athlete's log is not where the caller thought.
    #[error("the log has moved: expected position {expected}, it is at {actual}")]
    Moved {
        /// Position the caller expected.
        expected: u64,
        /// Position of the log.
        actual: u64,
    },
    /// Sets that were recorded before, or twice in one batch.
    #[error("already recorded: {}", list(ids))]
    SetIdTaken {
        /// The sets, in the order of the batch, each once.
        ids: Vec<ClientSetId>,
    },
    /// Sets corrected or withdrawn that were never recorded.
    #[error("never recorded: {}", list(ids))]
    SetUnknown {
        /// The sets, in the order of the batch, each once.
        ids: Vec<ClientSetId>,
    },
    /// The call itself makes no sense; a fault of the caller.
    #[error("`{field}` must be {expected}")]
    Refused {
        /// The field.
        field: &'static str,
        /// What it must be.
        expected: &'static str,
    },
    /// The backend failed.
    #[error("the log's backend failed while {doing}")]
    Backend {
        /// What was being done.
        doing: &'static str,
        /// Why it failed.
        #[source]
        source: Cause,
    },
    /// The disk that holds the log is full. Nothing of the write was kept, and it will do when there is room again.
    #[error("the disk of the log is full, noticed while {doing}")]
    Full {
        /// What was being done.
        doing: &'static str,
        /// Why it failed.
        #[source]
        source: Cause,
    },
    /// The database that holds the log cannot be asked now: it is down, on its way up, full, or too busy.
    #[error("the log's database cannot be reached, noticed while {doing}")]
    Unreachable {
        /// What was being done.
        doing: &'static str,
        /// Why it failed.
        #[source]
        source: Cause,
    },
    /// The database acknowledges what a power cut may take away.
    #[error("the log's database does not keep what it acknowledges, {found}: it must be on")]
    NotDurable {
        /// The setting that is wrong, and how it is set.
        found: String,
    },
    /// What was erased is gone from every answer, but bytes of it may be left where the backend keeps them.
    #[error("what was erased may still have bytes in the log's file, noticed while {doing}; do it once more")]
    Unswept {
        /// What was being done.
        doing: &'static str,
        /// Why it failed.
        #[source]
        source: Cause,
    },
    /// What was copied in does not read back as it was sent.
    #[error("`{name}` does not read back as it was sent; nothing of the copy was kept")]
    Unproven {
        /// The full name of what differs.
        name: String,
    },
    /// What is stored cannot be read.
    #[error("{what} cannot be read")]
    Corrupt {
        /// What: the row, named in full.
        what: String,
        /// Why.
        #[source]
        source: Cause,
    },
    /// The log was written by a newer version.
    #[error("the log has schema {found}, this version knows up to {known}: use a newer version")]
    UnknownSchema {
        /// Schema of the log.
        found: i64,
        /// Newest schema known here.
        known: i64,
    },
    /// The file is something else.
    #[error("`{}` is not a log of this service: {reason}", path.display())]
    Foreign {
        /// The file.
        path: PathBuf,
        /// What gave it away.
        reason: String,
    },
    /// The SQLite library is too old to be trusted with the log.
    #[error("the SQLite library is version {found}, at least {needed} is needed")]
    SqliteTooOld {
        /// Version of the library.
        found: String,
        /// Oldest version taken.
        needed: &'static str,
    },
    /// The store takes no more writes: it was closed, or its disk failed. Restart to go on.
    #[error("the log takes no more writes: it was closed or its disk failed")]
    Stopped,
}

fn list(ids: &[ClientSetId]) -> String {
    ids.iter().map(ClientSetId::as_str).collect::<Vec<_>>().join(", ")
}
