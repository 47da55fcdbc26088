//! Intake file: what is known of athletes before their first set, in CSV.
//!
//! The first column is `athlete`; every other one is a measure in a unit of its own, such as `months_of_training`. An empty
//! cell means not known.

use std::collections::BTreeMap;
use std::path::Path;

/// Measures by athlete and by name.
pub type Intakes = BTreeMap<String, BTreeMap<String, f64>>;

/// Why intake cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum IntakeFileError {
    /// The file is no CSV or cannot be read.
    #[error("the intake file cannot be read: {source}")]
    Unreadable {
        /// Why.
        #[from]
        source: csv::Error,
    },
    /// The first column is another one.
    #[error("intake file, header: found `{found}`; expected `athlete` in the first column")]
    NoAthlete {
        /// What stands there.
        found: String,
    },
    /// A cell is no number.
    #[error(
        "intake file, row {row}, {column}: found `{found}`; expected a number with a decimal point, or nothing"
    )]
    NoNumber {
        /// The row, the header being row 1.
        row: usize,
        /// The column.
        column: String,
        /// What stands there.
        found: String,
    },
    /// An athlete stands there twice.
    #[error("intake file, row {row}: found `{athlete}` again; expected a row for each athlete")]
    Twice {
        /// The row.
        row: usize,
        /// The athlete.
        athlete: String,
    },
}

/// Reads the file.
///
/// # Errors
///
/// [`IntakeFileError`]: the first thing that is wrong.
pub fn read(path: &Path) -> Result<Intakes, IntakeFileError> {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_path(path)?;
    let header: Vec<String> = reader.headers()?.iter().map(ToOwned::to_owned).collect();
    if header.first().map(String::as_str) != Some("athlete") {
        return Err(IntakeFileError::NoAthlete { found: header.into_iter().next().unwrap_or_default() });
    }
    let mut intakes = Intakes::new();
    for (row, record) in (2..).zip(reader.records()) {
        let record = record?;
        let athlete = record.get(0).unwrap_or_default().to_owned();
        let mut measures = BTreeMap::new();
        for (column, cell) in header.iter().zip(&record).skip(1).filter(|(_, cell)| !cell.is_empty()) {
            let value: Option<f64> = cell.parse().ok().filter(|value: &f64| value.is_finite());
            let bad = || IntakeFileError::NoNumber { row, column: column.clone(), found: cell.to_owned() };
            measures.insert(column.clone(), value.ok_or_else(bad)?);
        }
        if intakes.insert(athlete.clone(), measures).is_some() {
            return Err(IntakeFileError::Twice { row, athlete });
        }
    }
    Ok(intakes)
}
