//! Set stream: walks over a sheet of any length, a piece at a time.

use std::collections::VecDeque;
use std::io::{self, Read};

use nextrung_domain::problem::Problem;

use crate::set_reader::{SetReader, Standing};
use crate::set_row::SheetRow;

/// Longest row, in bytes: a quote that is never closed must not swallow the rest of the file.
pub const MAX_ROW_BYTES: usize = 1024 * 1024;

/// Bytes read at a time.
const PIECE: usize = 4 * MAX_ROW_BYTES;

/// Why a stream gave no row.
#[derive(Debug)]
pub enum StreamError {
    /// The bytes could not be read.
    Unreadable(io::Error),
    /// A row, or the sheet as a whole, has problems; a row's are in the place of the row.
    Problems(Vec<Problem>),
}

/// Reads the rows of a sheet of any length one after the other, in constant memory. The form is that of
/// [`SetReader`], without its limits of size; a row is at most [`MAX_ROW_BYTES`] long.
pub struct SetStream<R> {
    input: R,
    piece: Vec<u8>,
    standing: Option<Standing>,
    rows: VecDeque<Result<SheetRow, Vec<Problem>>>,
    is_over: bool,
}

impl<R: Read> SetStream<R> {
    /// Begins to read.
    pub fn new(input: R) -> Self {
        Self { input, piece: Vec::new(), standing: None, rows: VecDeque::new(), is_over: false }
    }

    /// Reads on until a piece holds whole rows, and takes them apart.
    fn refill(&mut self) -> Result<(), StreamError> {
        let from = self.piece.len();
        let mut more = self.input.by_ref().take(u64::try_from(PIECE - from).unwrap_or(0));
        more.read_to_end(&mut self.piece).map_err(StreamError::Unreadable)?;
        self.is_over = self.piece.len() < PIECE;
        let end = if self.is_over { self.piece.len() } else { self.whole_rows() };
        let bytes = &self.piece[..end];
        let mut reader = match self.standing.take() {
            Some(standing) => SetReader::resume(bytes, standing),
            None => SetReader::open(bytes).map_err(StreamError::Problems)?,
        };
        self.rows.extend(reader.by_ref());
        self.standing = Some(reader.standing(end));
        self.piece.drain(..end);
        Ok(())
    }

    /// Where the last whole row ends: at a line break outside quotes. Without one in the last bytes that a row may have, at the
    /// last line break of all, so that the reader can name the quote that is never closed.
    fn whole_rows(&self) -> usize {
        let (mut in_quotes, mut end, mut last_break) = (false, 0, self.piece.len());
        for (at, byte) in self.piece.iter().enumerate() {
            match byte {
                b'"' => in_quotes = !in_quotes,
                b'\n' if in_quotes => last_break = at + 1,
                b'\n' => (end, last_break) = (at + 1, at + 1),
                _ => {}
            }
        }
        if self.piece.len() - end > MAX_ROW_BYTES { last_break } else { end }
    }
}

impl<R: Read> Iterator for SetStream<R> {
    type Item = Result<SheetRow, StreamError>;

    fn next(&mut self) -> Option<Self::Item> {
        while self.rows.is_empty() {
            if self.is_over {
                return None;
            }
            if let Err(error) = self.refill() {
                self.is_over = true;
                return Some(Err(error));
            }
        }
        self.rows.pop_front().map(|row| row.map_err(StreamError::Problems))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEADER: &str = "athlete,training_date,set_number,rung,purpose,reps,stop,note\n";

    fn sheet(rows: usize) -> String {
        let row = |n: usize| {
            format!(
                "wren,2026-03-14,{n},pull/pull-up,working,5,target,\"one,\n{}\"\"\"\n",
                "x".repeat(n % 90)
            )
        };
        (1..=rows).fold(HEADER.to_owned(), |sheet, n| sheet + &row(n))
    }

    /// Gives bytes a few at a time.
    struct Slow<'b>(&'b [u8]);

    impl Read for Slow<'_> {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            let n = into.len().min(self.0.len()).min(7_001);
            into[..n].copy_from_slice(&self.0[..n]);
            self.0 = &self.0[n..];
            Ok(n)
        }
    }

    #[test]
    fn pieces_give_the_rows_of_the_whole() {
        let sheet = sheet(60_000);
        assert!(sheet.len() > PIECE, "{}", sheet.len());
        let whole: Vec<_> = SetReader::open(sheet.as_bytes()).unwrap().map(Result::unwrap).collect();
        let pieces: Vec<_> = SetStream::new(Slow(sheet.as_bytes())).map(|row| row.unwrap()).collect();
        assert_eq!(whole, pieces);
        assert_eq!(pieces.len(), 60_000);
    }

    #[test]
    fn a_problem_late_in_the_file_is_named_by_its_row_and_byte() {
        let good = sheet(60_000);
        let bad = good.clone() + "wren,2026-03-14,1,pull/pull-up,working,5,target,a \"bare\" quote\n";
        let last = SetStream::new(bad.as_bytes()).last();
        let Some(Err(StreamError::Problems(problems))) = last else { unreachable!("{last:?}") };
        assert_eq!(problems[0].field, "row[60002]");
        let byte = good.len() + bad[good.len()..].find('"').unwrap() + 1;
        assert!(problems[0].found.contains(&format!("at byte {byte} ")), "{}", problems[0].found);
    }

    #[test]
    fn an_unclosed_quote_does_not_swallow_the_file() {
        let bad = HEADER.to_owned()
            + "wren,2026-03-14,1,pull/pull-up,working,5,target,\"open\n"
            + &sheet(60_000)[HEADER.len()..];
        let mut stream = SetStream::new(bad.as_bytes());
        let first = stream.next();
        assert!(matches!(&first, Some(Err(StreamError::Problems(p))) if p[0].field == "row[2]"), "{first:?}");
        assert!(stream.filter(Result::is_ok).count() > 10_000);
    }
}
