//! Ranked probability score: how far the predicted distribution function lies from what happened (Epstein 1969, in the
//! unnormalised form of Murphy 1971; both from memory).
//!
//! `R = sum over k below the top of (F(k) - [count <= k])^2`, in units of the count: the absolute error where the
//! prediction is certain, and the continuous ranked probability score of an integer. Beside the log score it knows that a
//! miss by one unit is better than a miss by five.

use crate::score::distribution::Counts;

/// Ranked probability score of a count, units. A count above the top is the top.
pub fn of_count(counts: &Counts, count: usize) -> f64 {
    let gap = |(k, cumulative): (usize, f64)| cumulative - if count <= k { 1.0 } else { 0.0 };
    counts.cumulative().enumerate().map(gap).map(|gap| gap * gap).sum()
}
