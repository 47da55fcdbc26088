//! Guard: texts that a spreadsheet would take for a formula, written so that it does not, and read back.
//!
//! A text that begins with one of the signs below gets an apostrophe before it, which spreadsheets know as the mark of a
//! text; so does one that begins with apostrophes and then such a sign, so that every text reads back as it was. Published
//! advice on injection into CSV names the ASCII signs (from memory), the wide ones are what East Asian keyboards make of them
//! (common practice, no source).

use std::borrow::Cow;

/// What a formula begins with, and what a spreadsheet drops before one.
const SIGNS: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];

const MARK: char = '\'';

/// True for a text that a spreadsheet would take for a formula.
pub fn is_like_a_formula(text: &str) -> bool {
    text.starts_with(SIGNS)
}

/// A text as it stands in a cell: with an apostrophe before it when a spreadsheet would take it for a formula.
pub fn guarded(text: &str) -> Cow<'_, str> {
    if is_like_a_formula(text.trim_start_matches(MARK)) {
        Cow::Owned(format!("{MARK}{text}"))
    } else {
        Cow::Borrowed(text)
    }
}

/// The text of a cell that [`guarded`] wrote.
pub fn unguarded(text: &str) -> &str {
    match text.strip_prefix(MARK) {
        Some(rest) if is_like_a_formula(rest.trim_start_matches(MARK)) => rest,
        _ => text,
    }
}

/// The same for a text that may be its cell's own.
pub(crate) fn unguarded_cow(text: Cow<'_, str>) -> Cow<'_, str> {
    match text {
        Cow::Borrowed(text) => Cow::Borrowed(unguarded(text)),
        Cow::Owned(text) if unguarded(&text).len() < text.len() => Cow::Owned(unguarded(&text).to_owned()),
        Cow::Owned(text) => Cow::Owned(text),
    }
}

/// A cell that may be a number: guarded unless it is one, or a mere dash, with which no spreadsheet does anything.
pub(crate) fn guarded_unless_number(text: &str) -> Cow<'_, str> {
    let rest = text.strip_prefix(['+', '-']).unwrap_or(text);
    let is_number = rest.len() < text.len() && rest.bytes().all(|b| b.is_ascii_digit() || b".,".contains(&b));
    if is_number { Cow::Borrowed(text) } else { guarded(text) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_marked_and_every_text_reads_back() {
        for (text, cell) in [
            ("=1+1", "'=1+1"),
            ("+5", "'+5"),
            ("-1", "'-1"),
            ("@wren", "'@wren"),
            ("\t=1", "'\t=1"),
            ("\r", "'\r"),
            ("\n=1", "'\n=1"),
            ("＝1", "'＝1"),
            ("'=1", "''=1"),
            ("''-", "'''-"),
            ("'tis", "'tis"),
            ("'", "'"),
            ("a=1", "a=1"),
            (" =1", " =1"),
            ("", ""),
        ] {
            assert_eq!(guarded(text), cell);
            assert_eq!(unguarded(cell), text);
            assert_eq!(unguarded_cow(Cow::Owned(cell.to_owned())), text);
        }
        assert_eq!(unguarded("=1"), "=1", "as nothing of ours writes it");
    }

    #[test]
    fn numbers_stay_numbers_where_a_cell_may_hold_one() {
        for number in ["-2.5", "+10", "-2,5", "-", "5", "-1.000,5"] {
            assert_eq!(guarded_unless_number(number), number);
        }
        for (text, cell) in [("-2+3", "'-2+3"), ("=5", "'=5"), ("--5", "'--5"), ("+10 kg", "'+10 kg")] {
            assert_eq!(guarded_unless_number(text), cell);
        }
    }
}
