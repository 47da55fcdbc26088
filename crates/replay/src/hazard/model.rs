//! Model: the chance to last each unit of a set to come.

use serde::{Deserialize, Serialize};

use super::HazardError;
use super::features::{COLUMNS, Features};
use super::grid;
use super::logit::{Logit, softplus};
use super::orthogonal;
use super::sample::RowSample;

/// Log odds beyond which no hazard goes: a million to one. A logistic regression is surer of far cases than any data make it.
const MOST_ODDS: f64 = 13.815_510_557_964_274;

/// A hazard for every piece of every set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HazardModel {
    logit: Logit,
}

impl HazardModel {
    /// The same hazard for every piece: failures over rows of a sample, half a failure and half a pass added. What stands in for
    /// [`fit`] while a sample is empty or knows only one outcome.
    pub fn pooled(sample: &RowSample) -> Self {
        let (mut failed, mut passed) = (0.5, 0.5);
        for (_, fails) in rows(sample) {
            *if fails { &mut failed } else { &mut passed } += 1.0;
        }
        Self { logit: Logit::flat(libm::log(failed / passed), COLUMNS) }
    }

    /// The regression.
    pub fn logit(&self) -> &Logit {
        &self.logit
    }

    /// The chance of at least 1, 2, ... `upto` clean units: never rising, above 0, at most 1. Past the last piece of the grid
    /// the hazard of its last unit goes on.
    pub fn survival(&self, features: &Features, upto: u16) -> Vec<f64> {
        let mut chances = Vec::with_capacity(usize::from(upto));
        let (mut ln_lasts, mut per_unit) = (0.0, 0.0);
        for piece in grid::pieces(features.unit).take_while(|piece| piece.from < upto) {
            let odds = self.logit.log_odds(&features.row(piece));
            per_unit = -softplus(odds.clamp(-MOST_ODDS, MOST_ODDS)) / f64::from(piece.width());
            for _ in piece.from..piece.to.min(upto) {
                ln_lasts += per_unit;
                chances.push(chance(ln_lasts));
            }
        }
        while chances.len() < usize::from(upto) {
            ln_lasts += per_unit;
            chances.push(chance(ln_lasts));
        }
        chances
    }
}

/// Kept above 0, so that no outcome is ruled out by underflow.
fn chance(ln_lasts: f64) -> f64 {
    libm::exp(ln_lasts).max(f64::MIN_POSITIVE)
}

/// The rows of a sample in the order of its places; true where failed.
pub fn rows(sample: &RowSample) -> impl Iterator<Item = ([f64; COLUMNS], bool)> {
    sample.sets().flat_map(|set| {
        let pieces = grid::rows(set.features.unit, set.done, set.failed);
        pieces.map(|(piece, failed)| (set.features.row(piece), failed))
    })
}

/// Fits the rows of a sample; `ridge` is explained at [`super::logit`] and [`orthogonal`].
///
/// # Errors
///
/// [`HazardError::NoRows`] and [`HazardError::OneSided`] while there is too little to learn from ([`HazardModel::pooled`] stands
/// in), [`HazardError::Ridge`] for a ridge out of range, [`HazardError::NotConverged`] when the search did not arrive.
pub fn fit(sample: &RowSample, ridge: f64) -> Result<HazardModel, HazardError> {
    let (mut values, mut failed) = (Vec::new(), Vec::new());
    for (row, fails) in rows(sample) {
        values.extend(row);
        failed.push(fails);
    }
    Ok(HazardModel { logit: orthogonal::fit(values, &failed, ridge)? })
}
