//! Errors of writing what is left of a replay.

use nextrung_chart::PictureError;

/// Why an output could not be written, or read back.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// The rows could not be written as CSV.
    #[error("the table of predictions could not be written as CSV: {source}")]
    Csv {
        /// Why.
        #[from]
        source: csv::Error,
    },
    /// The rows could not be written as Parquet.
    #[error("the table of predictions could not be written as Parquet: {source}")]
    Parquet {
        /// Why.
        #[from]
        source: parquet::errors::ParquetError,
    },
    /// What was written could not be brought to its end.
    #[error("the file could not be brought to its end: {source}")]
    Unfinished {
        /// Why.
        #[from]
        source: std::io::Error,
    },
    /// A row speaks of a forecaster that has no name.
    #[error("a row is of forecaster number {forecaster}, and there are {named}")]
    Unnamed {
        /// Its place, from 0.
        forecaster: usize,
        /// How many have names.
        named: usize,
    },
    /// Figures are no JSON, or the JSON is none of figures.
    #[error("the figures and their JSON do not go together: {source}")]
    Json {
        /// Why.
        #[from]
        source: serde_json::Error,
    },
    /// JSON cannot hold some figure.
    #[error("a figure is no finite number, and JSON holds no other")]
    NotFinite,
    /// A picture could not be drawn.
    #[error("a picture of the report could not be drawn: {source}")]
    Picture {
        /// Why.
        #[from]
        source: PictureError,
    },
}
