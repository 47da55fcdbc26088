//! Model: ladders and parameters together, all that a fold over a log needs.

use std::sync::Arc;

use nextrung_domain::catalog::Catalog;
use nextrung_domain::set::SetEntry;

use crate::done::Done;
use crate::params::Parameters;
use crate::task::{Task, mass_ratio};

/// Ladders and parameters in force.
#[derive(Debug, Clone)]
pub struct Model {
    /// The ladders.
    pub catalog: Arc<Catalog>,
    /// The parameters.
    pub parameters: Parameters,
}

impl Model {
    /// Joins ladders and parameters.
    pub fn new(catalog: Arc<Catalog>, parameters: Parameters) -> Self {
        Self { catalog, parameters }
    }

    /// A set as the model sees it; nothing when its rung is no longer in any ladder or has changed its unit, in which
    /// case the set says nothing.
    pub fn read(&self, set: &SetEntry) -> Option<(Task, Done)> {
        let rung_ix = self.catalog.find(&set.rung)?;
        let rung = self.catalog.rung(rung_ix);
        if rung.unit != set.unit {
            return None;
        }
        let share = rung.load_share.as_ref().map(|(share, _)| *share);
        let ratio = mass_ratio(share, set.body_mass, set.load);
        Some((Task::new(&self.catalog, rung_ix, &set.shadings, ratio), Done::of(set)))
    }
}
