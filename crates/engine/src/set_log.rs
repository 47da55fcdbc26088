//! Set log: what an athlete's events come to, set by set.

use std::collections::BTreeMap;

use nextrung_domain::event::{EventBody, OrderKey, StoredEvent};
use nextrung_domain::ids::ClientSetId;
use nextrung_domain::profile::Profile;
use nextrung_domain::set::SetEntry;

/// Whether a set still counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SetStatus {
    /// As first recorded.
    Active,
    /// Its content was replaced.
    Corrected {
        /// Why, last time.
        reason: String,
    },
    /// It no longer counts.
    Withdrawn {
        /// Why.
        reason: String,
    },
}

/// A set as the log has it now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LoggedSet {
    /// Its content now.
    pub set: SetEntry,
    /// Log sequence of its first recording.
    pub first_sequence: u64,
    /// Arrival of its first recording, milliseconds since 1970-01-01 UTC.
    pub arrived_at_ms: i64,
    /// Whether it counts.
    pub status: SetStatus,
}

impl LoggedSet {
    /// Its place in training order.
    pub fn order_key(&self) -> OrderKey {
        OrderKey { place: self.set.place(), first_sequence: self.first_sequence }
    }

    /// True unless withdrawn.
    pub fn counts(&self) -> bool {
        !matches!(self.status, SetStatus::Withdrawn { .. })
    }
}

/// An athlete's log, folded to sets and the profile in force.
#[derive(Debug, Clone, Default)]
pub struct SetLog {
    sets: BTreeMap<ClientSetId, LoggedSet>,
    profile: Option<Profile>,
    position: u64,
}

impl SetLog {
    /// Takes in the next event.
    pub fn apply(&mut self, event: StoredEvent) {
        self.position = event.sequence;
        match event.body {
            EventBody::Recorded { set } => {
                let logged = LoggedSet {
                    first_sequence: event.sequence,
                    arrived_at_ms: event.arrived_at_ms,
                    status: SetStatus::Active,
                    set,
                };
                self.sets.insert(logged.set.client_set_id.clone(), logged);
            }
            EventBody::Corrected { set, reason } => {
                if let Some(logged) = self.sets.get_mut(&set.client_set_id) {
                    logged.set = set;
                    logged.status = SetStatus::Corrected { reason };
                }
            }
            EventBody::Withdrawn { client_set_id, reason } => {
                if let Some(logged) = self.sets.get_mut(&client_set_id) {
                    logged.status = SetStatus::Withdrawn { reason };
                }
            }
            EventBody::Profiled { profile } => self.profile = Some(*profile),
        }
    }

    /// A set by the client's key.
    pub fn get(&self, id: &ClientSetId) -> Option<&LoggedSet> {
        self.sets.get(id)
    }

    /// The profile in force, once there was one.
    pub fn profile(&self) -> Option<&Profile> {
        self.profile.as_ref()
    }

    /// Sequence of the last event taken in.
    pub fn position(&self) -> u64 {
        self.position
    }

    /// Every set, withdrawn ones too, in training order.
    pub fn ordered(&self) -> Vec<&LoggedSet> {
        let mut all: Vec<&LoggedSet> = self.sets.values().collect();
        all.sort_unstable_by_key(|s| s.order_key());
        all
    }
}
