//! Place: where something stands, and what is refused there.

use std::fmt;

/// A place in a file, as exact as it is known.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// The file, as the caller calls it.
    pub file: String,
    /// The sheet of a workbook.
    pub sheet: Option<String>,
    /// A cell such as `D4`, or a row such as `row 4`.
    pub cell: Option<String>,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(sheet) = &self.sheet {
            write!(f, ", sheet `{sheet}`")?;
        }
        self.cell.iter().try_for_each(|cell| write!(f, ", {cell}"))
    }
}

/// What a refusal comes of, where whoever asked may have a remedy of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Cause {
    /// The bytes of a CSV file are not Unicode.
    NotUnicode,
    /// A workbook has several visible sheets, and none is named.
    SheetOpen,
    /// No row of headers was found.
    NoHeader,
    /// Anything else, which is mended in the file or the mapping.
    #[default]
    Other,
}

/// Why a file, a sheet or a mapping is not taken at all.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{place}: found {found}; expected {expected}")]
pub struct Refusal {
    /// Where.
    pub place: Box<Place>,
    /// What was found.
    pub found: String,
    /// What was expected, and how to mend it.
    pub expected: String,
    /// What it comes of.
    pub cause: Cause,
}

/// What is wrong, before it is known in which file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Fault {
    pub(crate) cell: Option<String>,
    pub(crate) found: String,
    pub(crate) expected: String,
    pub(crate) cause: Cause,
}

impl Fault {
    pub(crate) fn new(found: impl Into<String>, expected: impl Into<String>) -> Self {
        Self { cell: None, found: found.into(), expected: expected.into(), cause: Cause::Other }
    }

    pub(crate) fn because(mut self, cause: Cause) -> Self {
        self.cause = cause;
        self
    }

    pub(crate) fn at(mut self, cell: String) -> Self {
        self.cell = Some(cell);
        self
    }

    pub(crate) fn refuse(self, file: &str, sheet: Option<&str>) -> Refusal {
        let place = Place { file: file.to_owned(), sheet: sheet.map(str::to_owned), cell: self.cell };
        Refusal { place: Box::new(place), found: self.found, expected: self.expected, cause: self.cause }
    }
}

/// The letters of a column counted from 0: `A`, `Z`, `AA`, `XFD`.
pub fn letters(column: usize) -> String {
    let mut left = column + 1;
    let mut signs = Vec::new();
    while left > 0 {
        let sign = u8::try_from((left - 1) % 26).unwrap_or(0);
        signs.push(char::from(b'A' + sign));
        left = (left - 1) / 26;
    }
    signs.iter().rev().collect()
}

/// The column of some letters, counted from 0; nothing when they are none, or more than three.
pub fn column_of(letters: &str) -> Option<usize> {
    let fits = (1..=3).contains(&letters.len()) && letters.bytes().all(|b| b.is_ascii_alphabetic());
    fits.then(|| letters.bytes().fold(0, |n, b| n * 26 + usize::from(b.to_ascii_uppercase() - b'A') + 1) - 1)
}

/// The name of a cell: `D4`, column from 0, row from 1.
pub fn cell_name(column: usize, row: u32) -> String {
    format!("{}{row}", letters(column))
}

/// Column from 0 and row from 1 of a name such as `D4`.
pub(crate) fn cell_of(name: &str) -> Option<(usize, u32)> {
    let split = name.bytes().position(|b| b.is_ascii_digit())?;
    let (letters, digits) = name.split_at(split);
    let row = digits.parse().ok().filter(|row| *row > 0)?;
    Some((column_of(letters)?, row))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_have_letters_and_back() {
        for (column, name) in [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA"), (16_383, "XFD")] {
            assert_eq!(letters(column), name);
            assert_eq!(column_of(name), Some(column));
        }
        assert_eq!(cell_of("XFD1048576"), Some((16_383, 1_048_576)));
        for bad in ["", "4", "D", "D0", "D4x", "ABCD1", "É1", "A99999999999"] {
            assert_eq!(cell_of(bad), None, "{bad}");
        }
    }
}
