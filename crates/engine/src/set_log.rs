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
    /// In the order of their first recording.
    sets: Vec<LoggedSet>,
    /// Where each set stands in `sets`; made for the first correction or withdrawal, since most logs have none.
    places: Option<BTreeMap<ClientSetId, usize>>,
    profile: Option<Profile>,
    origin: u64,
    position: u64,
}

impl SetLog {
    /// Takes in the next event.
    pub fn apply(&mut self, event: StoredEvent) {
        if self.position == 0 {
            self.origin = event.sequence;
        }
        self.position = event.sequence;
        match event.body {
            EventBody::Recorded { set } => {
                let logged = LoggedSet {
                    first_sequence: event.sequence,
                    arrived_at_ms: event.arrived_at_ms,
                    status: SetStatus::Active,
                    set,
                };
                if let Some(places) = &mut self.places {
                    places.insert(logged.set.client_set_id.clone(), self.sets.len());
                }
                self.sets.push(logged);
            }
            EventBody::Corrected { set, reason } => {
                if let Some(logged) = self.set_mut(&set.client_set_id) {
                    logged.set = set;
                    logged.status = SetStatus::Corrected { reason };
                }
            }
            EventBody::Withdrawn { client_set_id, reason } => {
                if let Some(logged) = self.set_mut(&client_set_id) {
                    logged.status = SetStatus::Withdrawn { reason };
                }
            }
            EventBody::Profiled { profile } => self.profile = Some(*profile),
        }
    }

    fn set_mut(&mut self, id: &ClientSetId) -> Option<&mut LoggedSet> {
        let place = |(at, logged): (usize, &LoggedSet)| (logged.set.client_set_id.clone(), at);
        let places = self.places.get_or_insert_with(|| self.sets.iter().enumerate().map(place).collect());
        self.sets.get_mut(*places.get(id)?)
    }

    /// The profile in force, once there was one.
    pub fn profile(&self) -> Option<&Profile> {
        self.profile.as_ref()
    }

    /// True when events are the next ones, without a gap: only an athlete erased and made anew leaves one.
    pub(crate) fn goes_on_with(&self, events: &[StoredEvent]) -> bool {
        self.position == 0 || events.first().is_none_or(|first| first.sequence == self.position + 1)
    }

    /// Sequence of the first event: 1, but for those made after another was erased. No other log of the roster has it.
    pub fn origin(&self) -> u64 {
        self.origin
    }

    /// Sequence of the last event taken in.
    pub fn position(&self) -> u64 {
        self.position
    }

    /// How many sets there are, withdrawn ones too.
    pub fn len(&self) -> usize {
        self.sets.len()
    }

    /// True when no set was recorded.
    pub fn is_empty(&self) -> bool {
        self.sets.is_empty()
    }

    /// Every set, withdrawn ones too, in the order of their first recording.
    pub fn into_sets(self) -> Vec<LoggedSet> {
        self.sets
    }

    /// Every set, withdrawn ones too, in training order.
    pub fn ordered(&self) -> Vec<&LoggedSet> {
        let mut all: Vec<&LoggedSet> = self.sets.iter().collect();
        all.sort_unstable_by_key(|s| s.order_key());
        all
    }
}
