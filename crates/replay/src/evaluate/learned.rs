//! Learned: what the first reading of all logs leaves for the second.

use nextrung_capacity::model::Model;
use nextrung_domain::event::EventBody;
use nextrung_prescribe::policy::Policy;
use serde::{Deserialize, Serialize};

use crate::athlete_log::AthleteLog;
use crate::evaluate::entry::{Entry, known_at_ms};
use crate::evaluate::timeline::{Fold, Timeline};
use crate::forecaster::lesson::Lessons;
use crate::forecaster::regression::{Known, MOST_ROWS, Regressions};
use crate::hazard::HazardError;
use crate::hazard::sample::{RowSample, SetName};

/// What was learned from some athletes' logs; learned from parts of a roster, it joins to the whole.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Learned {
    /// What all athletes' pasts teach, block by block.
    pub lessons: Lessons,
    /// Sets for the regressions, with what was known before each.
    pub sample: Sample,
    /// Day of the first arrival, days since 1970-01-01; nothing without sets.
    pub first_day: Option<i64>,
    /// The regressions, once they were fitted to the sample of the whole.
    pub fitted: Option<Regressions>,
    /// Athletes read.
    pub athletes: u64,
    /// Sets read.
    pub sets: u64,
}

impl Learned {
    /// Takes in what others learned.
    pub fn join(&mut self, others: Self) {
        self.lessons.join(others.lessons);
        self.sample.0.merge(&others.sample.0);
        self.fitted = None;
        self.first_day = match (self.first_day, others.first_day) {
            (Some(ours), Some(theirs)) => Some(ours.min(theirs)),
            (ours, theirs) => ours.or(theirs),
        };
        self.athletes += others.athletes;
        self.sets += others.sets;
    }

    /// The regressions, one for each block, fitted to what had arrived before it; nothing when `goes_on`, asked before each,
    /// says that they are not wanted any more.
    pub fn regressions(&self, goes_on: impl FnMut() -> bool) -> Option<Regressions> {
        self.fitted.clone().or_else(|| Regressions::fit(&self.sample.0, goes_on))
    }

    /// Fits the regressions once for all parts that are to be scored.
    pub fn settle(&mut self) {
        self.fitted = self.regressions(|| true);
    }
}

/// A sample with the room of a regression.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Sample(pub RowSample);

impl Default for Sample {
    fn default() -> Self {
        Self(RowSample::new(MOST_ROWS))
    }
}

/// One who reads logs to learn from them.
pub struct Learner<'m> {
    model: &'m Model,
    policy: &'m Policy,
    samples: bool,
    /// What was learned so far.
    pub learned: Learned,
}

impl<'m> Learner<'m> {
    /// Nothing learned yet; `samples` tells whether sets are kept for the regressions.
    pub fn new(model: &'m Model, policy: &'m Policy, samples: bool) -> Self {
        Self { model, policy, samples, learned: Learned::default() }
    }

    /// Reads one athlete's log as it was first told, and returns how many sets there were.
    ///
    /// # Errors
    ///
    /// [`HazardError::NotFinite`] for a set that no regression can be given.
    pub fn read(&mut self, log: &AthleteLog) -> Result<u64, HazardError> {
        let mut sets = 0;
        let mut timeline = Timeline::new(Known::new(&self.model.catalog));
        for event in &log.events {
            let EventBody::Recorded { set } = &event.body else { continue };
            sets += 1;
            let day = known_at_ms(set, event.arrived_at_ms).div_euclid(86_400_000);
            self.learned.first_day = Some(self.learned.first_day.map_or(day, |first| first.min(day)));
            let at = (event.sequence, event.arrived_at_ms);
            if let Some(entry) = Entry::new(self.model, self.policy, set.clone(), at) {
                self.learned.lessons.add(&entry);
                if self.samples {
                    self.sample(&mut timeline, &log.athlete, entry)?;
                }
            }
        }
        self.learned.athletes += u64::from(!log.events.is_empty());
        self.learned.sets += sets;
        Ok(sets)
    }

    fn sample(
        &mut self,
        timeline: &mut Timeline<Known>,
        athlete: &str,
        entry: Entry,
    ) -> Result<(), HazardError> {
        let id = entry.set.client_set_id.to_string();
        let name = SetName { athlete, set: &id, block: u32::try_from(entry.block()).unwrap_or(0) };
        let (done, stop, is_effort) = (entry.done.units, entry.done.stop, entry.done.is_effort());
        timeline.insert(entry);
        if let Some(entry) = timeline.next().filter(|_| is_effort) {
            let features = timeline.fold().features(entry);
            self.learned.sample.0.add(&name, features, (done, stop))?;
        }
        timeline.step(|known, entry| known.take(entry));
        Ok(())
    }
}
