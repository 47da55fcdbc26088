//! Rank: where what happened lies in the predicted distribution, as a number between 0 and 1.
//!
//! The randomised probability integral transform (Czado, Gneiting and Held 2009, from memory): with `V` uniform,
//! `U = F(count - 1) + V p(count)`. When predictions are right, ranks are uniform; a hump in the middle says that they are
//! too wide, heaps at the ends that they are too narrow.

use crate::dice::Dice;
use crate::score::distribution::Counts;

/// The rank of a count, its own share broken by the dice. A count above the top is the top.
pub fn of_count(counts: &Counts, count: usize, dice: &mut Dice) -> f64 {
    at(counts, count, dice.unit())
}

/// The rank of a count, its own share broken by `lot`, between 0 and 1. A count above the top is the top.
pub fn at(counts: &Counts, count: usize, lot: f64) -> f64 {
    let count = count.min(counts.top());
    let [below, upto] = [count, count + 1].map(|end| counts.below(end).unwrap_or(1.0));
    below + lot * (upto - below)
}
