//! Spot: where the sets of a sheet stand in it.

use crate::grid::cap::MAX_COLUMNS;

/// Where sets stand: a row, and a column of it where days stand across. Given back with what somebody else finds wrong with them.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Spot {
    row: u32,
    /// Counted from 1; 0 for the whole row.
    column: u16,
}

// A column always fits.
const _: () = assert!(MAX_COLUMNS < 65_536);

impl Spot {
    /// A whole row, as a spreadsheet counts them.
    pub fn of_row(row: u32) -> Self {
        Self { row, column: 0 }
    }

    /// A cell, its column counted from 0.
    pub(super) fn of_cell(row: u32, column: usize) -> Self {
        Self { row, column: u16::try_from(column + 1).unwrap_or(u16::MAX) }
    }

    /// The row.
    pub fn row(self) -> u32 {
        self.row
    }
}
