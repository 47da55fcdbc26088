//! Delivery: a set handed out, and why sets are not.

use std::io;

use nextrung_domain::draft::SetDraft;

use super::spot::Spot;
use crate::grid::Refusal;

/// A set handed out.
#[derive(Debug)]
pub struct Delivered<'d> {
    /// Where it stands in the sheet.
    pub spot: Spot,
    /// The athlete, as the mapping calls them.
    pub athlete: &'d str,
    /// The set.
    pub draft: SetDraft,
}

/// Why sets were not handed out, or not all of them.
#[derive(Debug, thiserror::Error)]
pub enum DeliveryError {
    /// The sheet or the mapping is not taken at all.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// Rows are bad, and nothing says that they may be set aside; nothing was handed out.
    #[error("rows with problems: {bad_rows}; mend them, or set them aside")]
    BadRows {
        /// How many.
        bad_rows: usize,
    },
    /// The rows set aside could not be written.
    #[error("the rows set aside could not be written")]
    Unwritable {
        /// Why.
        #[source]
        source: io::Error,
    },
}
