//! Scores: how good predicted outcomes of sets were, against what was done.
//!
//! Every score is a loss (smaller is better) and proper: nobody expects to do better than by saying what they believe.
//! [`distribution`] and [`ending`] hold what is predicted, of a count alone and of a count with its cause; [`log`] and
//! [`ranked`] score it. [`edge`] turns it into yes-or-no events at the edges of a band, which [`brier`] scores and takes
//! apart with the help of [`isotonic`]. [`rank`] and [`interval`] ask whether spreads are right, and [`difference`] how far
//! the mean difference of two forecasters may be off.
//!
//! Nothing here returns a number that is not one: wrong or empty input is a [`ScoreError`]. A log score is infinite when
//! what happened was given no chance at all.

use thiserror::Error;

pub mod brier;
pub mod difference;
pub mod distribution;
pub mod edge;
pub mod ending;
pub mod interval;
pub mod isotonic;
pub mod log;
pub mod rank;
pub mod ranked;

/// Why something cannot be scored.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum ScoreError {
    /// There is nothing to score.
    #[error("there is nothing to score")]
    Empty,
    /// A chance is not between 0 and 1.
    #[error("{chance} is no chance: it must lie between 0 and 1")]
    Chance {
        /// The value given.
        chance: f64,
    },
    /// Chances do not sum to one.
    #[error("the chances of all outcomes sum to {sum}, not to 1")]
    Sum {
        /// Their sum.
        sum: f64,
    },
    /// A weight is not above zero, or not finite.
    #[error("{weight} is no weight: it must be finite and above 0")]
    Weight {
        /// The value given.
        weight: f64,
    },
    /// A value is not finite.
    #[error("{value} is not a finite number")]
    Value {
        /// The value given.
        value: f64,
    },
    /// An outcome the prediction does not speak of.
    #[error("{units} units cannot end so in a set with a target of {target}")]
    Ending {
        /// Units done.
        units: usize,
        /// The target of the set predicted.
        target: usize,
    },
    /// A cause the prediction does not speak of.
    #[error("cause {cause} is not among the {causes} predicted")]
    Cause {
        /// Position of the cause.
        cause: usize,
        /// How many causes there are.
        causes: usize,
    },
    /// A level of confidence is not between 0 and 1.
    #[error("{level} is no level of confidence: it must lie between 0 and 1, both excluded")]
    Level {
        /// The value given.
        level: f64,
    },
    /// Too few athletes to say anything about other athletes.
    #[error("{athletes} athletes are too few: a difference over athletes needs two")]
    Athletes {
        /// How many there are.
        athletes: usize,
    },
}

/// The chance itself if it is one.
fn chance(chance: f64) -> Result<f64, ScoreError> {
    if (0.0..=1.0).contains(&chance) { Ok(chance) } else { Err(ScoreError::Chance { chance }) }
}

/// The weight itself if it is one.
fn weight(weight: f64) -> Result<f64, ScoreError> {
    if weight > 0.0 && weight.is_finite() { Ok(weight) } else { Err(ScoreError::Weight { weight }) }
}

/// The value itself if it is finite.
fn finite(value: f64) -> Result<f64, ScoreError> {
    if value.is_finite() { Ok(value) } else { Err(ScoreError::Value { value }) }
}
