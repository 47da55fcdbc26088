//! Caps: what a file may ask for, each with its reason; beyond them it is refused before memory is spent on it.
//!
//! Together they keep the reading of any file under 256 MB (`tests/hostile.rs` measures it).

/// Bytes of a file: the cap of the strict sheet, about a million rows of CSV.
pub const MAX_FILE: usize = crate::set_reader::MAX_BYTES;

/// Filled rows of a sheet: a hundred athletes with 4,500 sets each, which is two years of training, and some more.
pub const MAX_FILLED_ROWS: usize = 500_000;

/// Columns that may hold something: no sheet of sets is wider, and a row of a million cells would be.
pub const MAX_COLUMNS: usize = 256;

/// The last row that a workbook has (2^20, the limit of the formats' own programs, from memory).
pub(crate) const LAST_ROW: u32 = 1_048_576;

/// Inflated bytes of one part of a workbook: the largest sheet that is read takes about half of it.
pub const MAX_PART: u64 = 256 * 1024 * 1024;

/// Bytes between two tags of a part, a tag's own included: the longest text of a cell, 32,767 letters, fits well.
pub(crate) const MAX_EVENT: u64 = 256 * 1024;

/// Bytes of a cell of CSV: as in workbooks.
pub(crate) const MAX_CELL_BYTES: usize = 256 * 1024;

/// Bytes of text in a row: thirty of the longest cells; no row of sets comes near it.
pub(crate) const MAX_ROW_BYTES: usize = 1024 * 1024;

/// Tags within tags: real sheets stay under 20, and each costs memory.
pub(crate) const MAX_DEPTH: usize = 64;

/// Texts that a workbook keeps once and points to.
pub const MAX_STRINGS: usize = 1_000_000;

/// Bytes of those texts.
pub const MAX_STRING_BYTES: usize = 32 * 1024 * 1024;

/// Cell formats of a workbook (the format's own limit is near this, from memory).
pub(crate) const MAX_FORMATS: usize = 100_000;

/// Sheets of a workbook.
pub(crate) const MAX_SHEETS: usize = 1000;

/// Merged ranges of a sheet.
pub(crate) const MAX_MERGES: usize = 100_000;

/// Files within a workbook's archive: a list of a million would take more memory than the file.
pub(crate) const MAX_ENTRIES: usize = 10_000;
