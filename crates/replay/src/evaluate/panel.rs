//! Panel: every forecaster side by side, and what the service remembers of one athlete's training.

use std::sync::Arc;

use nextrung_capacity::model::Model;
use nextrung_prescribe::history::History;

use crate::evaluate::entry::Entry;
use crate::evaluate::timeline::Fold;
use crate::forecaster::Forecaster;
use crate::forecaster::climatology::Climatology;
use crate::forecaster::foretold::Foretold;
use crate::forecaster::last_session::LastSession;
use crate::forecaster::lesson::Taught;
use crate::forecaster::oracle::{Oracle, Truths};
use crate::forecaster::rating::Rating;
use crate::forecaster::regression::{Regression, Regressions};
use crate::forecaster::running_rate::RunningRate;
use crate::forecaster::service::{Ablation, Service};

/// Who foretells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Who {
    /// The model as the service uses it.
    Service,
    /// The same with a part taken out.
    Without(Ablation),
    /// Another model, with ladders and parameters of its own.
    Challenger,
    /// The rung's past, of all athletes.
    Climatology,
    /// The last session again.
    LastSession,
    /// The athlete's own rate on the rung.
    RunningRate,
    /// A rating with a fixed gain.
    Rating,
    /// A regression of the hazard of each unit.
    Regression,
    /// Somebody who knows the truth.
    Oracle,
}

impl Who {
    /// The word used in tables and files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Service => "service",
            Self::Without(part) => part.word(),
            Self::Challenger => "challenger",
            Self::Climatology => "climatology",
            Self::LastSession => "last-session",
            Self::RunningRate => "running-rate",
            Self::Rating => "rating",
            Self::Regression => "regression",
            Self::Oracle => "oracle",
        }
    }

    /// In a sentence, for those who read tables.
    pub fn about(self) -> &'static str {
        match self {
            Self::Service => "the model as the service uses it",
            Self::Without(Ablation::Day) => "the model without a form of the day",
            Self::Without(Ablation::Slope) => "the model without a trend of abilities",
            Self::Without(Ablation::Offsets) => {
                "the model with rungs exactly as the ladders say, for everybody"
            }
            Self::Without(Ablation::Smoothing) => {
                "the model with each rung on its own, difficulties not smoothed over the ladder"
            }
            Self::Challenger => "the model with other parameters and difficulties",
            Self::Climatology => "how sets of the rung have gone so far, whoever did them",
            Self::LastSession => "the best of the last session on the rung comes again, give or take",
            Self::RunningRate => {
                "how often each unit of the rung failed for the athlete so far, shrunk to the climatology"
            }
            Self::Rating => "a rating of abilities and rungs, moved by a fixed gain after every set",
            Self::Regression => {
                "a logistic regression of the hazard of each unit, fitted to past sets of all athletes"
            }
            Self::Oracle => "knows the truth of simulated athletes, all but the luck of the set",
        }
    }

    /// Every one that needs nothing but logs, the service first.
    pub fn usual() -> Vec<Self> {
        let parts = Ablation::ALL.map(Self::Without);
        let plain = [Self::Climatology, Self::LastSession, Self::RunningRate, Self::Rating, Self::Regression];
        std::iter::once(Self::Service).chain(plain).chain(parts).collect()
    }
}

/// What forecasters are made from, the same for every athlete.
#[derive(Debug, Clone)]
pub struct Bench {
    /// Ladders and parameters of the service.
    pub model: Arc<Model>,
    /// Another model, when one is compared.
    pub challenger: Option<Arc<Model>>,
    /// What all athletes' pasts teach.
    pub taught: Arc<Taught>,
    /// The regressions, by block.
    pub regressions: Arc<Regressions>,
    /// Who foretells, the service first.
    pub who: Vec<Who>,
}

impl Bench {
    fn seat(&self, who: Who, truths: &Arc<Truths>) -> Box<dyn Forecaster> {
        let taught = || Arc::clone(&self.taught);
        let model = || Arc::clone(&self.model);
        match who {
            Who::Service => Box::new(Service::new(model())),
            Who::Without(part) => Box::new(Service::without(&self.model, part)),
            Who::Challenger => {
                let other = self.challenger.as_ref().map_or_else(model, Arc::clone);
                Box::new(Service::with_own_ladders(other))
            }
            Who::Climatology => Box::new(Climatology::new(taught())),
            Who::LastSession => Box::new(LastSession::new(taught())),
            Who::RunningRate => Box::new(RunningRate::new(taught())),
            Who::Rating => Box::new(Rating::new(&self.model.catalog, taught())),
            Who::Regression => {
                let fitted = Arc::clone(&self.regressions);
                Box::new(Regression::new(&self.model.catalog, fitted, taught()))
            }
            Who::Oracle => Box::new(Oracle::new(Arc::clone(truths))),
        }
    }
}

/// Every forecaster of one athlete; the service stands apart, since the day's advice is made from its state.
#[derive(Clone)]
pub struct Panel {
    model: Arc<Model>,
    /// The service.
    pub service: Service,
    /// What the service remembers of the training; kept only where advice is asked for.
    pub history: Option<History>,
    others: Vec<Box<dyn Forecaster>>,
}

impl Panel {
    /// A new athlete.
    pub fn new(bench: &Bench, truths: &Arc<Truths>, keeps_history: bool) -> Self {
        let others = bench.who.iter().filter(|who| **who != Who::Service);
        Self {
            model: Arc::clone(&bench.model),
            service: Service::new(Arc::clone(&bench.model)),
            history: keeps_history.then(History::default),
            others: others.map(|who| bench.seat(*who, truths)).collect(),
        }
    }

    /// Takes in a set that each forecaster first foretells; `said` is told each prediction by the forecaster's place.
    pub fn foretell(
        &mut self,
        entry: &Entry,
        buffer: &mut Foretold,
        mut said: impl FnMut(usize, &mut Foretold),
    ) {
        let service: &mut dyn Forecaster = &mut self.service;
        let others = self.others.iter_mut().map(|other| &mut **other as &mut dyn Forecaster);
        for (place, forecaster) in std::iter::once(service).chain(others).enumerate() {
            buffer.clear(entry.top());
            forecaster.take(entry, Some(buffer));
            said(place, buffer);
        }
        self.remember(entry);
    }

    fn remember(&mut self, entry: &Entry) {
        if let Some(history) = &mut self.history {
            history.observe(&self.model.catalog, &entry.set);
        }
    }
}

impl Fold for Panel {
    fn take(&mut self, entry: &Entry) {
        self.service.take(entry, None);
        self.others.iter_mut().for_each(|other| other.take(entry, None));
        self.remember(entry);
    }
}
