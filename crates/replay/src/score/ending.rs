//! Ending: what is predicted of a set with its cause, and how the set ended.

use crate::score::ScoreError;
use crate::score::distribution::{Counts, total_is_one};

/// How a set ended, as far as it tells what the athlete could do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// The unit after `units` failed for the cause at this position.
    Failed {
        /// Units done.
        units: usize,
        /// Position of the cause.
        cause: usize,
    },
    /// The unit after `units` failed; the cause was not said.
    FailedSomehow {
        /// Units done.
        units: usize,
    },
    /// `units` were done and no failure was seen: the target was reached, or the set was ended before it.
    Reached {
        /// Units done.
        units: usize,
    },
}

/// Chances of how a set with a target ends: by failure after 0, 1, ... units for one of several causes, or at the target.
#[derive(Debug, Clone, PartialEq)]
pub struct Endings<const CAUSES: usize> {
    failed: Vec<[f64; CAUSES]>,
    reached: f64,
}

impl<const CAUSES: usize> Endings<CAUSES> {
    /// A prediction: `failed` by units done (as many rows as the target has units) and cause, and `reached` for the target.
    ///
    /// # Errors
    ///
    /// [`ScoreError::Chance`] when one is no chance, [`ScoreError::Sum`] when they do not sum to one within 1e-9.
    pub fn new(failed: Vec<[f64; CAUSES]>, reached: f64) -> Result<Self, ScoreError> {
        total_is_one(failed.iter().flatten().copied().chain([reached]))?;
        Ok(Self { failed, reached })
    }

    /// The chances of failure and of the target, as they went in.
    pub fn into_parts(self) -> (Vec<[f64; CAUSES]>, f64) {
        (self.failed, self.reached)
    }

    /// The target of the set.
    pub fn target(&self) -> usize {
        self.failed.len()
    }

    /// Chance of an ending.
    ///
    /// # Errors
    ///
    /// [`ScoreError::Ending`] for a failure at the target or above it and for more units than the target,
    /// [`ScoreError::Cause`] for a cause that is not among those predicted.
    pub fn of(&self, ending: Ending) -> Result<f64, ScoreError> {
        match ending {
            Ending::Failed { units, cause } => {
                let by_cause = self.failed_after(units)?;
                by_cause.get(cause).copied().ok_or(ScoreError::Cause { cause, causes: CAUSES })
            }
            Ending::FailedSomehow { units } => Ok(self.failed_after(units)?.iter().sum::<f64>().min(1.0)),
            Ending::Reached { units } => {
                let later = self.failed.get(units..).ok_or(self.strange(units))?;
                Ok((later.iter().flatten().sum::<f64>() + self.reached).min(1.0))
            }
        }
    }

    /// Chances to fail before the target, by cause.
    pub fn failed_by_cause(&self) -> [f64; CAUSES] {
        let mut sums = [0.0; CAUSES];
        for by_cause in &self.failed {
            sums.iter_mut().zip(by_cause).for_each(|(sum, chance)| *sum += chance);
        }
        sums
    }

    /// The distribution of the count alone, whose top is the target.
    pub fn counts(&self) -> Counts {
        let failed = self.failed.iter().map(|by_cause| by_cause.iter().sum::<f64>().min(1.0));
        Counts { chances: failed.chain([self.reached]).collect() }
    }

    fn failed_after(&self, units: usize) -> Result<&[f64; CAUSES], ScoreError> {
        self.failed.get(units).ok_or(self.strange(units))
    }

    fn strange(&self, units: usize) -> ScoreError {
        ScoreError::Ending { units, target: self.target() }
    }
}
