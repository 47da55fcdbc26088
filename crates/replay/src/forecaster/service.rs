//! Service: the model as the service uses it, whole or with a part taken out.

use std::sync::Arc;

use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::outlook::{Strain, TaskOutlook};
use nextrung_capacity::params::{KindParameters, Parameters};
use nextrung_capacity::state::AthleteState;
use nextrung_capacity::task::Task;

use crate::evaluate::entry::Entry;
use crate::forecaster::Forecaster;
use crate::forecaster::foretold::Foretold;

/// A part of the model that can be taken out, to see what it is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ablation {
    /// No form of the day (F-04).
    Day,
    /// No slope: levels wander but do not trend (F-03).
    Slope,
    /// No departures: every athlete finds rungs and shadings as hard as the ladder says, and the ladder is exact (F-02).
    Offsets,
    /// No smoothing of difficulties: each rung stands for itself, and what is shown on one says next to nothing of another.
    Smoothing,
}

/// Spread of departures that leaves a rung to itself, ln units: a factor of seven either way.
const ALONE: f64 = 2.0;

impl Ablation {
    /// Every one.
    pub const ALL: [Self; 4] = [Self::Day, Self::Slope, Self::Offsets, Self::Smoothing];

    /// The word used in tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Day => "no-day",
            Self::Slope => "no-slope",
            Self::Offsets => "no-offsets",
            Self::Smoothing => "no-smoothing",
        }
    }

    /// The model without that part.
    pub fn without(self, model: &Model) -> Model {
        let mut parameters: Parameters = model.parameters.clone();
        let change = |p: &mut KindParameters| match self {
            Self::Day => p.day_sd = 0.0,
            Self::Slope => (p.slope_sd, p.slope_mean) = (0.0, 0.0),
            Self::Offsets => p.offset_sd = 0.0,
            Self::Smoothing => p.offset_sd = ALONE,
        };
        parameters.kinds.iter_mut().for_each(change);
        Model { catalog: Arc::clone(&model.catalog), parameters }
    }
}

/// The model at work on one athlete.
#[derive(Debug, Clone)]
pub struct Service {
    model: Arc<Model>,
    state: AthleteState,
    scratch: Scratch,
    reading: Reading,
}

/// How sets are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Reading {
    /// As the entry has it: the model's ladders are those of the replay.
    AsRead,
    /// With difficulties taken as exact.
    Exact,
    /// Anew, with the model's own ladders.
    Anew,
}

impl Service {
    /// The model whose ladders are those of the replay.
    pub fn new(model: Arc<Model>) -> Self {
        Self::reading(model, Reading::AsRead)
    }

    /// The model without one part.
    pub fn without(model: &Model, part: Ablation) -> Self {
        let reading = if part == Ablation::Offsets { Reading::Exact } else { Reading::AsRead };
        Self::reading(Arc::new(part.without(model)), reading)
    }

    /// A model with ladders of its own.
    pub fn with_own_ladders(model: Arc<Model>) -> Self {
        Self::reading(model, Reading::Anew)
    }

    fn reading(model: Arc<Model>, reading: Reading) -> Self {
        let state = AthleteState::new(&model.parameters);
        Self { model, state, scratch: Scratch::default(), reading }
    }

    /// What is believed so far.
    pub fn state(&self) -> &AthleteState {
        &self.state
    }

    fn observe(&mut self, task: &Task, set: &Entry, foretell: Option<&mut Foretold>) {
        let model = &*self.model;
        self.state.observe_foretold(model, &mut self.scratch, (task, &set.done), |standings| {
            if let Some(foretell) = foretell {
                let outlook = TaskOutlook::of(model, task, standings);
                let reached = outlook.drops(set.top(), Strain::NONE, |unit, kind, chance| {
                    foretell.fail(usize::from(unit) - 1, kind, chance);
                });
                foretell.reach(reached);
            }
        });
    }
}

impl Forecaster for Service {
    fn take(&mut self, set: &Entry, foretell: Option<&mut Foretold>) {
        match self.reading {
            Reading::AsRead => self.observe(&set.task, set, foretell),
            Reading::Exact => self.observe(&set.task.clone().with_exact_difficulties(), set, foretell),
            Reading::Anew => {
                if let Some((task, _)) = self.model.read(&set.set) {
                    self.observe(&task, set, foretell);
                }
            }
        }
    }

    fn again(&self) -> Box<dyn Forecaster> {
        Box::new(self.clone())
    }
}
