//! Run: a replay from logs to figures, in two readings.
//!
//! The first reading learns what all athletes' pasts teach, block by block; the second foretells and scores. Both work on
//! athletes side by side and hold a few of them at a time, so that memory does not grow with the logs.

use std::sync::Arc;

use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_domain::catalog::Catalog;
use nextrung_prescribe::policy::Policy;

use crate::advice::Advisers;
use crate::evaluate::crew::{Crew, Work};
use crate::evaluate::learned::{Learned, Learner};
use crate::evaluate::panel::{Bench, Who};
use crate::evaluate::part::Part;
use crate::evaluate::row::Row;
use crate::evaluate::selection::Selection;
use crate::evaluate::source::{Source, SourceError, Traced};
use crate::evaluate::walk::{Course, WalkError, walk};
use crate::forecaster::regression::Regressions;
use crate::hazard::HazardError;

/// What is replayed and how.
#[derive(Debug, Clone)]
pub struct Replay {
    /// Ladders and parameters of the service.
    pub model: Arc<Model>,
    /// Another model, foretelling as [`Who::Challenger`].
    pub challenger: Option<Arc<Model>>,
    /// The rules by which bands are read.
    pub policy: Policy,
    /// Whose advice is held against the log; nobody's for predictions alone.
    pub advisers: Advisers,
    /// Who foretells, the service first.
    pub who: Vec<Who>,
    /// Which sets are scored.
    pub selection: Selection,
    /// Breaks ties of ranks and draws athletes for intervals.
    pub seed: u64,
    /// How many threads work.
    pub crew: Crew,
}

/// How far a replay has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Which reading, 1 or 2.
    pub reading: u8,
    /// Athletes read.
    pub athletes: u64,
    /// Sets read.
    pub sets: u64,
}

/// Whoever looks on; false ends the replay.
pub type Watch<'w> = dyn FnMut(Progress) -> bool + 'w;

/// Takes the rows of one athlete after another, in their order.
pub type TakeRows<'t> = dyn FnMut(Vec<Row>) -> Result<(), SourceError> + 't;

/// Why a replay came to no end.
#[derive(Debug, thiserror::Error)]
pub enum ReplayError {
    /// A log could not be read.
    #[error("a log could not be read: {source}")]
    Unreadable {
        /// Why.
        source: SourceError,
    },
    /// A forecaster said what is no prediction.
    #[error(transparent)]
    Wrong {
        /// Who and where.
        #[from]
        source: WalkError,
    },
    /// A set cannot be given to the regressions.
    #[error("a set cannot be learned from: {source}")]
    Unlearnable {
        /// Why.
        #[from]
        source: HazardError,
    },
    /// Rows could not be kept.
    #[error("rows could not be written: {source}")]
    Unwritten {
        /// Why.
        source: SourceError,
    },
    /// It was ended from outside.
    #[error("the replay was ended after {} athletes of reading {}", progress.athletes, progress.reading)]
    Ended {
        /// How far it had come.
        progress: Progress,
    },
    /// No set is left to score.
    #[error("no set is left to score: {why}")]
    Empty {
        /// What was left out, and why.
        why: String,
    },
}

/// The model and the rules with which the service starts, on some ladders.
pub fn service_rules(catalog: Arc<Catalog>) -> (Model, Policy) {
    (Model::new(catalog, Parameters::default()), Policy::default())
}

fn unreadable(source: SourceError) -> ReplayError {
    ReplayError::Unreadable { source }
}

/// Counts athletes and sets as they are handed in.
struct Count<'w, 'f> {
    watch: &'w mut Watch<'f>,
    progress: Progress,
}

impl<'w, 'f> Count<'w, 'f> {
    fn new(watch: &'w mut Watch<'f>, reading: u8) -> Self {
        Self { watch, progress: Progress { reading, athletes: 0, sets: 0 } }
    }

    fn add(&mut self, sets: u64) -> Result<(), ReplayError> {
        self.progress.athletes += 1;
        self.progress.sets += sets;
        if self.goes_on() { Ok(()) } else { Err(ReplayError::Ended { progress: self.progress }) }
    }

    /// Whether whoever looks on wants more.
    fn goes_on(&mut self) -> bool {
        (self.watch)(self.progress)
    }
}

impl Replay {
    /// The first reading.
    ///
    /// # Errors
    ///
    /// [`ReplayError::Unreadable`], and [`ReplayError::Ended`] when `watch` has seen enough; it is asked after each athlete.
    pub fn learn(
        &self,
        source: &(impl Source + ?Sized),
        watch: &mut Watch<'_>,
    ) -> Result<Learned, ReplayError> {
        let mut count = Count::new(watch, 1);
        let logs = source.logs().map_err(unreadable)?.map(|log| log.map_err(unreadable));
        let work = Work {
            new: || Learner::new(&self.model, &self.policy, self.has_regression()),
            each: |learner: &mut Learner<'_>, traced: Traced| Ok(learner.read(&traced.log)?),
        };
        let learners = self.crew.run(logs, &work, |sets| count.add(sets))?;
        let mut learned = Learned::default();
        learners.into_iter().for_each(|learner| learned.join(learner.learned));
        Ok(learned)
    }

    /// The second reading; `rows` takes every prediction when there is somebody to take them. `watch` is asked after each athlete,
    /// and before it between the fits of the regressions.
    ///
    /// # Errors
    ///
    /// Every [`ReplayError`] but [`ReplayError::Empty`].
    pub fn score(
        &self,
        learned: &Learned,
        source: &(impl Source + ?Sized),
        rows: Option<&mut TakeRows<'_>>,
        watch: &mut Watch<'_>,
    ) -> Result<Part, ReplayError> {
        let mut count = Count::new(watch, 2);
        let course = self.course(learned, &mut count)?;
        let keeps_rows = rows.is_some();
        let (forecasters, advisers) = (self.who.len(), self.advisers.names().count());
        let work = Work {
            new: || Part::new(forecasters, advisers),
            each: |part: &mut Part, traced: Traced| {
                let (before, mut kept) = (part.sets, Vec::new());
                part.leave_out(traced.left_out);
                if traced.log.events.is_empty() {
                    return Ok((part.sets - before, kept));
                }
                walk(&course, &traced.log, &traced.truths, part, &mut |predicted| {
                    if keeps_rows {
                        kept.push(Row::of(predicted));
                    }
                })?;
                Ok((part.sets - before, kept))
            },
        };
        let mut none = |_| Ok(());
        let take = rows.unwrap_or(&mut none);
        let logs = source.logs().map_err(unreadable)?.map(|log| log.map_err(unreadable));
        let parts = self.crew.run(logs, &work, |(sets, kept)| {
            take(kept).map_err(|source| ReplayError::Unwritten { source })?;
            count.add(sets)
        })?;
        let mut whole = Part::new(forecasters, advisers);
        parts.into_iter().for_each(|part| whole.join(part));
        Ok(whole)
    }

    /// Regressions take longer than all else together, and are left out where nobody asks for them.
    fn has_regression(&self) -> bool {
        self.who.contains(&Who::Regression)
    }

    fn course(&self, learned: &Learned, count: &mut Count<'_, '_>) -> Result<Course, ReplayError> {
        let taught = Arc::new(learned.lessons.taught(&self.model.catalog));
        let regressions = if self.has_regression() {
            let fitted = learned.regressions(|| count.goes_on());
            fitted.ok_or(ReplayError::Ended { progress: count.progress })?
        } else {
            Regressions::default()
        };
        Ok(Course {
            bench: Bench {
                model: Arc::clone(&self.model),
                challenger: self.challenger.clone(),
                taught,
                regressions: Arc::new(regressions),
                who: self.who.clone(),
            },
            policy: self.policy.clone(),
            advisers: self.advisers.clone(),
            selection: self.selection.clone(),
            first_day: learned.first_day.unwrap_or(0),
            seed: self.seed,
        })
    }
}
