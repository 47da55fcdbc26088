//! Appends: events to add to an athlete's log.

use nextrung_domain::event::EventBody;
use nextrung_domain::ids::AthleteRef;

use crate::error::StoreError;
use crate::request::RequestKey;

/// Events to add to an athlete's log, all or none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Append {
    /// Whose log.
    pub athlete: AthleteRef,
    /// Makes a repeat safe.
    pub request: Option<RequestKey>,
    /// The log's position the caller worked from; nothing when it does not matter.
    pub expected_sequence: Option<u64>,
    /// Arrival of the events, milliseconds since 1970-01-01 UTC.
    pub arrived_at_ms: i64,
    /// The events, at least one, in the order in which they get their sequences.
    pub events: Vec<EventBody>,
}

/// Where events came to stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Appended {
    /// Sequence of the first event.
    pub first_sequence: u64,
    /// Sequence of the last event.
    pub last_sequence: u64,
    /// Arrival as stored, milliseconds since 1970-01-01 UTC.
    pub arrived_at_ms: i64,
    /// True when the request had been answered before and nothing was written now.
    pub was_replay: bool,
}

impl Append {
    /// Fails with [`StoreError::Refused`] when there is nothing to add.
    pub(crate) fn check(&self) -> Result<(), StoreError> {
        if self.events.is_empty() {
            return Err(StoreError::Refused { field: "events", expected: "at least one event" });
        }
        Ok(())
    }
}
