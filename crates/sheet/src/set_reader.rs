//! Set reader: walks over a sheet row by row.

use nextrung_domain::problem::Problem;

use crate::header::{Header, too_wide};
use crate::record::{QuoteFault, RawCell, Scanner};
use crate::set_row::{SheetRow, place, read_row};

/// Largest sheet, in bytes.
pub const MAX_BYTES: usize = 64 * 1024 * 1024;

/// Most rows under the header, blank ones not counted.
pub const MAX_ROWS: usize = 1_000_000;

const BYTE_ORDER_MARK: &[u8] = b"\xEF\xBB\xBF";

/// Reads the rows of a sheet one after the other, in constant memory: each is a set or the problems of its cells. A
/// caller that must not act on half a sheet walks twice, first to see that there is no problem, or uses
/// [`crate::read_sets`], which also finds keys used twice.
#[derive(Debug)]
pub struct SetReader<'b> {
    scanner: Scanner<'b>,
    cells: Vec<RawCell<'b>>,
    header: Header,
    rows: usize,
    /// Bytes of the file before these.
    base: usize,
}

/// Where a reader stands between two pieces of a long sheet.
#[derive(Debug, Clone)]
pub(crate) struct Standing {
    header: Header,
    scanner: (usize, u8),
    base: usize,
}

impl<'b> SetReader<'b> {
    /// Reads the header. Fails when the sheet is empty, too large or no CSV in UTF-8, or with every unknown, doubled and
    /// missing column.
    pub fn open(bytes: &'b [u8]) -> Result<Self, Vec<Problem>> {
        if let Some(problem) = unreadable(bytes) {
            return Err(vec![problem]);
        }
        let from = if bytes.starts_with(BYTE_ORDER_MARK) { BYTE_ORDER_MARK.len() } else { 0 };
        let mut scanner = Scanner::new(bytes, from);
        let mut cells = Vec::new();
        loop {
            match scanner.next_row(&mut cells) {
                None => {
                    return Err(vec![Problem::new("file", "nothing", "a header row and a row for each set")]);
                }
                Some((_, Err(fault @ QuoteFault::Wide(_)))) => {
                    return Err(vec![too_wide(fault.found())]);
                }
                Some((row, Err(fault))) => return Err(vec![quote_problem(row, fault, 0)]),
                Some((_, Ok(()))) if is_blank(&cells) => {}
                Some((_, Ok(()))) => break,
            }
        }
        let header = Header::read(&cells)?;
        Ok(Self { scanner, cells, header, rows: 0, base: 0 })
    }

    /// Goes on with the next piece of a sheet, which begins with a whole row.
    pub(crate) fn resume(bytes: &'b [u8], standing: Standing) -> Self {
        let Standing { header, scanner, base } = standing;
        Self { scanner: Scanner::resume(bytes, scanner), cells: Vec::new(), header, rows: 0, base }
    }

    /// Where the reader stands once a piece of so many bytes is read.
    pub(crate) fn standing(self, bytes: usize) -> Standing {
        Standing { header: self.header, scanner: self.scanner.standing(), base: self.base + bytes }
    }
}

impl Iterator for SetReader<'_> {
    type Item = Result<SheetRow, Vec<Problem>>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if self.rows > MAX_ROWS {
                return None;
            }
            let (row, read) = self.scanner.next_row(&mut self.cells)?;
            if read.is_ok() && is_blank(&self.cells) {
                continue;
            }
            self.rows += 1;
            if self.rows > MAX_ROWS {
                let expected = format!("at most {MAX_ROWS} rows; nothing was read from here on");
                return Some(Err(vec![Problem::new(place(row), "one row more", expected)]));
            }
            return Some(match read {
                Ok(()) => read_row(row, &self.cells, &self.header),
                Err(fault) => Err(vec![quote_problem(row, fault, self.base)]),
            });
        }
    }
}

/// What makes a file no sheet at all.
fn unreadable(bytes: &[u8]) -> Option<Problem> {
    if bytes.len() > MAX_BYTES {
        let expected = format!("at most {MAX_BYTES} bytes (64 MB)");
        return Some(Problem::new("file", format!("{} bytes", bytes.len()), expected));
    }
    let found = match bytes {
        [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..] => "text in UTF-16",
        [b'P', b'K', 3, 4, ..] => "a zip archive, perhaps a workbook",
        _ => return None,
    };
    Some(Problem::new("file", found, "CSV in UTF-8; save the sheet as that"))
}

fn is_blank(cells: &[RawCell<'_>]) -> bool {
    cells.iter().all(|cell| cell.bytes.trim_ascii().is_empty())
}

fn quote_problem(row: usize, fault: QuoteFault, base: usize) -> Problem {
    let found = format!("{}, at byte {} of the file", fault.found(), base + fault.at() + 1);
    Problem::new(place(row), found, fault.expected())
}
