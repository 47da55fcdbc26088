//! Distribution: what is predicted of a count.

use crate::score::{ScoreError, chance};

/// How far a sum of chances may be from one: the rounding of some hundred of them, and of a file with ten digits.
const ROUNDING: f64 = 1e-9;

/// Chances of the counts 0, 1, ..., of which the last stands for that count *or more*: a set with a target says no more.
#[derive(Debug, Clone, PartialEq)]
pub struct Counts {
    pub(super) chances: Vec<f64>,
}

impl Counts {
    /// A distribution from the chances of 0, 1, ..., and of the last count or more.
    ///
    /// # Errors
    ///
    /// [`ScoreError::Empty`] without any, [`ScoreError::Chance`] when one is no chance, [`ScoreError::Sum`] when they do
    /// not sum to one within 1e-9.
    pub fn new(chances: Vec<f64>) -> Result<Self, ScoreError> {
        if chances.is_empty() {
            return Err(ScoreError::Empty);
        }
        total_is_one(chances.iter().copied())?;
        Ok(Self { chances })
    }

    /// The last count told apart.
    pub fn top(&self) -> usize {
        self.chances.len() - 1
    }

    /// Chance of `count`; a count above the top is the top.
    pub fn of(&self, count: usize) -> f64 {
        self.chances[count.min(self.top())]
    }

    /// Chance of fewer than `count`; nothing when `count` lies above the top, where counts are not told apart.
    pub fn below(&self, count: usize) -> Option<f64> {
        let below = self.chances.get(..count).filter(|_| count <= self.top())?;
        Some(below.iter().sum::<f64>().min(1.0))
    }

    /// The distribution function: chance of at most 0, 1, ..., of each count below the top (at the top it is 1).
    pub fn cumulative(&self) -> impl Iterator<Item = f64> {
        self.chances[..self.top()].iter().scan(0.0, |sum, chance| {
            *sum += chance;
            Some(f64::min(*sum, 1.0))
        })
    }
}

/// Checks that these are chances and sum to one.
pub(super) fn total_is_one(chances: impl Iterator<Item = f64>) -> Result<(), ScoreError> {
    let mut sum = 0.0;
    for one in chances {
        sum += chance(one)?;
    }
    if (sum - 1.0).abs() <= ROUNDING { Ok(()) } else { Err(ScoreError::Sum { sum }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_top_stands_for_more() {
        let counts = Counts::new(vec![0.25, 0.5, 0.25]).unwrap();
        assert_eq!(counts.top(), 2);
        assert_eq!((counts.of(1), counts.of(2), counts.of(9)), (0.5, 0.25, 0.25));
        assert_eq!([0, 1, 2, 3].map(|k| counts.below(k)), [Some(0.0), Some(0.25), Some(0.75), None]);
        assert_eq!(counts.cumulative().collect::<Vec<_>>(), [0.25, 0.75]);
    }

    #[test]
    fn what_is_no_distribution_is_refused() {
        assert_eq!(Counts::new(vec![]), Err(ScoreError::Empty));
        assert_eq!(Counts::new(vec![0.5, 0.4]), Err(ScoreError::Sum { sum: 0.9 }));
        assert_eq!(Counts::new(vec![1.5, -0.5]), Err(ScoreError::Chance { chance: 1.5 }));
        assert!(matches!(Counts::new(vec![f64::NAN, 1.0]), Err(ScoreError::Chance { .. })));
        assert!(Counts::new(vec![1.0]).is_ok(), "a target of 0 is always reached");
    }
}
