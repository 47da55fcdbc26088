//! Cells: the text and the values they hold.

use std::borrow::Cow;

use nextrung_domain::date::CivilDate;
use nextrung_domain::problem::{Problem, did_you_mean};

use crate::record::RawCell;

/// A byte that is not UTF-8.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct BadByte {
    byte: u8,
    /// Offset in the file.
    at: usize,
}

impl BadByte {
    /// The problem it makes of the cell named `field`.
    pub(crate) fn problem(self, field: &str) -> Problem {
        let found = format!("0x{:02X} at byte {} of the file, which is not UTF-8", self.byte, self.at + 1);
        Problem::new(field, found, "text in UTF-8; save the sheet in that encoding")
    }
}

/// The text of a cell, quotes within it no longer doubled.
pub(crate) fn cell_text<'b>(cell: &RawCell<'b>) -> Result<Cow<'b, str>, BadByte> {
    match std::str::from_utf8(cell.bytes) {
        Ok(text) if cell.has_quotes => Ok(Cow::Owned(text.replace("\"\"", "\""))),
        Ok(text) => Ok(Cow::Borrowed(text)),
        Err(error) => {
            let offset = error.valid_up_to();
            let byte = cell.bytes.get(offset).copied().unwrap_or_default();
            Err(BadByte { byte, at: cell.start + offset })
        }
    }
}

/// A text as shown in messages: in back quotes and cut to 80 characters, or `nothing`.
pub(crate) fn shown(text: &str) -> String {
    if text.is_empty() {
        return "nothing".to_owned();
    }
    let cut: String = text.chars().take(80).collect();
    let rest = if cut.len() < text.len() { "..." } else { "" };
    format!("`{cut}{rest}`")
}

/// A whole number, or what was expected.
pub(crate) fn whole(text: &str) -> Result<i64, String> {
    text.parse().map_err(|_| "a whole number".to_owned())
}

/// A number of kilograms in plain digits with a decimal point, or what was expected.
pub(crate) fn kilograms(text: &str) -> Result<f64, String> {
    let is_plain = text.bytes().all(|b| b.is_ascii_digit() || b"+-.".contains(&b));
    match text.parse::<f64>() {
        Ok(kg) if is_plain && kg.is_finite() => Ok(kg),
        _ if text.contains(',') => {
            Err("kilograms with a decimal point, not a comma, such as 12.5".to_owned())
        }
        _ => Err("kilograms such as 12.5".to_owned()),
    }
}

/// A day, or what was expected.
pub(crate) fn day(text: &str) -> Result<CivilDate, String> {
    CivilDate::parse(text).map_err(|_| {
        "a day that exists, from 1900 to 2199, written year-month-day such as 2026-03-14".to_owned()
    })
}

/// One of a closed list of words, or what was expected.
pub(crate) fn word<T: Copy>(text: &str, all: &[T], word_of: fn(T) -> &'static str) -> Result<T, String> {
    all.iter().copied().find(|one| word_of(*one) == text).ok_or_else(|| {
        let words: Vec<&str> = all.iter().map(|one| word_of(*one)).collect();
        let guess = did_you_mean(&text.to_lowercase(), words.iter().copied());
        format!("one of {}{guess}", words.join(", "))
    })
}
