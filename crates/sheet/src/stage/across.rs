//! Across: a row with what was done on several days, judged once for each of its cells under a day.

use std::ops::ControlFlow;

use nextrung_domain::date::CivilDate;

use super::finding::CellProblem;
use super::judge::{OnSeen, Seen, place_of};
use super::row::{Outcome, RowReader};
use super::session::Sessions;
use super::{Import, LeftOut};
use crate::grid::{Fault, GridRow, Value};
use crate::mapping::{Columns, Field};

/// A row with one of its cells under days at a time, the others blank.
struct UnderDays<'r> {
    row: &'r GridRow<'r>,
    cells: Vec<Value<'r>>,
    /// The cells that hold something, by their place and day.
    days: Vec<(usize, CivilDate)>,
}

impl<'r> UnderDays<'r> {
    fn of(row: &'r GridRow<'r>, columns: &Columns) -> Self {
        let is_filled = |place: usize| {
            row.cells.get(place).is_some_and(|value| !value.says_nothing()) && !row.carried.contains(&place)
        };
        let days = columns.days.iter().filter(|(place, _)| is_filled(*place)).copied().collect();
        let mut under = Self { row, cells: row.cells.to_vec(), days };
        columns.days.iter().for_each(|(place, _)| under.blank(*place));
        under
    }

    fn blank(&mut self, place: usize) {
        if let Some(cell) = self.cells.get_mut(place) {
            *cell = Value::Empty;
        }
    }

    /// Calls with the row that has one cell filled, for one after the other.
    fn with_each(&mut self, on_cell: &mut dyn FnMut((usize, CivilDate), &GridRow<'_>)) {
        for (place, day) in self.days.clone() {
            self.cells[place] = self.row.cells[place].clone();
            on_cell((place, day), &GridRow { cells: &self.cells, ..*self.row });
            self.blank(place);
        }
    }

    /// The row with none of them.
    fn bare(&self) -> GridRow<'_> {
        GridRow { cells: &self.cells, ..*self.row }
    }
}

impl Import<'_, '_> {
    /// Judges a row where days stand across. Fails on a row of days that cannot be read, or may be one, and on more cells than
    /// are taken.
    pub(super) fn see_across(
        &self,
        row: &GridRow<'_>,
        reader: &mut RowReader<'_>,
        sessions: &mut Sessions,
        on_seen: OnSeen<'_>,
    ) -> Result<ControlFlow<()>, Fault> {
        if reader.columns.is_of_other_days(row, self.mapping) {
            reader.columns = reader.columns.under_days_of(row, self.mapping)?;
            return Ok(on_seen(row, reader, Seen::LeftOut(LeftOut::HeaderAgain)));
        }
        reader.columns.read_under();
        let mut under = UnderDays::of(row, &reader.columns);
        // Where an exercise is named, faults are those of its cells.
        if !reader.leaves_hidden_out(row) && !reader.names_exercise(row) {
            reader.columns.says_no_days(row, &under.days)?;
        }
        reader.count_cells(under.days.len())?;
        let stray = reader.columns.under_no_day(row);
        if under.days.is_empty() {
            return Ok(see_nothing_done(row, (&under, stray), reader, on_seen));
        }
        let (mut read, mut has_sum) = (Vec::new(), false);
        under.with_each(&mut |(place, day), row| {
            reader.columns.turn_to((place, day));
            read.push((place, reader.read(row)));
            has_sum |= reader.is_sum;
        });
        if has_sum {
            reader.filled.clear();
        }
        let flow = match whole(row, &read, (stray, has_sum)) {
            Whole::LeftOut(why) => on_seen(row, reader, Seen::LeftOut(why)),
            Whole::Bad(problems) => {
                read.into_iter().for_each(|(_, outcome)| sessions.tear_at(place_of(outcome)));
                reader.columns.turn_back();
                on_seen(row, reader, Seen::Bad(&problems))
            }
            Whole::Apart => {
                let (mut flow, mut read) = (ControlFlow::Continue(()), read.into_iter());
                under.with_each(&mut |day, row| {
                    reader.columns.turn_to(day);
                    if let (Some((_, outcome)), ControlFlow::Continue(())) = (read.next(), flow) {
                        flow = self.settle(row, outcome, (&mut *reader, sessions), &mut *on_seen);
                    }
                });
                flow
            }
        };
        reader.columns.turn_back();
        Ok(flow)
    }
}

/// What the cells of a row come to together.
enum Whole {
    LeftOut(LeftOut),
    /// What is wrong is about the row, or nobody knows which of its days it is about: the whole row waits.
    Bad(Vec<CellProblem>),
    /// Each for itself.
    Apart,
}

fn whole(row: &GridRow<'_>, read: &[(usize, Outcome)], (stray, has_sum): (Option<usize>, bool)) -> Whole {
    let mut problems: Vec<CellProblem> = stray.map(|place| of_stray(row, place)).into_iter().collect();
    let mut is_whole = stray.is_some() || has_sum;
    for (place, outcome) in read {
        match outcome {
            Outcome::LeftOut(why) => return Whole::LeftOut(*why),
            Outcome::Bad(found, _) => {
                is_whole |= found.iter().any(|problem| problem.column != Some(*place));
                let new: Vec<_> =
                    found.iter().filter(|problem| !problems.contains(problem)).cloned().collect();
                problems.extend(new);
            }
            Outcome::Sets(_) => {}
        }
    }
    if is_whole { Whole::Bad(problems) } else { Whole::Apart }
}

/// A row with nothing under its days: nothing was done, unless its exercise is unknown, which may be a name or a heading that
/// the rows below hang on.
fn see_nothing_done(
    row: &GridRow<'_>,
    (under, stray): (&UnderDays<'_>, Option<usize>),
    reader: &mut RowReader<'_>,
    on_seen: OnSeen<'_>,
) -> ControlFlow<()> {
    if let Some(first) = reader.columns.days.first().copied() {
        reader.columns.turn_to(first);
    }
    let outcome = reader.read(&under.bare());
    reader.columns.turn_back();
    let found = match outcome {
        Outcome::LeftOut(why) if stray.is_none() || matches!(why, LeftOut::Hidden | LeftOut::Exercise) => {
            return on_seen(row, reader, Seen::LeftOut(why));
        }
        Outcome::Bad(found, _) => found,
        Outcome::LeftOut(_) | Outcome::Sets(_) => Vec::new(),
    };
    let unknown = found.into_iter().filter(|problem| problem.field == Some(Field::Exercise));
    let problems: Vec<CellProblem> =
        stray.map(|place| of_stray(row, place)).into_iter().chain(unknown).collect();
    let seen = if problems.is_empty() { Seen::LeftOut(LeftOut::Undone) } else { Seen::Bad(&problems) };
    on_seen(row, reader, seen)
}

/// What is wrong with a cell that no day stands over.
fn of_stray(row: &GridRow<'_>, place: usize) -> CellProblem {
    CellProblem {
        field: Some(Field::Sets),
        column: Some(place),
        found: row.cells.get(place).map(Value::shown).unwrap_or_default(),
        expected: "no cell without a header beside the days: all sets of a day stand in one cell under it, in quotes in CSV where they \
                   hold the separator"
            .to_owned(),
    }
}
