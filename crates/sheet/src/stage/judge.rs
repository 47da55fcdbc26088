//! Judge: the rows of a sheet in their order, each judged by its cells, by its place among the sets of its session, and by the
//! further checks.

use std::ops::ControlFlow;

use nextrung_domain::date::CivilDate;

use super::finding::CellProblem;
use super::row::{Outcome, RowReader, RowSets};
use super::session::{SessionKey, Sessions};
use super::{Import, LeftOut};
use crate::grid::{Fault, GridRow, Refusal};
use crate::mapping::{Columns, Field, Layout, Nearest};
use crate::set_row::derived_set_id;

/// Most sets of a session, as the contract has it.
const MOST_SETS: i64 = 200;

/// A row as a walk over the sheet sees it.
pub(super) enum Seen<'s> {
    LeftOut(LeftOut),
    Bad(&'s [CellProblem]),
    Sets(RowSets, SessionKey),
}

/// What a walk is told of each row.
pub(super) type OnSeen<'f> = &'f mut dyn FnMut(&GridRow<'_>, &RowReader<'_>, Seen<'_>) -> ControlFlow<()>;

impl<'i> Import<'i, '_> {
    /// Walks over the rows under the header, each judged.
    pub(super) fn walk(&self, sessions: &mut Sessions, on_seen: OnSeen<'_>) -> Result<(), Refusal> {
        let mut reader = Columns::by_letters(self.mapping).map(|columns| self.reader(columns));
        let mut nearest = Nearest::default();
        let mut above = Vec::new();
        let mut fault = None;
        self.grid.walk(self.sheet, &mut |row| {
            if let Some(reader) = &mut reader {
                return self.see(row, reader, sessions, on_seen).unwrap_or_else(|found| {
                    fault = Some(found);
                    ControlFlow::Break(())
                });
            }
            match Columns::find(self.mapping, row) {
                Ok(Some(columns)) => {
                    reader = Some(self.reader(columns));
                    ControlFlow::Continue(())
                }
                Ok(None) => {
                    nearest.look(self.mapping, row);
                    above.push(row.number);
                    // A header further down than this is none that a person would find.
                    if above.len() > 1000 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
                }
                Err(found) => {
                    fault = Some(found);
                    ControlFlow::Break(())
                }
            }
        })?;
        let Some(reader) = reader.filter(|_| fault.is_none()) else {
            let fault = fault.unwrap_or_else(|| nearest.fault(self.mapping));
            return Err(fault.refuse(self.grid.file(), self.grid.sheet_name(self.sheet)));
        };
        for number in above {
            let row = GridRow { number, cells: &[], carried: &[], is_hidden: false, fault: None };
            if on_seen(&row, &reader, Seen::LeftOut(LeftOut::AboveHeader)) == ControlFlow::Break(()) {
                break;
            }
        }
        Ok(())
    }

    fn reader(&self, columns: Columns) -> RowReader<'i> {
        let reader = RowReader::new(self.mapping, self.rungs, columns, self.grid.is_text());
        reader.with_athletes(self.athletes)
    }

    /// True where days stand across.
    pub(super) fn is_across(&self) -> bool {
        self.mapping.layout == Layout::DaysAcross
    }

    /// Judges a row. Fails where [`see_across`](Self::see_across) does.
    fn see(
        &self,
        row: &GridRow<'_>,
        reader: &mut RowReader<'_>,
        sessions: &mut Sessions,
        on_seen: OnSeen<'_>,
    ) -> Result<ControlFlow<()>, Fault> {
        if self.is_across() && row.fault.is_none() {
            return self.see_across(row, reader, sessions, on_seen);
        }
        let outcome = reader.read(row);
        Ok(self.settle(row, outcome, (reader, sessions), on_seen))
    }

    /// Judges what a row comes to by itself: its place among the sets of its session, then each set by the further check.
    pub(super) fn settle(
        &self,
        row: &GridRow<'_>,
        outcome: Outcome,
        (reader, sessions): (&mut RowReader<'_>, &mut Sessions),
        on_seen: OnSeen<'_>,
    ) -> ControlFlow<()> {
        let mut sets = match outcome {
            Outcome::LeftOut(why) => return on_seen(row, reader, Seen::LeftOut(why)),
            Outcome::Bad(problems, place) => {
                sessions.tear_at(place);
                return on_seen(row, reader, Seen::Bad(&problems));
            }
            Outcome::Sets(sets) => sets,
        };
        let key = sessions.key(&sets.athlete, sets.day.day_number(), sets.session);
        let mut problems = number_sets(&mut sets, sessions, key, &reader.columns);
        if let (Some(check), true) = (self.check, problems.is_empty()) {
            let found = sets.sets.iter().flat_map(|draft| check(&sets.athlete, draft));
            problems.extend(found.map(|problem| CellProblem::placed(problem, &reader.columns)));
        }
        let refused = self.refused.into_iter().flat_map(|refused| refused.of(reader.spot(row)));
        problems.extend(refused.map(|problem| CellProblem::placed(problem.clone(), &reader.columns)));
        if problems.is_empty() {
            sessions.add(key, sets.sets.len());
            return on_seen(row, reader, Seen::Sets(sets, key));
        }
        sessions.tear(key);
        on_seen(row, reader, Seen::Bad(&problems))
    }
}

/// Whose session of which day was read.
pub(super) fn place_of(outcome: Outcome) -> Option<(String, CivilDate, u8)> {
    match outcome {
        Outcome::Sets(sets) => Some((sets.athlete, sets.day, sets.session)),
        Outcome::Bad(_, place) => place,
        Outcome::LeftOut(_) => None,
    }
}

/// Numbers the sets of a row and derives their keys.
fn number_sets(
    sets: &mut RowSets,
    sessions: &mut Sessions,
    key: SessionKey,
    columns: &Columns,
) -> Vec<CellProblem> {
    let first = sets.number.unwrap_or_else(|| sessions.counted(key) + 1);
    let problem = |found: String, expected: &str| CellProblem {
        field: Some(Field::SetNumber),
        column: columns.place(Field::SetNumber),
        found,
        expected: expected.to_owned(),
    };
    let mut problems = Vec::new();
    for (number, draft) in (first..).zip(&mut sets.sets) {
        draft.set_number = number;
        draft.client_set_id = derived_set_id(&sets.athlete, sets.day, i64::from(sets.session), number);
        if number > MOST_SETS {
            let found = format!("set {number} of {} on {}", sets.athlete, sets.day);
            problems.push(problem(
                found,
                "at most 200 sets a session: is a column of athletes or sessions missing?",
            ));
            break;
        }
        if sets.number.is_some() && !sessions.take(key, number) {
            let found = format!("set {number} of {} on {} again", sets.athlete, sets.day);
            let expected = "each number once a session: where sets are counted anew for each exercise, take set_number out \
                            of the mapping, and they are counted by their rows";
            problems.push(problem(found, expected));
        }
    }
    problems
}
