//! Oracle: knows the truth of simulated athletes, all but the luck of the set itself.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_domain::ids::ClientSetId;

use crate::evaluate::entry::Entry;
use crate::forecaster::Forecaster;
use crate::forecaster::foretold::Foretold;
use crate::simulate::standing::Standing;

/// What was true of one athlete as each set began.
pub type Truths = BTreeMap<ClientSetId, Standing>;

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
    /// A set of which no truth is known is foretold to reach its top for sure, so that the fault shows.
    fn take(&mut self, set: &Entry, foretell: Option<&mut Foretold>) {
        let Some(foretell) = foretell else { return };
        if let Some(endings) = self.truths.get(&set.set.client_set_id).and_then(|s| s.endings(set.top()).ok())
        {
            foretell.take_back(endings);
        }
    }

    fn again(&self) -> Box<dyn Forecaster> {
        Box::new(self.clone())
    }
}
