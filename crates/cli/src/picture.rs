//! Pictures: answers of the service as SVG, each with its data table beside it.

use std::path::PathBuf;

use clap::Args;

use nextrung_api::v1;
use nextrung_chart::day::Day;
use nextrung_chart::{Ends, PictureError};

use crate::calendar::from_wire;
use crate::failure::Failure;

pub(crate) mod candidates;
pub(crate) mod forecast;
pub(crate) mod limiters;
pub(crate) mod trend;
pub(crate) mod week;

/// Where a picture is written.
#[derive(Debug, Args)]
pub(crate) struct SvgFlag {
    /// Draw the answer as well, to this SVG file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

impl SvgFlag {
    /// Writes what `draw` makes, when a file was asked for.
    pub(crate) fn write(&self, draw: impl FnOnce() -> Result<String, Failure>) -> Result<(), Failure> {
        let Some(path) = &self.svg else { return Ok(()) };
        std::fs::write(path, draw()?).map_err(|error| {
            Failure::usage(format!("{} cannot be written: {error}", path.display()), "Choose another file.")
        })
    }
}

/// A day of an answer as pictures place it.
fn day(date: Option<&v1::Date>) -> Result<Day, Failure> {
    let found = date.and_then(from_wire);
    let found = found.ok_or_else(|| Failure::internal(&"the answer has a day that is none"))?;
    Ok(Day { count: found.day_number() })
}

/// An interval as its ends; both the value when there is none.
fn ends(interval: Option<&v1::Interval>, value: f64) -> Ends {
    interval.map_or((value, value), |interval| (interval.low, interval.high))
}

/// A count, which is never below nothing.
fn count(number: i32) -> u32 {
    u32::try_from(number).unwrap_or(0)
}

/// What is counted on a rung, as a word.
fn unit(number: i32) -> &'static str {
    match v1::Unit::try_from(number) {
        Ok(v1::Unit::Reps) => "reps",
        Ok(v1::Unit::HoldSeconds) => "seconds of holding",
        Ok(v1::Unit::LoweringSeconds) => "seconds of lowering",
        Ok(v1::Unit::Unspecified) | Err(_) => "units",
    }
}

/// A picture that could not be drawn.
fn undrawn(error: PictureError) -> Failure {
    Failure::internal(&error)
}
