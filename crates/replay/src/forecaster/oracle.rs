//! Oracle: knows the truth of simulated athletes, all but the luck of the set itself.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_domain::ids::ClientSetId;

use crate::evaluate::entry::Entry;
use crate::forecaster::Forecaster;
use crate::forecaster::foretold::Foretold;

/// What is true of one athlete's sets: chances of failure by units done and cause, and of the top.
pub type Truths = BTreeMap<ClientSetId, (Vec<[f64; 3]>, f64)>;

/// The truth of one athlete.
#[derive(Debug, Clone)]
pub struct Oracle {
    truths: Arc<Truths>,
}

impl Oracle {
    /// From what is true.
    pub fn new(truths: Arc<Truths>) -> Self {
        Self { truths }
    }
}

impl Forecaster for Oracle {
    fn take(&mut self, set: &Entry, foretell: Option<&mut Foretold>) {
        if let (Some(foretell), Some((failed, reached))) = (foretell, self.truths.get(&set.set.client_set_id))
        {
            for (units, by_kind) in failed.iter().enumerate() {
                by_kind.iter().enumerate().for_each(|(kind, chance)| foretell.fail(units, kind, *chance));
            }
            foretell.reach(*reached);
        }
    }

    fn again(&self) -> Box<dyn Forecaster> {
        Box::new(self.clone())
    }
}
