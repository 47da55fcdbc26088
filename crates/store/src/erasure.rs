//! Erasure: an athlete taken out of the log, with everything that is kept about them.
//!
//! What stays is a row that names nobody: when, how far the log had come, and a digest by which somebody who has the name
//! can tell whether it was the one erased. A new log in the roster begins two sequences behind all that were erased, so that
//! no sequence ever means two things and whoever remembers an erased log finds a gap where the next event should be.

use nextrung_domain::ids::AthleteRef;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

/// Whom to erase.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Erasure {
    /// The athlete.
    pub athlete: AthleteRef,
    /// Now, milliseconds since 1970-01-01 UTC.
    pub erased_at_ms: i64,
}

/// What an erasure took away. It names nobody.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Erased {
    /// When, milliseconds since 1970-01-01 UTC.
    pub erased_at_ms: i64,
    /// True when it had been done before, at that time, and nothing was left to do.
    pub was_before: bool,
    /// Events of the log.
    pub events: u64,
    /// Prescriptions as issued.
    pub prescriptions: u64,
    /// Requests with their answers.
    pub requests: u64,
    /// Keys that reached nobody else.
    pub keys: u64,
}

/// What is kept of an erasure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Trace {
    /// [`digest`] of whom.
    pub(crate) digest: [u8; 32],
    /// Sequence of the last event of the log.
    pub(crate) last_sequence: u64,
    /// When, milliseconds since 1970-01-01 UTC.
    pub(crate) erased_at_ms: i64,
}

impl Trace {
    /// Of an erasure of a log that had come to `last_sequence`.
    pub(crate) fn of(erasure: &Erasure, last_sequence: u64) -> Self {
        let Erasure { athlete, erased_at_ms } = erasure;
        let digest = digest(athlete, (last_sequence, *erased_at_ms));
        Self { digest, last_sequence, erased_at_ms: *erased_at_ms }
    }

    fn is_of(&self, athlete: &AthleteRef) -> bool {
        self.digest == digest(athlete, (self.last_sequence, self.erased_at_ms))
    }
}

/// SHA-256 over the athlete's name with what makes it another one for every erasure.
fn digest(athlete: &AthleteRef, (last_sequence, erased_at_ms): (u64, i64)) -> [u8; 32] {
    Sha256::digest(format!("{athlete} {last_sequence} {erased_at_ms}")).into()
}

/// The answer about somebody who is not there: that they were erased before, if they were.
pub(crate) fn before(athlete: &AthleteRef, traces: &[Trace]) -> Option<Erased> {
    let last = traces.iter().filter(|trace| trace.is_of(athlete)).map(|trace| trace.erased_at_ms).max();
    last.map(|erased_at_ms| Erased {
        erased_at_ms,
        was_before: true,
        events: 0,
        prescriptions: 0,
        requests: 0,
        keys: 0,
    })
}

/// Sequence of the first event of a new log in a roster, of whose erased logs the longest came to `longest`.
pub(crate) fn first_sequence(longest: Option<u64>) -> u64 {
    longest.map_or(1, |longest| longest.saturating_add(2))
}
