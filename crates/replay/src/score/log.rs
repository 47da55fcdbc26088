//! Log score: minus the ln of the chance that was given to what happened (I. J. Good 1952, from memory).
//!
//! `L = -ln p(what happened)`, in nats. Where it is only known that the count was at least `k` (a target reached, a set
//! ended by choice), what happened is all counts from `k`, and `L = -ln P(count >= k)`.

use crate::score::ScoreError;
use crate::score::distribution::Counts;
use crate::score::ending::{Ending, Endings};

/// Log score of a count, nats; infinite when the count was given no chance. A count above the top is the top.
pub fn of_count(counts: &Counts, count: usize) -> f64 {
    of_chance(counts.of(count))
}

/// Log score of an ending with its cause, nats; infinite when it was given no chance.
///
/// # Errors
///
/// As [`Endings::of`]: the prediction does not speak of such an ending.
pub fn of_ending<const CAUSES: usize>(endings: &Endings<CAUSES>, ending: Ending) -> Result<f64, ScoreError> {
    endings.of(ending).map(of_chance)
}

/// Never below zero, not even by the sign of zero.
fn of_chance(chance: f64) -> f64 {
    (-libm::log(chance)).max(0.0)
}
