//! Records: splits the bytes of a sheet into rows and cells, strictly after RFC 4180.
//!
//! Strictly, because a lenient reader loses rows: to it, a quote that opens the last cell of a row and is never closed
//! makes one cell of the rest of the file, without a word. Here that is a fault, and reading resumes on the next line.

/// A cell where it stands in the file, without its outer quotes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct RawCell<'b> {
    /// Its bytes; quotes within it still doubled.
    pub(crate) bytes: &'b [u8],
    /// Offset of its first byte in the file.
    pub(crate) start: usize,
    /// True when it holds doubled quotes.
    pub(crate) has_quotes: bool,
}

/// What is wrong with the form of a row, with the offset in the file of the quote that is to blame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum QuoteFault {
    /// A quote opens a cell and is never closed.
    Unclosed(usize),
    /// A quoted cell goes on after its closing quote.
    TextAfter(usize),
    /// A quote stands in a cell that did not begin with one.
    Bare(usize),
    /// The row has more than [`MAX_CELLS`]; the offset is where they were counted off.
    Wide(usize),
}

/// Most cells of a row: as many as a workbook has columns. A row of separators alone would take forty times its bytes.
pub(crate) const MAX_CELLS: usize = 16_384;

impl QuoteFault {
    /// Offset of the quote that is to blame.
    pub(crate) fn at(self) -> usize {
        match self {
            Self::Unclosed(at) | Self::TextAfter(at) | Self::Bare(at) | Self::Wide(at) => at,
        }
    }

    /// What was found.
    pub(crate) fn found(self) -> &'static str {
        match self {
            Self::Unclosed(_) => "a quote that opens a cell and is never closed",
            Self::TextAfter(_) => "text after the quote that closes a cell",
            Self::Bare(_) => "a quote within a cell that does not begin with one",
            Self::Wide(_) => "more than 16384 cells in a row",
        }
    }

    /// What was expected, and how to mend it.
    pub(crate) fn expected(self) -> &'static str {
        match self {
            Self::Unclosed(_) | Self::TextAfter(_) | Self::Bare(_) => {
                "cells that hold a quote in quotes, the quotes within them doubled"
            }
            Self::Wide(_) => "rows as wide as the header; is the separator another one?",
        }
    }
}

/// Walks over the rows of a sheet.
#[derive(Debug)]
pub(crate) struct Scanner<'b> {
    bytes: &'b [u8],
    at: usize,
    row: usize,
    separator: u8,
}

impl<'b> Scanner<'b> {
    /// Begins at offset `from`. The separator is the semicolon when the first line has more of them than commas.
    pub(crate) fn new(bytes: &'b [u8], from: usize) -> Self {
        let first_line = bytes.iter().skip(from).take_while(|b| **b != b'\n' && **b != b'\r');
        let balance = first_line.fold(0_i64, |n, b| n + i64::from(*b == b';') - i64::from(*b == b','));
        Self { bytes, at: from, row: 0, separator: if balance > 0 { b';' } else { b',' } }
    }

    /// Goes on in a later piece of a sheet, after `row` rows, with the separator of its beginning.
    pub(crate) fn resume(bytes: &'b [u8], (row, separator): (usize, u8)) -> Self {
        Self { bytes, at: 0, row, separator }
    }

    /// Offset of the row that is read next.
    pub(crate) fn offset(&self) -> usize {
        self.at
    }

    /// Rows read so far, and the separator.
    pub(crate) fn standing(&self) -> (usize, u8) {
        (self.row, self.separator)
    }

    /// Reads the next row into `cells` and returns its number, from 1, or the fault of its quotes; nothing at the end.
    pub(crate) fn next_row(
        &mut self,
        cells: &mut Vec<RawCell<'b>>,
    ) -> Option<(usize, Result<(), QuoteFault>)> {
        cells.clear();
        if self.at >= self.bytes.len() {
            return None;
        }
        self.row += 1;
        loop {
            match self.cell() {
                Ok(cell) => cells.push(cell),
                Err(fault) => {
                    self.at = fault.at();
                    self.skip_line();
                    return Some((self.row, Err(fault)));
                }
            }
            match self.bytes.get(self.at) {
                Some(b) if *b == self.separator && cells.len() == MAX_CELLS => {
                    let fault = QuoteFault::Wide(self.at);
                    self.skip_line();
                    return Some((self.row, Err(fault)));
                }
                Some(b) if *b == self.separator => self.at += 1,
                _ => break,
            }
        }
        self.skip_line_break();
        Some((self.row, Ok(())))
    }

    /// Reads the cell that begins here and stops at its separator, line break or the end.
    fn cell(&mut self) -> Result<RawCell<'b>, QuoteFault> {
        if self.bytes.get(self.at) == Some(&b'"') { self.quoted_cell() } else { self.plain_cell() }
    }

    fn plain_cell(&mut self) -> Result<RawCell<'b>, QuoteFault> {
        let start = self.at;
        let rest = &self.bytes[start..];
        let length = rest.iter().position(|b| self.ends_cell(*b) || *b == b'"').unwrap_or(rest.len());
        self.at += length;
        if self.bytes.get(self.at) == Some(&b'"') {
            return Err(QuoteFault::Bare(self.at));
        }
        Ok(RawCell { bytes: &rest[..length], start, has_quotes: false })
    }

    fn quoted_cell(&mut self) -> Result<RawCell<'b>, QuoteFault> {
        let open = self.at;
        let start = open + 1;
        let mut has_quotes = false;
        let mut close = start;
        loop {
            let rest = &self.bytes[close..];
            close += rest.iter().position(|b| *b == b'"').ok_or(QuoteFault::Unclosed(open))?;
            if self.bytes.get(close + 1) != Some(&b'"') {
                break;
            }
            has_quotes = true;
            close += 2;
        }
        self.at = close + 1;
        if self.bytes.get(self.at).is_some_and(|b| !self.ends_cell(*b)) {
            return Err(QuoteFault::TextAfter(open));
        }
        Ok(RawCell { bytes: &self.bytes[start..close], start, has_quotes })
    }

    fn ends_cell(&self, byte: u8) -> bool {
        byte == self.separator || byte == b'\n' || byte == b'\r'
    }

    fn skip_line(&mut self) {
        let rest = &self.bytes[self.at..];
        self.at += rest.iter().position(|b| *b == b'\n' || *b == b'\r').unwrap_or(rest.len());
        self.skip_line_break();
    }

    fn skip_line_break(&mut self) {
        let length = match self.bytes.get(self.at..).unwrap_or_default() {
            [b'\r', b'\n', ..] => 2,
            [b'\r' | b'\n', ..] => 1,
            _ => 0,
        };
        self.at += length;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    type Row = (usize, Result<Vec<String>, QuoteFault>);

    fn rows(text: &str) -> Vec<Row> {
        let mut scanner = Scanner::new(text.as_bytes(), 0);
        let mut cells = Vec::new();
        let mut found = Vec::new();
        while let Some((row, read)) = scanner.next_row(&mut cells) {
            let words = |c: &RawCell<'_>| {
                assert_eq!(&text.as_bytes()[c.start..][..c.bytes.len()], c.bytes, "stands where it says");
                String::from_utf8(c.bytes.to_vec()).unwrap()
            };
            found.push((row, read.map(|()| cells.iter().map(words).collect())));
        }
        found
    }

    fn sound(rows: &[&[&str]]) -> Vec<Row> {
        let words = |cells: &&[&str]| cells.iter().map(|c| (*c).to_owned()).collect();
        rows.iter().enumerate().map(|(i, cells)| (i + 1, Ok(words(cells)))).collect()
    }

    #[test]
    fn every_line_break_ends_a_row() {
        let wanted = sound(&[&["a", "b"], &["c", ""], &[""], &["", "d"]]);
        for text in ["a,b\nc,\n\n,d", "a,b\r\nc,\r\n\r\n,d\r\n", "a,b\rc,\r\r,d\r"] {
            assert_eq!(rows(text), wanted, "{text:?}");
        }
        assert_eq!(rows(""), []);
        assert_eq!(rows(","), sound(&[&["", ""]]));
    }

    #[test]
    fn the_header_decides_the_separator() {
        assert_eq!(rows("a;b\n1,5;2\n"), sound(&[&["a", "b"], &["1,5", "2"]]));
        assert_eq!(rows("a,b\n1;5,2\n"), sound(&[&["a", "b"], &["1;5", "2"]]));
    }

    #[test]
    fn a_quoted_cell_may_hold_anything() {
        assert_eq!(rows("\"a,b\",\"c\r\nd\",\"\"\n"), sound(&[&["a,b", "c\r\nd", ""]]));
        assert_eq!(rows("\"say \"\"hop\"\"\"\n"), sound(&[&["say \"\"hop\"\""]]), "still doubled");
    }

    #[test]
    fn a_row_of_separators_is_counted_off() {
        let widest = ",".repeat(MAX_CELLS - 1);
        let text = format!("{widest}\n{widest},,\nb");
        let found = rows(&text);
        assert_eq!(found[0].1.as_ref().map(Vec::len), Ok(MAX_CELLS));
        assert_eq!(found[1], (2, Err(QuoteFault::Wide(2 * MAX_CELLS - 1))));
        assert_eq!(found[2], (3, Ok(vec!["b".to_owned()])));
    }

    #[test]
    fn faulty_quotes_cost_their_own_line_only() {
        assert_eq!(
            rows("a,b\nc,\"d\ne,f\n"),
            [
                (1, Ok(vec!["a".to_owned(), "b".to_owned()])),
                (2, Err(QuoteFault::Unclosed(6))),
                (3, Ok(vec!["e".to_owned(), "f".to_owned()])),
            ]
        );
        assert_eq!(rows("\"a\"b,c\nd"), [(1, Err(QuoteFault::TextAfter(0))), (2, Ok(vec!["d".to_owned()]))]);
        assert_eq!(rows("5\" up\nd"), [(1, Err(QuoteFault::Bare(1))), (2, Ok(vec!["d".to_owned()]))]);
        // The second line's quote closes the first line's: both are named, the third is read.
        assert_eq!(
            rows("a,\"b\nc,\"d\"\ne"),
            [
                (1, Err(QuoteFault::TextAfter(2))),
                (2, Ok(vec!["c".to_owned(), "d".to_owned()])),
                (3, Ok(vec!["e".to_owned()])),
            ]
        );
    }
}
