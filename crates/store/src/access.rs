//! Access: who asked about whom, and nothing of what was asked or answered.

use nextrung_domain::ids::{AthleteId, RosterId};

use crate::key::KeyId;

/// Rows that are forgotten in one transaction, so that nobody waits long for it.
pub(crate) const FORGOTTEN_AT_ONCE: i64 = 5_000;

/// One call, once it ended. The log adds rows and never changes them; an erasure takes out of them what names the erased, and
/// whoever keeps the database may have the oldest forgotten.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AccessRecord {
    /// Its own name within the roster; names sort by time.
    pub entry: String,
    /// When the call ended, milliseconds since 1970-01-01 UTC.
    pub at_ms: i64,
    /// The roster asked about.
    pub roster: RosterId,
    /// The athlete asked about; nothing for the roster as a whole, and for who is not there.
    pub athlete: Option<AthleteId>,
    /// The key shown; nothing where no key is asked for, and for one that was erased.
    pub key: Option<KeyId>,
    /// The method: `nextrung.v1.{service}/{method}`.
    pub method: String,
    /// How it ended, a code of gRPC.
    pub code: i32,
    /// SHA-256 of the client's id of the request, where it has one and the athlete is there.
    pub request: Option<[u8; 32]>,
}
