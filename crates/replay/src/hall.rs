//! The hall: an invented strength group of a climbing hall, with half a year of logs.
//!
//! Nobody here exists. The truth behind the logs is of another family than the capacity model on purpose: strength stands
//! on plateaus and moves in jumps ([`growth`]), form comes in spells that all abilities share ([`mood`]), endurance and
//! balance have Weibull and log-normal ends, each rung is a skill that is learned ([`body`]), people choose their rungs
//! by rule of thumb and temper ([`choice`]), and they log what they please ([`diary`]).

pub mod body;
pub mod calendar;
pub mod cast;
pub mod choice;
pub mod diary;
pub mod growth;
pub mod mood;
pub mod paths;
pub mod profile_file;
pub mod row;
pub mod training;

use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;

use crate::dice::Dice;
use crate::hall::cast::CAST;
use crate::hall::row::Row;

/// The seed of the roster kept in `data/demo`.
pub const SEED: u64 = 20_261_122;
/// Days of the story: 26 weeks.
pub const DAYS: i32 = 182;

/// Why the roster could not be made.
#[derive(Debug, thiserror::Error)]
pub enum HallError {
    /// The ladders lack something the story needs.
    #[error("the story needs {what}, which the ladders do not have")]
    Missing {
        /// What.
        what: String,
    },
    /// The first day is no date.
    #[error("the first day of the story is no date")]
    BadDay {
        /// Why.
        #[from]
        source: nextrung_domain::date::BadDate,
    },
    /// Rows could not be written as CSV.
    #[error("rows could not be written")]
    Unwritable {
        /// Why.
        #[from]
        source: csv::Error,
    },
    /// The text of a file is no UTF-8 or could not be flushed.
    #[error("the CSV text could not be finished: {why}")]
    Unfinished {
        /// Why.
        why: String,
    },
}

/// The first day of the story, a Monday; the last is 2026-11-22, a Sunday.
pub fn first_day() -> Result<CivilDate, HallError> {
    Ok(CivilDate::from_parts(2026, 5, 25)?)
}

/// Every row of every athlete's log, by athlete in the order of the cast, then in training order.
pub fn logs(catalog: &Catalog, seed: u64) -> Result<Vec<Row>, HallError> {
    let first = first_day()?;
    let mut rows = Vec::new();
    for (stream, person) in (0..).zip(&CAST) {
        rows.extend(training::log(catalog, person, first, Dice::new(seed, stream))?);
    }
    Ok(rows)
}
