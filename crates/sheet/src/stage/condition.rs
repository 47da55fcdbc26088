//! Condition: what must hold before a sheet is read.

use std::ops::ControlFlow;

use crate::grid::{Cause, Fault, Grid, Refusal, Value, cell_name};
use crate::mapping::{Field, Layout, Mapping};

/// The sheet of a name, or the only one that is visible. Fails when there is none, and on a log of our own.
pub(crate) fn find_sheet(grid: &Grid<'_>, name: Option<&str>) -> Result<usize, Refusal> {
    let at = named_sheet(grid, name)?;
    is_others(grid, at).map(|()| at)
}

fn named_sheet(grid: &Grid<'_>, name: Option<&str>) -> Result<usize, Refusal> {
    let refused = |found: String, expected: String, cause: Cause| {
        Err(Fault::new(found, expected).because(cause).refuse(grid.file(), None))
    };
    let sheets = grid.sheets();
    let names = || sheets.iter().map(|sheet| format!("`{}`", sheet.name)).collect::<Vec<_>>().join(", ");
    if grid.is_text() {
        return Ok(0);
    }
    if let Some(name) = name {
        return match sheets.iter().position(|sheet| sheet.name == name) {
            Some(at) => Ok(at),
            None => refused(format!("no sheet `{name}`"), format!("one of {}", names()), Cause::Other),
        };
    }
    let visible: Vec<usize> = (0..sheets.len()).filter(|at| !sheets[*at].is_hidden).collect();
    match visible.as_slice() {
        [one] => Ok(*one),
        several => refused(
            format!("{} visible sheets", several.len()),
            format!("the name of one, sheet = \"..\" in the mapping: {}", names()),
            Cause::SheetOpen,
        ),
    }
}

/// What stands in the second row of a log that this program wrote: every set in it is recorded already, under other names than a
/// sheet gives its sets.
pub const OWN_LOG: &str =
    "Written by nextrung from the log that it keeps: to be read, not to be taken in again.";

/// Rows among which it is looked for.
const MARKED_WITHIN: u32 = 3;

/// Fails on a log that this program wrote.
fn is_others(grid: &Grid<'_>, sheet: usize) -> Result<(), Refusal> {
    let mut mark = None;
    grid.walk(sheet, &mut |row| {
        let is_mark = |value: &Value<'_>| matches!(value, Value::Text(text) if text.trim() == OWN_LOG);
        mark = row.cells.first().filter(|value| is_mark(value)).map(|_| cell_name(0, row.number));
        if mark.is_some() || row.number >= MARKED_WITHIN {
            ControlFlow::Break(())
        } else {
            ControlFlow::Continue(())
        }
    })?;
    let Some(mark) = mark else { return Ok(()) };
    let expected = "a sheet of somebody's own: every set here is recorded already; to mend one there is nextrung sets correct";
    Err(Fault::new("a log that this program wrote", expected)
        .at(mark)
        .refuse(grid.file(), grid.sheet_name(sheet)))
}

/// What is said of a day's sets and not of a row, where days stand across.
pub(crate) const OF_A_DAY: [Field; 12] = [
    Field::Date,
    Field::Sets,
    Field::SetCount,
    Field::SetNumber,
    Field::Reps,
    Field::Seconds,
    Field::Done,
    Field::Stop,
    Field::Reserve,
    Field::Pain,
    Field::BodyMass,
    Field::Note,
];

/// What a mapping lacks that every set needs, or says twice.
pub(super) fn lacks(mapping: &Mapping) -> Result<(), Fault> {
    let need = |is_there: bool, found: &str, expected: &str| {
        if is_there { Ok(()) } else { Err(Fault::new(found, expected)) }
    };
    if !mapping.unsaid.is_empty() {
        let open: Vec<String> = mapping.unsaid.iter().map(|open| format!("`{open}`")).collect();
        let found = format!("a mapping that leaves open {}", open.join(", "));
        let expected = "an answer to each, by its key or under [columns], and to_be_said without it; a column that is not to be \
                        read is only taken out there";
        return Err(Fault::new(found, expected));
    }
    let is_across = mapping.layout == Layout::DaysAcross;
    need(
        is_across || mapping.has(Field::Date),
        "a mapping without a column of days",
        "date under [columns]",
    )?;
    need(
        mapping.has(Field::Exercise),
        "a mapping without a column of exercises",
        "exercise under [columns]",
    )?;
    let has_athlete = mapping.has(Field::Athlete) || mapping.athlete.is_some();
    let expected = "athlete under [columns], or athlete = \"..\" for the whole sheet";
    need(has_athlete, "a mapping that names no athlete", expected)?;
    let has_one = [Field::Reps, Field::Seconds, Field::Done].into_iter().any(|field| mapping.has(field));
    match mapping.layout {
        Layout::SetARow => need(
            has_one && !mapping.has(Field::Sets) && !mapping.has(Field::SetCount),
            "a mapping of one set a row without its own column of units done",
            "reps, seconds or done under [columns], and neither sets nor set_count; or layout = \"exercise-a-row\"",
        ),
        Layout::ExerciseARow => need(
            !has_one && mapping.has(Field::Sets),
            "a mapping of one exercise a row without its own column of sets",
            "sets under [columns] (a column of reps too is called sets there), and none of reps, seconds and done",
        ),
        Layout::DaysAcross => match OF_A_DAY.into_iter().find(|field| mapping.has(*field)) {
            Some(field) => Err(Fault::new(
                format!("a mapping of days across with a column of its own for {}", field.name()),
                format!(
                    "{} taken out of [columns]: only what holds for all days of a row has a column there",
                    field.name()
                ),
            )),
            None => Ok(()),
        },
    }
}
