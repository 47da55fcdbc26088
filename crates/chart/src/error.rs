//! Errors of drawing.

/// Why there is no picture.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PictureError {
    /// A figure is no number, or infinite.
    #[error("{what} is not a finite number")]
    NotFinite {
        /// Which figure.
        what: &'static str,
    },
    /// The plotting library gave up.
    #[error("the plot could not be drawn: {message}")]
    Plot {
        /// What it said.
        message: String,
    },
}

/// Refuses figures that have no place on an axis.
pub(crate) fn finite(what: &'static str, figures: impl IntoIterator<Item = f64>) -> Result<(), PictureError> {
    if figures.into_iter().all(f64::is_finite) { Ok(()) } else { Err(PictureError::NotFinite { what }) }
}
