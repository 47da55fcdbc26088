//! Athlete log: one athlete's events as they arrived, the input of a replay.

use std::collections::BTreeMap;

use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::ClientSetId;
use nextrung_domain::set::SetEntry;

/// One athlete's log. The first event is a profile (a log without events is nobody's); sets follow in the order in which they arrived, not of training.
#[derive(Debug, Clone, PartialEq)]
pub struct AthleteLog {
    /// The athlete, unique among those replayed together.
    pub athlete: String,
    /// What happened, by sequence: 1, 2, 3, ... without gaps.
    pub events: Vec<StoredEvent>,
}

/// The sets that stand at the end of a log, in order of their first arrival, each as last corrected.
pub fn standing(events: &[StoredEvent]) -> Vec<&SetEntry> {
    let mut last: BTreeMap<&ClientSetId, &EventBody> = BTreeMap::new();
    for event in events {
        if let Some(id) = event.body.client_set_id() {
            last.insert(id, &event.body);
        }
    }
    let first = events.iter().filter_map(|event| match &event.body {
        EventBody::Recorded { set } => last.get(&set.client_set_id),
        EventBody::Corrected { .. } | EventBody::Withdrawn { .. } | EventBody::Profiled { .. } => None,
    });
    first
        .filter_map(|body| match body {
            EventBody::Recorded { set } | EventBody::Corrected { set, .. } => Some(set),
            EventBody::Withdrawn { .. } | EventBody::Profiled { .. } => None,
        })
        .collect()
}
