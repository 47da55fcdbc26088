//! Set row: one row of a sheet, read into a draft.

use std::borrow::Cow;

use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::ids::RungRef;
use nextrung_domain::measure::Unit;
use nextrung_domain::problem::Problem;
use nextrung_domain::stop::{Purpose, Stop};

use crate::cell::{cell_text, day, kilograms, shown, whole, word};
use crate::column::Column;
use crate::guard::unguarded_cow;
use crate::header::Header;
use crate::record::RawCell;

/// Most bytes of the athlete's name in a derived key: leaves room for the rest within the 64 that a key may have.
const NAME_IN_ID: usize = 40;

/// One set of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetRow {
    /// The row as a spreadsheet shows it; the header is row 1.
    pub row: usize,
    /// The athlete, as written.
    pub athlete: String,
    /// The set; purpose, stop, day and units are always there, values are not checked.
    pub draft: SetDraft,
}

impl SheetRow {
    /// Where problems of this row are placed: `row[7]`.
    pub fn place(&self) -> String {
        place(self.row)
    }
}

/// The name of a row in problems.
pub(crate) fn place(row: usize) -> String {
    format!("row[{row}]")
}

/// The key of a set whose sheet gives none: `wren:2026-03-14:1:3` for the third set of the day's first session. The same
/// set gets the same key each time the sheet is sent, so that it is recorded once. The name keeps its first 40 bytes,
/// each sign that a key may not have replaced by `-`; the rest of the key is what tells the athlete's sets apart.
pub fn derived_set_id(athlete: &str, date: CivilDate, session: i64, set_number: i64) -> String {
    let fit = |c: char| if c.is_ascii_alphanumeric() || "._:-".contains(c) { c } else { '-' };
    let name: String = athlete.chars().take(NAME_IN_ID).map(fit).collect();
    let session = if session == 0 { 1 } else { session };
    format!("{name}:{date}:{session}:{set_number}")
}

/// Reads one row. Fails with every cell that cannot be read.
pub(crate) fn read_row(row: usize, cells: &[RawCell<'_>], header: &Header) -> Result<SheetRow, Vec<Problem>> {
    if cells.len() != header.width {
        let expected = format!(
            "{} cells as in the header; a cell that holds the separator stands in quotes, decimals have a point",
            header.width
        );
        return Err(vec![Problem::new(place(row), format!("{} cells", cells.len()), expected)]);
    }
    let mut read = Cells { row, cells, header, problems: Vec::new() };
    let sheet_row = read.sheet_row();
    match sheet_row {
        Some(sheet_row) if read.problems.is_empty() => Ok(sheet_row),
        _ => Err(read.problems),
    }
}

/// The cells of a row and what was found wrong with them so far.
struct Cells<'r, 'b> {
    row: usize,
    cells: &'r [RawCell<'b>],
    header: &'r Header,
    problems: Vec<Problem>,
}

impl<'b> Cells<'_, 'b> {
    fn sheet_row(&mut self) -> Option<SheetRow> {
        let athlete = self.needed(Column::Athlete, |text| Ok(text.to_owned()));
        let date = self.needed(Column::TrainingDate, day);
        let session = self.given(Column::Session, whole).unwrap_or(0);
        let set_number = self.needed(Column::SetNumber, whole);
        let rung = self.needed(Column::Rung, |text| {
            RungRef::parse(text)
                .map(|_| text.to_owned())
                .map_err(|_| "a rung such as pull/pull-up".to_owned())
        });
        let purpose = self.needed(Column::Purpose, |text| word(text, &Purpose::ALL, Purpose::word));
        let shadings = self.trimmed(Column::Shadings).split_whitespace().map(ToOwned::to_owned).collect();
        let done = self.done();
        let stop = self.needed(Column::Stop, |text| word(text, &Stop::ALL, Stop::word));
        let planned_target = self.given(Column::PlannedTarget, whole);
        let reps_in_reserve = self.given(Column::RepsInReserve, whole);
        let rest_seconds = self.given(Column::RestSeconds, whole);
        let load_kg = self.given(Column::LoadKg, kilograms);
        let body_mass_kg = self.given(Column::BodyMassKg, kilograms);
        let tempo = self.trimmed(Column::Tempo).into_owned();
        let pain = self.given(Column::Pain, whole);
        let client_set_id = self.trimmed(Column::ClientSetId);
        let note = self.text(Column::Note).into_owned();
        let (athlete, date, set_number) = (athlete?, date?, set_number?);
        let (y, m, d) = date.parts();
        let draft = SetDraft {
            client_set_id: match client_set_id.as_ref() {
                "" => derived_set_id(&athlete, date, session, set_number),
                given => given.to_owned(),
            },
            training_date: Some((i64::from(y), i64::from(m), i64::from(d))),
            session,
            set_number,
            rung: rung?,
            purpose: Choice::Known(purpose?),
            shadings,
            done: Some(done?),
            planned_target,
            stop: Choice::Known(stop?),
            reps_in_reserve,
            rest_seconds,
            load_kg,
            body_mass_kg,
            tempo,
            pain,
            note,
        };
        Some(SheetRow { row: self.row, athlete, draft })
    }

    /// The units done, of the one column that is filled.
    fn done(&mut self) -> Option<(Unit, i64)> {
        let before = self.problems.len();
        let counts = Unit::ALL.map(|unit| (unit, self.given(Column::of_unit(unit), whole)));
        let filled: Vec<(Unit, i64)> = counts.into_iter().filter_map(|(u, n)| n.map(|n| (u, n))).collect();
        match filled.as_slice() {
            [one] => Some(*one),
            [] if self.problems.len() > before => None,
            [] => {
                self.bad(
                    "done",
                    "nothing",
                    "the clean units done, in reps, hold_seconds or lowering_seconds",
                );
                None
            }
            several => {
                let names: Vec<&str> = several.iter().map(|(unit, _)| unit.field()).collect();
                self.bad("done", names.join(" and "), "one of these columns filled, the others empty");
                None
            }
        }
    }

    fn bad(&mut self, column: &str, found: impl Into<String>, expected: impl Into<String>) {
        self.problems.push(Problem::new(format!("{}.{column}", place(self.row)), found, expected));
    }

    /// The text of a cell to the letter; empty when there is no such column or the text is broken, which is reported.
    fn text(&mut self, column: Column) -> Cow<'b, str> {
        let Some(cell) = self.header.place(column).and_then(|at| self.cells.get(at)) else {
            return Cow::default();
        };
        match cell_text(cell) {
            Ok(text) if column.is_text() => unguarded_cow(text),
            Ok(text) => text,
            Err(bad) => {
                self.problems.push(bad.problem(&format!("{}.{}", place(self.row), column.name())));
                Cow::default()
            }
        }
    }

    fn trimmed(&mut self, column: Column) -> Cow<'b, str> {
        match self.text(column) {
            Cow::Borrowed(text) => Cow::Borrowed(text.trim()),
            Cow::Owned(text) => Cow::Owned(text.trim().to_owned()),
        }
    }

    /// The value of a cell; nothing when it is empty or cannot be read, which is reported.
    fn given<T>(&mut self, column: Column, read: impl Fn(&str) -> Result<T, String>) -> Option<T> {
        let text = self.trimmed(column);
        if text.is_empty() {
            return None;
        }
        read(&text).map_err(|expected| self.bad(column.name(), shown(&text), expected)).ok()
    }

    /// The value of a cell that must be filled.
    fn needed<T>(&mut self, column: Column, read: impl Fn(&str) -> Result<T, String>) -> Option<T> {
        let before = self.problems.len();
        let value = self.given(column, read);
        if value.is_none() && self.problems.len() == before {
            self.bad(column.name(), "nothing", "a value: this column is needed in every row");
        }
        value
    }
}
