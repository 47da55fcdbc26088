//! Pictures: answers of the service as SVG, each with its data table beside it.

use std::path::PathBuf;

use clap::Args;

use crate::failure::Failure;

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
