//! Regression: hazards of units by logistic regression on what was known before the set.

use std::sync::Arc;

use crate::evaluate::entry::Entry;
use crate::forecaster::Forecaster;
use crate::forecaster::foretold::Foretold;
use crate::forecaster::lesson::Taught;

/// Regressions by block.
#[derive(Debug, Clone, Default)]
pub struct Regressions {}

/// The regression at work on one athlete.
#[derive(Debug, Clone)]
pub struct Regression {
    regressions: Arc<Regressions>,
    taught: Arc<Taught>,
}

impl Regression {
    /// From what was fitted.
    pub fn new(regressions: Arc<Regressions>, taught: Arc<Taught>) -> Self {
        Self { regressions, taught }
    }
}

impl Forecaster for Regression {
    fn take(&mut self, set: &Entry, foretell: Option<&mut Foretold>) {
        if let Some(foretell) = foretell {
            let usual = self.taught.at(set.block()).of(set.task.rung);
            foretell.by_survival(usual.survival(), usual.causes);
        }
    }

    fn again(&self) -> Box<dyn Forecaster> {
        Box::new(self.clone())
    }
}
