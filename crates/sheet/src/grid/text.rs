//! Text: CSV of any usual encoding and separator.

use std::borrow::Cow;
use std::ops::ControlFlow;

use crate::grid::cap::{MAX_CELL_BYTES, MAX_COLUMNS, MAX_FILE, MAX_FILLED_ROWS, MAX_ROW_BYTES};
use crate::grid::place::{Cause, Fault};
use crate::grid::value::Value;
use crate::grid::{Encoding, GridRow, OnRow, QuoteFault};
use crate::guard::{unguarded, unguarded_cow};
use crate::record::Scanner;

/// Separators that are looked for; the first wins a tie, since commas stand within numbers and notes.
const SEPARATORS: [u8; 3] = *b";\t,";

/// What the bytes 0x80 to 0x9F mean in Windows-1252 (published source: encoding.spec.whatwg.org, index windows-1252, from
/// memory); the rest of the table is that of Unicode.
const WINDOWS_1252: [char; 32] = [
    '\u{20AC}', '\u{81}', '\u{201A}', '\u{192}', '\u{201E}', '\u{2026}', '\u{2020}', '\u{2021}', '\u{2C6}',
    '\u{2030}', '\u{160}', '\u{2039}', '\u{152}', '\u{8D}', '\u{17D}', '\u{8F}', '\u{90}', '\u{2018}',
    '\u{2019}', '\u{201C}', '\u{201D}', '\u{2022}', '\u{2013}', '\u{2014}', '\u{2DC}', '\u{2122}', '\u{161}',
    '\u{203A}', '\u{153}', '\u{9D}', '\u{17E}', '\u{178}',
];

/// A CSV file as text.
#[derive(Debug)]
pub(crate) struct TextSheet<'b> {
    text: Cow<'b, str>,
    separator: u8,
    /// Where the rows begin.
    from: usize,
    /// Rows before the text, which only name the separator.
    skipped: u32,
}

impl<'b> TextSheet<'b> {
    /// Finds out encoding and separator. Fails on bytes that are no text.
    pub(crate) fn open(bytes: &'b [u8], encoding: Encoding) -> Result<Self, Fault> {
        let text = decode(bytes, encoding)?;
        if text.contains('\0') {
            return Err(Fault::new("bytes that are no text", "a CSV file, or a workbook in xlsx or ods"));
        }
        if is_markup(&text) {
            let found = "a web page or other XML, whatever the file is called";
            let expected =
                "a CSV file, or a workbook in xlsx or ods; open it in a spreadsheet program and save it so";
            return Err(Fault::new(found, expected));
        }
        // Some spreadsheets name the separator in a first line of its own.
        let first_line = text.lines().next().unwrap_or_default();
        if let Some(named) = first_line.trim_end().strip_prefix("sep=").filter(|s| s.len() == 1) {
            let separator = named.as_bytes()[0];
            let rest = first_line.len() + if text[first_line.len()..].starts_with("\r\n") { 2 } else { 1 };
            let from = rest.min(text.len());
            return Ok(Self { text, separator, from, skipped: 1 });
        }
        let separator = separator_of(&text);
        Ok(Self { text, separator, from: 0, skipped: 0 })
    }

    /// The separator.
    pub(crate) fn separator(&self) -> char {
        char::from(self.separator)
    }

    /// Walks over the rows that are not blank, faulty ones included.
    pub(crate) fn walk(&self, on_row: OnRow<'_>) -> Result<(), Fault> {
        let text = self.text.get(self.from..).unwrap_or_default();
        let mut scanner = Scanner::resume(text.as_bytes(), (0, self.separator));
        let mut raw = Vec::new();
        let mut filled = 0;
        let mut start = 0;
        let mut cells: Vec<Value<'_>> = Vec::new();
        while let Some((row, read)) = scanner.next_row(&mut raw) {
            let line = text.get(start..scanner.offset()).unwrap_or_default();
            start = scanner.offset();
            let number = u32::try_from(row).unwrap_or(u32::MAX).saturating_add(self.skipped);
            cells.clear();
            for cell in &raw {
                if cell.bytes.len() > MAX_CELL_BYTES {
                    let found = format!("a cell of {} bytes", cell.bytes.len());
                    let expected = "cells of at most 32767 letters; is a quote opened and closed much later?";
                    return Err(Fault::new(found, expected).at(format!("row {number}")));
                }
                let text = text.get(cell.start..cell.start + cell.bytes.len()).unwrap_or_default();
                let value = match text {
                    "" => Value::Empty,
                    _ if cell.has_quotes => {
                        Value::Text(unguarded_cow(Cow::Owned(text.replace("\"\"", "\""))))
                    }
                    _ => Value::Text(Cow::Borrowed(unguarded(text))),
                };
                cells.push(value);
            }
            let fault = read.err().map(|fault| {
                let raw = line.trim_end_matches(['\r', '\n']);
                QuoteFault { found: fault.found(), expected: fault.expected(), raw }
            });
            if fault.is_none() && cells.iter().all(Value::is_blank) {
                continue;
            }
            filled += 1;
            check_size(number, &cells, filled)?;
            let row = GridRow { number, cells: &cells, carried: &[], is_hidden: false, fault };
            if on_row(&row) == ControlFlow::Break(()) {
                break;
            }
        }
        Ok(())
    }
}

/// True for what some exports give the name of a sheet: a page with a table in it, or a sheet of XML alone.
fn is_markup(text: &str) -> bool {
    let start: String = text.trim_start().chars().take(9).collect::<String>().to_lowercase();
    ["<html", "<table", "<!doctype", "<?xml", "<head", "<meta"].iter().any(|tag| start.starts_with(tag))
}

/// Refuses a row too many, too wide or too long.
pub(crate) fn check_size(row: u32, cells: &[Value<'_>], filled: usize) -> Result<(), Fault> {
    let bytes: usize =
        cells.iter().map(|cell| if let Value::Text(text) = cell { text.len() } else { 0 }).sum();
    if bytes > MAX_ROW_BYTES {
        let expected = format!("rows of at most {MAX_ROW_BYTES} bytes; is it a sheet of sets?");
        return Err(Fault::new(format!("{bytes} bytes of text in a row"), expected).at(format!("row {row}")));
    }
    if filled > MAX_FILLED_ROWS {
        let expected = format!("at most {MAX_FILLED_ROWS} rows; split the sheet");
        return Err(Fault::new("one filled row more", expected).at(format!("row {row}")));
    }
    let last = cells.iter().rposition(|value| !value.is_blank());
    match last.filter(|last| *last >= MAX_COLUMNS) {
        Some(last) => Err(too_wide(last, row)),
        None => Ok(()),
    }
}

pub(crate) fn too_wide(column: usize, row: u32) -> Fault {
    let expected =
        format!("cells in the first {MAX_COLUMNS} columns; empty what lies to the right of the sheet");
    Fault::new("a filled cell", expected).at(crate::grid::place::cell_name(column, row))
}

fn decode(bytes: &[u8], encoding: Encoding) -> Result<Cow<'_, str>, Fault> {
    let plain = |bytes| utf8(bytes).map(Cow::Borrowed);
    match bytes {
        [0xEF, 0xBB, 0xBF, rest @ ..] => plain(rest),
        [0xFF, 0xFE, rest @ ..] => utf16(rest, u16::from_le_bytes).map(Cow::Owned),
        [0xFE, 0xFF, rest @ ..] => utf16(rest, u16::from_be_bytes).map(Cow::Owned),
        // Without a mark: the first letter of a header is nearly always a Latin one.
        [a, 0, b, 0, ..] if *a > 0 && *b > 0 => utf16(bytes, u16::from_le_bytes).map(Cow::Owned),
        [0, a, 0, b, ..] if *a > 0 && *b > 0 => utf16(bytes, u16::from_be_bytes).map(Cow::Owned),
        _ if encoding == Encoding::Windows1252 => windows_1252(bytes),
        _ => plain(bytes),
    }
}

fn utf8(bytes: &[u8]) -> Result<&str, Fault> {
    std::str::from_utf8(bytes).map_err(|error| {
        let at = error.valid_up_to();
        let byte = bytes.get(at).copied().unwrap_or_default();
        let row = 1 + bytes.iter().take(at).filter(|b| **b == b'\n').count();
        let found = format!("the byte 0x{byte:02X}, which is not UTF-8");
        let expected = "text in UTF-8 or UTF-16; save it so, or if an older spreadsheet wrote it, say \
                        encoding = \"windows-1252\" in the mapping and look at the letters with accents";
        Fault::new(found, expected).at(format!("line {row}")).because(Cause::NotUnicode)
    })
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<String, Fault> {
    let broken = || Fault::new("text in UTF-16 with a broken letter", "whole text; save the file anew");
    let (pairs, odd) = bytes.as_chunks::<2>();
    if !odd.is_empty() {
        return Err(broken());
    }
    let mut text = String::with_capacity(bytes.len());
    for letter in char::decode_utf16(pairs.iter().map(|pair| unit(*pair))) {
        text.push(letter.map_err(|_| broken())?);
    }
    Ok(text)
}

fn windows_1252(bytes: &[u8]) -> Result<Cow<'_, str>, Fault> {
    if bytes.is_ascii() {
        return utf8(bytes).map(Cow::Borrowed);
    }
    let letter = |byte: u8| match byte {
        0x80..=0x9F => WINDOWS_1252[usize::from(byte - 0x80)],
        _ => char::from(byte),
    };
    // Counted before memory is spent: a byte may become three. UTF-16 never grows so far.
    let length = bytes.iter().map(|byte| letter(*byte).len_utf8()).sum();
    if length > 2 * MAX_FILE {
        let expected = format!("at most {} bytes; split the file", 2 * MAX_FILE);
        return Err(Fault::new(format!("{length} bytes of text"), expected));
    }
    let mut text = String::with_capacity(length);
    text.extend(bytes.iter().copied().map(letter));
    Ok(Cow::Owned(text))
}

/// The separator of the first ten lines that hold any: one that stands in each of them, else the one of most lines.
fn separator_of(text: &str) -> u8 {
    let lines = text.split(['\n', '\r']).filter(|line| line.bytes().any(|b| SEPARATORS.contains(&b)));
    let first: Vec<&str> = lines.take(10).collect();
    let mut best = ((0, 0), b',');
    for separator in SEPARATORS {
        let mut counts: Vec<usize> = first.iter().map(|line| outside_quotes(line, separator)).collect();
        counts.sort_unstable();
        let at = |place: usize| counts.get(place).copied().unwrap_or(0);
        let score = (at(0), at(counts.len().saturating_sub(1) / 2));
        if score > best.0 {
            best = (score, separator);
        }
    }
    best.1
}

fn outside_quotes(line: &str, separator: u8) -> usize {
    let mut in_quotes = false;
    let is_outside = |b: &u8| {
        in_quotes ^= *b == b'"';
        *b == separator && !in_quotes
    };
    line.as_bytes().iter().copied().filter(is_outside).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(bytes: &[u8], encoding: Encoding) -> Vec<(u32, Vec<String>)> {
        let sheet = TextSheet::open(bytes, encoding).unwrap();
        let mut found = Vec::new();
        let mut on_row = |row: &GridRow<'_>| {
            found.push((row.number, row.cells.iter().map(|v| v.written('.')).collect()));
            ControlFlow::Continue(())
        };
        sheet.walk(&mut on_row).unwrap();
        found
    }

    #[test]
    fn every_encoding_gives_the_same_cells() {
        let text = "date;zażółć\n1;2,5\n";
        let wanted =
            vec![(1, vec!["date".to_owned(), "zażółć".to_owned()]), (2, vec!["1".into(), "2,5".into()])];
        let units: Vec<u16> = text.encode_utf16().collect();
        let le: Vec<u8> = units.iter().flat_map(|u| u.to_le_bytes()).collect();
        let be: Vec<u8> = units.iter().flat_map(|u| u.to_be_bytes()).collect();
        let forms = [
            text.as_bytes().to_vec(),
            [b"\xEF\xBB\xBF", text.as_bytes()].concat(),
            [&[0xFF, 0xFE], &le[..]].concat(),
            [&[0xFE, 0xFF], &be[..]].concat(),
            le,
            be,
        ];
        for bytes in forms {
            assert_eq!(rows(&bytes, Encoding::Unicode), wanted, "{:?}", &bytes[..4]);
        }
    }

    #[test]
    fn text_of_16_bits_is_whole_or_refused() {
        for broken in
            [&b"\xFF\xFEa\0b"[..], b"\xFE\xFF\0a\0", b"a\0b\0c", b"\xFF\xFE\x00\xD8a\0", b"\xFE\xFF\0a\xDC\0"]
        {
            let fault = TextSheet::open(broken, Encoding::Unicode).unwrap_err();
            assert_eq!(fault.found, "text in UTF-16 with a broken letter", "{broken:?}");
        }
    }

    #[test]
    fn the_mark_of_a_text_is_taken_off_in_quotes_too() {
        let sheet = format!("a;b\n{};'=1\n", r#""'=""x""""#);
        let cells = rows(sheet.as_bytes(), Encoding::Unicode).pop().unwrap().1;
        assert_eq!(cells, [r#"="x""#, "=1"]);
    }

    #[test]
    fn an_older_encoding_is_read_only_when_told() {
        let bytes = b"note\ncaf\xE9 \x96 5 \x80\n";
        let fault = TextSheet::open(bytes, Encoding::Unicode).unwrap_err();
        assert_eq!(fault.found, "the byte 0xE9, which is not UTF-8");
        assert_eq!(fault.cell.as_deref(), Some("line 2"));
        assert_eq!(rows(bytes, Encoding::Windows1252)[1].1, ["café – 5 €"]);
    }

    #[test]
    fn the_separator_is_found_or_named() {
        let cells = |text: &str| rows(text.as_bytes(), Encoding::Unicode).pop().unwrap();
        assert_eq!(cells("a;b\n1,5;2"), (2, vec!["1,5".to_owned(), "2".to_owned()]));
        assert_eq!(cells("a\tb\n1,5\t2;3"), (2, vec!["1,5".to_owned(), "2;3".to_owned()]));
        assert_eq!(cells("\"a;b;c\",d\n1,2"), (2, vec!["1".to_owned(), "2".to_owned()]));
        assert_eq!(cells("sep=|\r\na|b\r\n1|2"), (3, vec!["1".to_owned(), "2".to_owned()]));
        assert_eq!(cells("\"a;b;c\",d\n\"1;2;3\",4"), (2, vec!["1;2;3".to_owned(), "4".to_owned()]));
        // A title with commas does not decide.
        assert_eq!(cells("Log, spring, all\na;b\n1;2\n3;4"), (4, vec!["3".to_owned(), "4".to_owned()]));
    }
}
