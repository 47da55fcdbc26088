//! Difference: by how much one forecaster's mean score differs from another's on the same sets.
//!
//! The sets of one athlete are alike, so that the interval comes from drawing athletes anew, each with all of their sets
//! ([`crate::simulate::bootstrap`]): a mean over sets, an interval over athletes.

use std::collections::BTreeMap;

use crate::dice::Dice;
use crate::score::{ScoreError, finite, weight};
use crate::simulate::bootstrap::{Estimate, Part, weighted_mean_interval};

/// Differences of two forecasters' scores, summed by athlete: memory grows with athletes, not with sets.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Differences<Athlete> {
    by_athlete: BTreeMap<Athlete, Part>,
}

impl<Athlete: Ord> Differences<Athlete> {
    /// None yet.
    pub fn new() -> Self {
        Self { by_athlete: BTreeMap::new() }
    }

    /// Takes in the two scores of one set: `ours` less `theirs`, of a weight above 0.
    ///
    /// # Errors
    ///
    /// [`ScoreError::Value`] when a score is not finite: a difference of infinite scores means nothing. [`ScoreError::Weight`]
    /// when the weight is none.
    pub fn add(
        &mut self,
        athlete: Athlete,
        [ours, theirs]: [f64; 2],
        of_weight: f64,
    ) -> Result<(), ScoreError> {
        let (gap, of_weight) = (finite(ours)? - finite(theirs)?, weight(of_weight)?);
        let part = self.by_athlete.entry(athlete).or_default();
        part.sum += of_weight * gap;
        part.weight += of_weight;
        Ok(())
    }

    /// The weighted mean difference over all sets with its 99 % interval; below zero when ours is the better.
    ///
    /// # Errors
    ///
    /// [`ScoreError::Empty`] without sets, [`ScoreError::Athletes`] with those of one athlete only, [`ScoreError::Value`] when
    /// scores or weights are so large that their sums overflow.
    pub fn mean(&self, dice: &mut Dice) -> Result<Estimate, ScoreError> {
        let parts: Vec<Part> = self.by_athlete.values().copied().collect();
        if parts.len() == 1 {
            return Err(ScoreError::Athletes { athletes: 1 });
        }
        let found = weighted_mean_interval(&parts, dice).ok_or(ScoreError::Empty)?;
        [found.mean, found.low, found.high].into_iter().try_for_each(|value| finite(value).map(drop))?;
        Ok(found)
    }
}
