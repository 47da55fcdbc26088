//! Set writer: drafts out as a sheet.

use std::borrow::Cow;
use std::io::{self, Write};

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};

use crate::column::Column;
use crate::guard::{guarded, guarded_unless_number};

/// Writes a sheet row by row, so that it need not be held; [`crate::read_sets`] reads back what is written. Separated by
/// commas, lines ended by a line feed; texts that a spreadsheet would take for a formula are [`guarded`].
#[derive(Debug)]
pub struct SetWriter<W: Write> {
    out: W,
}

impl<W: Write> SetWriter<W> {
    /// Begins a sheet with its header of every column. Fails when `out` does.
    pub fn new(mut out: W) -> io::Result<Self> {
        write_row(&mut out, &Column::ALL.map(|column| Cow::Borrowed(column.name())))?;
        Ok(Self { out })
    }

    /// One row; the draft's values are written as they are, sound or not. Fails when the writer under it does.
    pub fn write(&mut self, athlete: &str, draft: &SetDraft) -> io::Result<()> {
        let mut cells = Column::ALL.map(|column| cell(column, athlete, draft));
        for column in Column::ALL.into_iter().filter(|column| column.is_text()) {
            if let Cow::Owned(marked) = guarded(&cells[column.index()]) {
                cells[column.index()] = Cow::Owned(marked);
            }
        }
        write_row(&mut self.out, &cells)
    }

    /// Ends the sheet. Fails when what is still held back cannot be written.
    pub fn finish(mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// A whole sheet by a [`SetWriter`]: the header, then a row for each athlete and set. Fails when `out` does.
pub fn write_sets<'a>(
    out: impl Write,
    sets: impl IntoIterator<Item = (&'a str, &'a SetDraft)>,
) -> io::Result<()> {
    let mut writer = SetWriter::new(out)?;
    for (athlete, draft) in sets {
        writer.write(athlete, draft)?;
    }
    writer.finish()
}

fn cell<'a>(column: Column, athlete: &'a str, draft: &'a SetDraft) -> Cow<'a, str> {
    let whole = |value: Option<i64>| Cow::Owned(value.map(|v| v.to_string()).unwrap_or_default());
    let done = |unit| whole(draft.done.filter(|(u, _)| *u == unit).map(|(_, count)| count));
    let kg = |value: Option<f64>| Cow::Owned(value.map(|v| v.to_string()).unwrap_or_default());
    match column {
        Column::Athlete => Cow::Borrowed(athlete),
        Column::TrainingDate => {
            let day = draft.training_date.map(|(y, m, d)| format!("{y:04}-{m:02}-{d:02}"));
            Cow::Owned(day.unwrap_or_default())
        }
        Column::Session => whole(Some(draft.session)),
        Column::SetNumber => whole(Some(draft.set_number)),
        Column::Rung => Cow::Borrowed(&draft.rung),
        Column::Purpose => chosen(&draft.purpose, Purpose::word),
        Column::Shadings => Cow::Owned(draft.shadings.join(" ")),
        Column::Reps => done(Unit::Reps),
        Column::HoldSeconds => done(Unit::HoldSeconds),
        Column::LoweringSeconds => done(Unit::LoweringSeconds),
        Column::PlannedTarget => whole(draft.planned_target),
        Column::Stop => chosen(&draft.stop, Stop::word),
        Column::RepsInReserve => whole(draft.reps_in_reserve),
        Column::RestSeconds => whole(draft.rest_seconds),
        Column::LoadKg => kg(draft.load_kg),
        Column::BodyMassKg => kg(draft.body_mass_kg),
        Column::Tempo => Cow::Borrowed(&draft.tempo),
        Column::Pain => whole(draft.pain),
        Column::ClientSetId => Cow::Borrowed(&draft.client_set_id),
        Column::Note => Cow::Borrowed(&draft.note),
    }
}

fn chosen<'a, T: Copy>(choice: &'a Choice<T>, word_of: fn(T) -> &'static str) -> Cow<'a, str> {
    match choice {
        Choice::Known(one) => Cow::Borrowed(word_of(*one)),
        Choice::Unknown(text) => Cow::Borrowed(text),
        Choice::Missing => Cow::Borrowed(""),
    }
}

/// A row of any table in the form of a sheet, what a spreadsheet would take for a formula [`guarded`]. Fails when `out` does.
pub fn write_cells(out: &mut impl Write, cells: &[impl AsRef<str>]) -> io::Result<()> {
    let cells: Vec<Cow<'_, str>> = cells.iter().map(|cell| guarded_unless_number(cell.as_ref())).collect();
    write_row(out, &cells)
}

fn write_row(out: &mut impl Write, cells: &[Cow<'_, str>]) -> io::Result<()> {
    for (n, cell) in cells.iter().enumerate() {
        let cell: &str = cell;
        if n > 0 {
            out.write_all(b",")?;
        }
        if cell.contains([',', ';', '"', '\n', '\r']) {
            write!(out, "\"{}\"", cell.replace('"', "\"\""))?;
        } else {
            out.write_all(cell.as_bytes())?;
        }
    }
    out.write_all(b"\n")
}
