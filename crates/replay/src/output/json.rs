//! Json: the figures of a replay as text for programs, with everything they were made from.
//!
//! Keys stand in the order of [`Summary`] and of its parts, names in maps in their own order; numbers have as many digits as
//! it takes to read the same number back.

use crate::evaluate::summary::Summary;
use crate::output::OutputError;

/// The figures as JSON, indented, with a line end at the end.
///
/// # Errors
///
/// [`OutputError::NotFinite`] when a figure is no number or infinite: JSON would hold nothing in its place.
pub fn write(summary: &Summary) -> Result<String, OutputError> {
    let mut text = serde_json::to_string_pretty(summary)?;
    text.push('\n');
    match read(&text) {
        Ok(back) if back == *summary => Ok(text),
        Ok(_) | Err(_) => Err(OutputError::NotFinite),
    }
}

/// Reads figures back.
///
/// # Errors
///
/// [`OutputError::Json`] with line and column where it is something else.
pub fn read(text: &str) -> Result<Summary, OutputError> {
    Ok(serde_json::from_str(text)?)
}
