//! Row file: takes the predictions of a replay as they come, and never holds more than a few of them.

use crate::evaluate::row::Row;
use crate::output::OutputError;
use crate::output::column::Prediction;

/// A table of predictions being written.
pub trait RowFile {
    /// Takes some rows, in the order in which they are to stand.
    ///
    /// # Errors
    ///
    /// [`OutputError`] when they cannot be written, or a forecaster has no name.
    fn rows(&mut self, rows: &[Row]) -> Result<(), OutputError>;

    /// Writes what is still held and the end of the file.
    ///
    /// # Errors
    ///
    /// [`OutputError`] when that cannot be written; the file is then not to be used.
    fn finish(self: Box<Self>) -> Result<(), OutputError>;
}

/// Rows with the names of their forecasters.
pub(crate) fn named<'r>(
    rows: &'r [Row],
    forecasters: &'r [String],
) -> impl Iterator<Item = Result<Prediction<'r>, OutputError>> {
    rows.iter().map(|row| {
        let forecaster = forecasters
            .get(row.forecaster)
            .ok_or(OutputError::Unnamed { forecaster: row.forecaster, named: forecasters.len() })?;
        Ok(Prediction { row, forecaster })
    })
}
