//! Tail: the last sets of a log and the fold before them, so that why need not read and fold a whole log.

use std::num::NonZeroUsize;
use std::sync::{Arc, Mutex, PoisonError};

use lru::LruCache;
use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_domain::date::CivilDate;
use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::profile::Profile;

use crate::fold::Folded;
use crate::set_log::{LoggedSet, SetStatus};

/// Sets that a tail begins with, when the log has as many; it grows to twice that before its first half is folded away.
pub(crate) const TAIL_SETS: usize = 32;
/// Athletes whose tails are kept, at about 30 KB each.
const KEPT: NonZeroUsize = NonZeroUsize::MIN.saturating_add(255);

/// The last sets of a log that count, in training order.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tail {
    /// The fold over all sets before them.
    pub(crate) before: Folded,
    /// The sets.
    pub(crate) sets: Vec<LoggedSet>,
    /// The profile in force.
    pub(crate) profile: Profile,
    /// Position of the log from which on it only grew by sets that came last: at it and after it, this is what the log was.
    since: u64,
    /// Sequence of the last event taken in.
    position: u64,
}

impl Tail {
    /// The tail of a log that stands at a position.
    pub(crate) fn new(before: Folded, sets: Vec<LoggedSet>, (profile, position): (Profile, u64)) -> Self {
        Self { before, sets, profile, since: position, position }
    }

    /// Sequence of the last event taken in.
    pub(crate) fn position(&self) -> u64 {
        self.position
    }

    /// True when the sets of a log at a position that were trained before a day can be told from the tail.
    pub(crate) fn covers(&self, position: u64, date: CivilDate) -> bool {
        position >= self.since && self.before.last_date().is_none_or(|last| last < date)
    }

    /// The sets that the log had at a position and that were trained before a day.
    pub(crate) fn sets_at(&self, position: u64, date: CivilDate) -> Vec<&LoggedSet> {
        self.sets.iter().filter(|set| set.first_sequence <= position && set.set.date < date).collect()
    }

    /// Takes in events that come last in the log and in training order.
    pub(crate) fn follow(&mut self, model: &Model, events: &[StoredEvent]) {
        for event in events {
            self.position = event.sequence;
            match &event.body {
                EventBody::Recorded { set } => self.sets.push(LoggedSet {
                    set: set.clone(),
                    first_sequence: event.sequence,
                    arrived_at_ms: event.arrived_at_ms,
                    status: SetStatus::Active,
                }),
                EventBody::Profiled { profile } => {
                    self.profile = (**profile).clone();
                    self.since = event.sequence;
                }
                EventBody::Corrected { .. } | EventBody::Withdrawn { .. } => {}
            }
        }
        if self.sets.len() > 2 * TAIL_SETS {
            let mut scratch = Scratch::default();
            let gone = self.sets.len() - TAIL_SETS;
            for set in self.sets.drain(..gone) {
                self.before.take(model, &mut scratch, &set);
                self.since = self.since.max(set.first_sequence);
            }
        }
    }
}

/// The tails of the athletes used last.
#[derive(Debug)]
pub(crate) struct Tails {
    kept: Mutex<LruCache<AthleteRef, Arc<Tail>>>,
}

impl Tails {
    pub(crate) fn new() -> Self {
        Self { kept: Mutex::new(LruCache::new(KEPT)) }
    }

    pub(crate) fn get(&self, athlete: &AthleteRef) -> Option<Arc<Tail>> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).get(athlete).cloned()
    }

    /// The caller has the athlete's turn, so that no later tail is there.
    pub(crate) fn keep(&self, athlete: &AthleteRef, tail: Tail) -> Arc<Tail> {
        let kept = Arc::new(tail);
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).put(athlete.clone(), kept.clone());
        kept
    }

    pub(crate) fn take(&self, athlete: &AthleteRef) -> Option<Arc<Tail>> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).pop(athlete)
    }
}
