//! Output: what is left of a replay, for tables, programs and readers.
//!
//! One row a prediction ([`row_file`]) as CSV ([`csv_file`]) and Parquet ([`parquet_file`]), both with the columns of
//! [`column`](mod@column); the figures as JSON ([`json`]); and one page that stands alone ([`report`]). The same replay gives the same
//! bytes: nothing here asks for the time, the machine or chance.

pub mod column;
pub mod csv_file;
mod error;
pub mod json;
pub mod parquet_file;
pub mod report;
pub mod row_file;

pub use error::OutputError;
