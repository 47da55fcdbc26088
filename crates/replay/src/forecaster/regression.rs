//! Regression: hazards of units by logistic regression on what was known before the set, fitted block by block.

use std::sync::Arc;

use nextrung_domain::catalog::Catalog;
use serde::{Deserialize, Serialize};

use crate::evaluate::entry::Entry;
use crate::evaluate::timeline::Fold;
use crate::forecaster::Forecaster;
use crate::forecaster::foretold::Foretold;
use crate::forecaster::lesson::Taught;
use crate::hazard::Ask;
use crate::hazard::athlete::HazardAthlete;
use crate::hazard::features::Features;
use crate::hazard::model::{HazardModel, fit};
use crate::hazard::sample::RowSample;

/// Rows that a regression is fitted to, at most.
pub const MOST_ROWS: usize = 60_000;
/// Ridge of the fit: one standardised coefficient counts as if it had been seen to be 0 once (common practice, no source).
const RIDGE: f64 = 1.0;

/// The regressions, by the block from which on each is known; before the first one goes the climatology.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Regressions {
    fitted: Vec<(i32, HazardModel)>,
}

impl Regressions {
    /// One for each block that has rows, fitted to those of earlier ones; none while there is too little. Nothing when `goes_on`,
    /// asked before each, says that the rest is not wanted.
    pub fn fit(sample: &RowSample, mut goes_on: impl FnMut() -> bool) -> Option<Self> {
        let mut blocks: Vec<u32> = sample.sets().map(|set| set.block).collect();
        blocks.sort_unstable();
        blocks.dedup();
        // What the last block teaches is asked for by nobody.
        blocks.pop();
        let mut fitted = Vec::new();
        for block in blocks {
            if !goes_on() {
                return None;
            }
            let next = block.saturating_add(1);
            if let Ok(model) = fit(&sample.before(next), RIDGE) {
                fitted.push((i32::try_from(next).unwrap_or(i32::MAX), model));
            }
        }
        Some(Self { fitted })
    }

    /// What was known when a block began.
    fn at(&self, block: i32) -> Option<&HazardModel> {
        let after = self.fitted.partition_point(|(from, _)| *from <= block);
        after.checked_sub(1).map(|last| &self.fitted[last].1)
    }
}

/// What the regression knows of one athlete.
#[derive(Debug, Clone)]
pub struct Known(HazardAthlete);

impl Known {
    /// Nothing known yet.
    pub fn new(catalog: &Catalog) -> Self {
        Self(HazardAthlete::new(catalog))
    }

    /// What is known before a set.
    pub fn features(&self, set: &Entry) -> Features {
        self.0.ask(&ask(set))
    }
}

fn ask(set: &Entry) -> Ask<'_> {
    Ask {
        task: &set.task,
        unit: set.set.unit,
        purpose: set.set.purpose,
        target: set.done.target,
        day: set.done.day,
        session: set.done.session,
        rest_seconds: set.done.rest_seconds,
    }
}

impl Fold for Known {
    fn take(&mut self, set: &Entry) {
        self.0.learn(&ask(set), set.done.units, set.done.stop);
    }
}

/// The regression at work on one athlete.
#[derive(Debug, Clone)]
pub struct Regression {
    regressions: Arc<Regressions>,
    taught: Arc<Taught>,
    known: Known,
}

impl Regression {
    /// From what was fitted; causes are shared as the rung's climatology has them.
    pub fn new(catalog: &Catalog, regressions: Arc<Regressions>, taught: Arc<Taught>) -> Self {
        Self { regressions, taught, known: Known::new(catalog) }
    }
}

impl Forecaster for Regression {
    fn take(&mut self, set: &Entry, foretell: Option<&mut Foretold>) {
        if let Some(foretell) = foretell {
            let usual = self.taught.at(set.block()).of(set.task.rung);
            match self.regressions.at(set.block()) {
                Some(model) => {
                    foretell.by_survival(model.survival(&self.known.features(set), set.top()), usual.causes);
                }
                None => foretell.by_survival(usual.survival(), usual.causes),
            }
        }
        self.known.take(set);
    }

    fn again(&self) -> Box<dyn Forecaster> {
        Box::new(self.clone())
    }
}
