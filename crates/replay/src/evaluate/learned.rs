//! Learned: what the first reading of all logs leaves for the second.

use nextrung_capacity::model::Model;
use nextrung_domain::event::EventBody;
use nextrung_prescribe::policy::Policy;
use serde::{Deserialize, Serialize};

use crate::athlete_log::AthleteLog;
use crate::evaluate::entry::Entry;
use crate::forecaster::lesson::Lessons;
use crate::forecaster::regression::Regressions;

/// What was learned from some athletes' logs; learned from parts of a roster, it joins to the whole.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Learned {
    /// What all athletes' pasts teach, block by block.
    pub lessons: Lessons,
    /// Day of the first arrival, days since 1970-01-01; nothing without sets.
    pub first_day: Option<i64>,
    /// Athletes read.
    pub athletes: u64,
    /// Sets read.
    pub sets: u64,
}

impl Learned {
    /// Takes in what others learned.
    pub fn join(&mut self, others: Self) {
        self.lessons.join(others.lessons);
        self.first_day = match (self.first_day, others.first_day) {
            (Some(ours), Some(theirs)) => Some(ours.min(theirs)),
            (ours, theirs) => ours.or(theirs),
        };
        self.athletes += others.athletes;
        self.sets += others.sets;
    }

    /// The regressions, one for each block, fitted to what had arrived before it.
    pub fn regressions(&self) -> Regressions {
        Regressions::default()
    }
}

/// One who reads logs to learn from them.
pub struct Learner<'m> {
    model: &'m Model,
    policy: &'m Policy,
    /// What was learned so far.
    pub learned: Learned,
}

impl<'m> Learner<'m> {
    /// Nothing learned yet.
    pub fn new(model: &'m Model, policy: &'m Policy) -> Self {
        Self { model, policy, learned: Learned::default() }
    }

    /// Reads one athlete's log as it was first told, and returns how many sets there were.
    pub fn read(&mut self, log: &AthleteLog) -> u64 {
        let mut sets = 0;
        for event in &log.events {
            let EventBody::Recorded { set } = &event.body else { continue };
            sets += 1;
            let day = event.arrived_at_ms.div_euclid(86_400_000);
            self.learned.first_day = Some(self.learned.first_day.map_or(day, |first| first.min(day)));
            let at = (event.sequence, event.arrived_at_ms);
            if let Some(entry) = Entry::new(self.model, self.policy, set.clone(), at) {
                self.learned.lessons.add(&entry);
            }
        }
        self.learned.athletes += 1;
        self.learned.sets += sets;
        sets
    }
}
