//! Climatology: sets go as sets of the rung have gone so far, whoever did them.

use std::sync::Arc;

use crate::evaluate::entry::Entry;
use crate::forecaster::Forecaster;
use crate::forecaster::foretold::Foretold;
use crate::forecaster::lesson::Taught;

/// The rung's past, of all athletes.
#[derive(Debug, Clone)]
pub struct Climatology {
    taught: Arc<Taught>,
}

impl Climatology {
    /// From what is taught.
    pub fn new(taught: Arc<Taught>) -> Self {
        Self { taught }
    }
}

impl Forecaster for Climatology {
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
