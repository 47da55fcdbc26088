//! Hazard: the chance to fail on each unit of a set, by logistic regression on what is known before it.
//!
//! A baseline to be beaten, kept honest and strong. A set of which `k` units were clean and the next failed gives a row for
//! each unit passed and one for the unit failed; a set that ended otherwise gives the rows passed and says no more
//! (discrete-time survival, common practice). One model for failing at all; which cause it was is not its matter.
//!
//! [`athlete`] keeps what is known of an athlete before a set and makes [`features`] of it, [`grid`] cuts units into pieces so
//! that a long hold does not give a thousand rows, [`sample`] keeps a bounded sample of sets whatever came in, [`logit`] is the
//! regression itself (`linfa-logistic`), [`orthogonal`] makes its search short, and [`model`] is what it says of a set to come.
//!
//! A fit knows what the sample it was given knows. To forecast from past data alone, keep one sample for each block of days
//! by the day on which sets arrived, merge those of the blocks that are over, and fit anew.

use nextrung_capacity::task::Task;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::Purpose;
use thiserror::Error;

pub mod athlete;
pub mod features;
pub mod grid;
pub mod logit;
pub mod model;
pub mod orthogonal;
pub mod sample;

/// What a forecaster may know of a set before it is done.
#[derive(Debug, Clone, Copy)]
pub struct Ask<'a> {
    /// The rung with its shadings and load.
    pub task: &'a Task,
    /// What is counted.
    pub unit: Unit,
    /// What the set is for.
    pub purpose: Purpose,
    /// Units wanted, when a target was set before.
    pub target: Option<u16>,
    /// Day of training, from any fixed day.
    pub day: i32,
    /// Session of that day.
    pub session: u8,
    /// Rest before the set, seconds, when known.
    pub rest_seconds: Option<u16>,
}

/// Why there is no hazard model.
#[derive(Debug, Error)]
pub enum HazardError {
    /// Nothing to learn from.
    #[error("there are no rows to fit")]
    NoRows,
    /// Only failures, or none: no finite intercept fits that.
    #[error("{failures} of {rows} rows are failures: a fit needs both failures and passes")]
    OneSided {
        /// Rows that failed.
        failures: usize,
        /// All rows.
        rows: usize,
    },
    /// A feature that is no finite number, or too large to be squared.
    #[error("column {column} holds a value that is not finite or too large")]
    NotFinite {
        /// Its position.
        column: usize,
    },
    /// Values that do not fill a table of so many rows.
    #[error("{values} values do not fill {rows} rows evenly")]
    Shape {
        /// Values given.
        values: usize,
        /// Rows given.
        rows: usize,
    },
    /// A ridge outside the range in which the search is known to work.
    #[error("the ridge must lie between {least} and {most}, got {ridge}", least = logit::RIDGE.0, most = logit::RIDGE.1)]
    Ridge {
        /// The value given.
        ridge: f64,
    },
    /// The search gave up.
    #[error("the regression could not be fitted")]
    Search {
        /// Why.
        #[source]
        source: linfa_logistic::error::Error,
    },
    /// The search ended away from the minimum.
    #[error("the search ended {off} standard errors from the minimum, more than {most}", most = logit::MOST_OFF)]
    NotConverged {
        /// How far, in standard errors over all coefficients.
        off: f64,
    },
}
