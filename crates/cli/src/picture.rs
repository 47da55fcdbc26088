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

impl From<PictureError> for Failure {
    fn from(error: PictureError) -> Self {
        Self::internal(&error)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_that_is_none_is_no_picture() {
        let leap = v1::Date { year: 2026, month: 2, day: 29 };
        assert!(day(Some(&leap)).is_err() && day(None).is_err());
        let first = v1::Date { year: 1970, month: 1, day: 2 };
        assert_eq!(day(Some(&first)).unwrap(), Day { count: 1 });
    }

    #[test]
    fn a_picture_is_written_only_when_asked_for() {
        let untouched = || -> Result<String, Failure> { panic!("nothing was asked for") };
        SvgFlag { svg: None }.write(untouched).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.svg");
        SvgFlag { svg: Some(path.clone()) }.write(|| Ok("<svg/>".to_owned())).unwrap();
        assert_eq!(std::fs::read_to_string(path).unwrap(), "<svg/>");
        let nowhere = SvgFlag { svg: Some(folder.path().join("no/such/x.svg")) };
        assert_eq!(nowhere.write(|| Ok(String::new())).unwrap_err().exit_code(), 2);
    }
}
