//! Athlete log: one athlete's events as they arrived, the input of a replay.

use nextrung_domain::event::StoredEvent;

/// One athlete's log. The first event is a profile; sets follow in the order in which they arrived, not of training.
#[derive(Debug, Clone, PartialEq)]
pub struct AthleteLog {
    /// The athlete, unique among those replayed together.
    pub athlete: String,
    /// What happened, by sequence: 1, 2, 3, ... without gaps.
    pub events: Vec<StoredEvent>,
}
