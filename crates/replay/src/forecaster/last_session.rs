//! Last session: the best of the last session on the rung comes again, give or take.
//!
//! The count is log-logistic about the best of that session (half a unit on top, which was there but not whole), with one of
//! several scales, and a twentieth of the rung's climatology beside it. A rung not done before has its climatology.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_domain::catalog::RungIx;

use crate::evaluate::entry::Entry;
use crate::forecaster::Forecaster;
use crate::forecaster::foretold::Foretold;
use crate::forecaster::lesson::{Taught, Usual};
use crate::forecaster::mixture::{Mixture, chance_of};

/// Scales, ln units.
const SCALES: [f64; 6] = [0.04, 0.08, 0.15, 0.25, 0.4, 0.7];
/// Share of the climatology.
const REST: f64 = 0.05;

#[derive(Debug, Clone, Copy, PartialEq)]
struct Best {
    session: (i32, u8),
    units: u16,
    before: Option<u16>,
}

/// What the last sessions showed.
#[derive(Debug, Clone)]
pub struct LastSession {
    taught: Arc<Taught>,
    bests: BTreeMap<RungIx, Best>,
    mixture: Mixture<{ SCALES.len() }>,
}

impl LastSession {
    /// Nothing done yet.
    pub fn new(taught: Arc<Taught>) -> Self {
        Self { taught, bests: BTreeMap::new(), mixture: Mixture::default() }
    }

    /// The best of the last session before this one.
    fn last(&self, set: &Entry) -> Option<u16> {
        let best = self.bests.get(&set.task.rung)?;
        if best.session == session_of(set) { best.before } else { Some(best.units) }
    }

    fn note(&mut self, set: &Entry) {
        let (session, units) = (session_of(set), set.done.units);
        let best = match self.bests.get(&set.task.rung) {
            Some(best) if best.session == session => Best { units: best.units.max(units), ..*best },
            Some(best) => Best { session, units, before: Some(best.units) },
            None => Best { session, units, before: None },
        };
        self.bests.insert(set.task.rung, best);
    }
}

fn session_of(set: &Entry) -> (i32, u8) {
    (set.done.day, set.done.session)
}

/// Chance of at least `units` when the best last time was `best`.
fn reach(best: u16, scale: f64, units: u16) -> f64 {
    if units == 0 {
        return 1.0;
    }
    let over = libm::log(f64::from(units)) - libm::log(f64::from(best) + 0.5);
    1.0 / (1.0 + libm::exp(over / scale))
}

/// Chance of at least `units` under one scale, with the climatology's share.
fn blended(usual: &[f64], best: u16, scale: f64, units: u16) -> f64 {
    let rest = usual.get(usize::from(units)).copied().unwrap_or(0.0);
    (1.0 - REST) * reach(best, scale, units) + REST * rest
}

/// The climatology's chances of at least 0, 1, ... `most` units.
fn upto(usual: &Usual, most: u16) -> Vec<f64> {
    std::iter::once(1.0).chain(usual.survival()).take(usize::from(most) + 1).collect()
}

impl Forecaster for LastSession {
    fn take(&mut self, set: &Entry, foretell: Option<&mut Foretold>) {
        let usual = self.taught.at(set.block()).of(set.task.rung);
        match (self.last(set), foretell) {
            (None, Some(foretell)) => foretell.by_survival(usual.survival(), usual.causes),
            (Some(best), Some(foretell)) => {
                let weights = self.mixture.weights();
                let rest = upto(usual, set.top());
                let chance = |units| Mixture::mean(&weights, |at| blended(&rest, best, SCALES[at], units));
                foretell.by_survival((1..=set.top()).map(chance), usual.causes);
            }
            (_, None) => {}
        }
        if let Some(best) = self.last(set).filter(|_| set.done.is_effort()) {
            let rest = upto(usual, set.done.units.saturating_add(1));
            let chance = |scale| {
                chance_of(|k| blended(&rest, best, scale, k), set.done.units, set.done.stop.is_failure())
            };
            self.mixture.learn(SCALES.map(chance));
        }
        if set.done.is_effort() {
            self.note(set);
        }
    }

    fn again(&self) -> Box<dyn Forecaster> {
        Box::new(self.clone())
    }
}
