//! Running rate: how often each unit of the rung has failed for this athlete so far, shrunk to the rung's climatology.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_domain::catalog::RungIx;

use crate::evaluate::entry::Entry;
use crate::forecaster::Forecaster;
use crate::forecaster::foretold::Foretold;
use crate::forecaster::lesson::{Taught, Usual};
use crate::forecaster::mixture::{Mixture, chance_of};

/// Sets' worth of climatology that the athlete's own sets are held against.
const PRIORS: [f64; 5] = [0.5, 2.0, 6.0, 20.0, 60.0];

/// By unit: sets that tried it, and those that failed on it.
type Counts = Vec<(f64, f64)>;

/// The athlete's own counts, rung by rung.
#[derive(Debug, Clone)]
pub struct RunningRate {
    taught: Arc<Taught>,
    counts: BTreeMap<RungIx, Counts>,
    mixture: Mixture<{ PRIORS.len() }>,
}

impl RunningRate {
    /// Nothing done yet.
    pub fn new(taught: Arc<Taught>) -> Self {
        Self { taught, counts: BTreeMap::new(), mixture: Mixture::default() }
    }
}

/// Chances of at least 0, 1, ... `most` units under one prior.
fn survival(own: &[(f64, f64)], usual: &Usual, prior: f64, most: u16) -> Vec<f64> {
    let next = |still: &mut f64, unit: usize| {
        let (tried, failed) = own.get(unit - 1).copied().unwrap_or_default();
        *still *= 1.0 - (failed + prior * usual.hazard(unit)) / (tried + prior);
        Some(*still)
    };
    std::iter::once(1.0).chain((1..=usize::from(most)).scan(1.0, next)).collect()
}

fn count(own: &mut Counts, units: u16, has_failed: bool) {
    let tried = usize::from(units) + usize::from(has_failed);
    if own.len() < tried {
        own.resize(tried, (0.0, 0.0));
    }
    own.iter_mut().take(tried).for_each(|(tried, _)| *tried += 1.0);
    if let Some((_, failed)) = own.get_mut(usize::from(units)).filter(|_| has_failed) {
        *failed += 1.0;
    }
}

impl Forecaster for RunningRate {
    fn take(&mut self, set: &Entry, foretell: Option<&mut Foretold>) {
        let usual = self.taught.at(set.block()).of(set.task.rung);
        let own = self.counts.entry(set.task.rung).or_default();
        if let Some(foretell) = foretell {
            let weights = self.mixture.weights();
            let courses = PRIORS.map(|prior| survival(own, usual, prior, set.top()));
            let chance = |units: usize| Mixture::mean(&weights, |at| courses[at][units]);
            foretell.by_survival((1..=usize::from(set.top())).map(chance), usual.causes);
        }
        if set.done.is_effort() {
            let (units, has_failed) = (set.done.units, set.done.stop.is_failure());
            let chance = |prior| {
                let course = survival(own, usual, prior, units.saturating_add(1));
                chance_of(|k| course[usize::from(k)], units, has_failed)
            };
            self.mixture.learn(PRIORS.map(chance));
            count(own, units, has_failed);
        }
    }

    fn again(&self) -> Box<dyn Forecaster> {
        Box::new(self.clone())
    }
}
