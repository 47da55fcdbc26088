//! Aside: rows that are not taken, as a sheet of their own.

use std::io::{self, Write};
use std::ops::ControlFlow;

use crate::grid::{Encoding, GridRow, Value};
use crate::guard::guarded_unless_number;
use crate::mapping::Mapping;

/// What stands for a name or a day that nobody can tell; no mapping reads it.
const UNKNOWN: &str = "?";

/// Writes rows as CSV under the headers of the sheet they come from, with its separator: what it holds is read by the same
/// mapping, and a row with faulty quotes stands there as it stood. Texts that a spreadsheet would take for a formula are
/// guarded, since the sheet is there to be opened and mended.
pub(crate) struct Aside<'w> {
    out: &'w mut dyn Write,
    separator: char,
    decimal: char,
    /// True when the mapping reads other than Unicode unless a mark says so.
    needs_mark: bool,
    /// The header that was written last.
    header: Option<Vec<String>>,
    /// Rows written.
    rows: usize,
    written: io::Result<()>,
}

impl<'w> Aside<'w> {
    pub(crate) fn new(out: &'w mut dyn Write, separator: char, mapping: &Mapping) -> Self {
        let (decimal, needs_mark) = (mapping.decimal_sign(), mapping.encoding != Encoding::Unicode);
        Self { out, separator, decimal, needs_mark, header: None, rows: 0, written: Ok(()) }
    }

    /// Writes a row of which nobody can say what its empty cells mean: a line above it keeps them from taking what another row
    /// says that happens to stand there.
    pub(crate) fn put_untrusted(
        &mut self,
        row: &GridRow<'_>,
        titles: &[String],
        places: &[usize],
    ) -> ControlFlow<()> {
        if let Some(last) = places.iter().max() {
            let cell = |place: usize| if places.contains(&place) { UNKNOWN } else { "" };
            let cells: Vec<String> = (0..=*last).map(|place| cell(place).to_owned()).collect();
            self.head(titles);
            self.line(&cells);
        }
        self.put(row, titles, &[])
    }

    /// Writes a row, with the cells that took the value above; breaks when it cannot be written.
    pub(crate) fn put(
        &mut self,
        row: &GridRow<'_>,
        titles: &[String],
        filled: &[(usize, Value<'static>)],
    ) -> ControlFlow<()> {
        self.head(titles);
        self.rows += 1;
        if let Some(fault) = &row.fault {
            self.raw(fault.raw);
        } else {
            let mut cells: Vec<String> = row.cells.iter().map(|value| value.written(self.decimal)).collect();
            // What a merged range says of its first row alone must not be said again.
            for place in row.carried {
                if let Some(cell) = cells.get_mut(*place) {
                    cell.clear();
                }
            }
            for (place, value) in filled {
                if cells.len() <= *place {
                    cells.resize(place + 1, String::new());
                }
                cells[*place] = value.written(self.decimal);
            }
            self.line(&cells);
        }
        if self.written.is_ok() { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    }

    /// Ends the sheet and says how many rows it holds. Fails when it could not be written.
    pub(crate) fn finish(self) -> io::Result<usize> {
        self.written.and_then(|()| self.out.flush())?;
        Ok(self.rows)
    }

    /// Begins with the header, and again where it is another one.
    fn head(&mut self, titles: &[String]) {
        if self.header.as_deref() != Some(titles) {
            self.begin(titles);
        }
    }

    fn begin(&mut self, titles: &[String]) {
        let is_first = self.header.replace(titles.to_vec()).is_none();
        if is_first && self.needs_mark {
            self.written = self.out.write_all("\u{FEFF}".as_bytes());
        }
        if !titles.is_empty() {
            self.line(titles);
        }
    }

    fn line(&mut self, cells: &[String]) {
        let needs_quotes = |cell: &str| cell.contains([self.separator, '"', '\n', '\r']);
        let quoted =
            cells.iter().map(|cell| guarded_unless_number(cell)).map(|cell| match needs_quotes(&cell) {
                true => format!("\"{}\"", cell.replace('"', "\"\"")),
                false => cell.into_owned(),
            });
        let line = quoted.collect::<Vec<_>>().join(self.separator.encode_utf8(&mut [0; 4]));
        self.raw(&line);
    }

    fn raw(&mut self, line: &str) {
        if self.written.is_ok() {
            self.written = writeln!(self.out, "{line}");
        }
    }
}
