//! Interval: the middle of a predicted distribution, and how often what happened lies in it.
//!
//! The central interval at a level runs from the smallest count whose distribution function is at least `(1 - level) / 2` to
//! the smallest where it is at least `(1 + level) / 2`. Counts are whole, so it holds at least `level`, mostly more: its own
//! chance goes with it, and coverage is to be held against the mean of those, not against the level.

use crate::score::ScoreError;
use crate::score::distribution::Counts;
use crate::simulate::bootstrap::count as number;

/// Counts in the middle of a distribution, both ends within.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Fewest.
    pub low: usize,
    /// Most; at the distribution's top it means that or more.
    pub high: usize,
    /// Whether `high` is the top, so that the interval is open above.
    pub open: bool,
    /// The predicted chance of the interval.
    pub chance: f64,
}

impl Interval {
    /// The central interval at `level`.
    ///
    /// # Errors
    ///
    /// [`ScoreError::Level`] when `level` is not between 0 and 1, both excluded.
    pub fn central(counts: &Counts, level: f64) -> Result<Self, ScoreError> {
        if !(level > 0.0 && level < 1.0) {
            return Err(ScoreError::Level { level });
        }
        let at = |q: f64| counts.cumulative().position(|f| f >= q).unwrap_or(counts.top());
        let (low, high) = (at(0.5 * (1.0 - level)), at(0.5 * (1.0 + level)));
        let upto = counts.below(high + 1).unwrap_or(1.0);
        let chance = upto - counts.below(low).unwrap_or(0.0);
        Ok(Self { low, high, open: high == counts.top(), chance })
    }

    /// Whether a count lies in it.
    pub fn holds(&self, count: usize) -> bool {
        self.low <= count && (self.open || count <= self.high)
    }
}

/// How often counts lay in their intervals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coverage {
    /// Share of counts that lay in their interval.
    pub found: f64,
    /// Share predicted: the mean chance of the intervals.
    pub expected: f64,
}

/// Coverage of intervals, each with the count that came.
///
/// # Errors
///
/// [`ScoreError::Empty`] without any.
pub fn coverage(rows: &[(Interval, usize)]) -> Result<Coverage, ScoreError> {
    if rows.is_empty() {
        return Err(ScoreError::Empty);
    }
    let inside = rows.iter().filter(|(interval, count)| interval.holds(*count)).count();
    let expected: f64 = rows.iter().map(|(interval, _)| interval.chance).sum();
    Ok(Coverage { found: number(inside) / number(rows.len()), expected: expected / number(rows.len()) })
}
