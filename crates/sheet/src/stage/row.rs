//! Row: one row of the sheet, read into drafts by the mapping.

use std::collections::BTreeMap;

use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::SetDraft;
use nextrung_domain::measure::Unit;

use crate::counted::counted;
use crate::grid::cap::MAX_FILLED_ROWS;
use crate::grid::{Fault, GridRow, Value};
use crate::mapping::{Columns, Directory, Field, HiddenRows, KnownRung, Mapping, UndoneRows, Who, folded};
use crate::stage::finding::{CellProblem, MAX_FINDINGS};
use crate::stage::spot::Spot;
use crate::stage::summary::{Given, LeftOut};

mod cells;
mod sets;
mod sums;

use cells::Cells;
pub(crate) use cells::guess_of;
use sums::Sums;

/// Fields whose merged or filled value belongs to the first row alone: what was done there, and what was said of it.
const OWN: [Field; 7] =
    [Field::Sets, Field::SetCount, Field::SetNumber, Field::Reps, Field::Seconds, Field::Done, Field::Note];

/// Fields that say nothing of a set: whose and when, and what else there is to say.
const HEADINGS: [Field; 4] = [Field::Date, Field::Athlete, Field::Session, Field::Note];

/// Fields that say that something was done.
const DONE: [Field; 7] =
    [Field::Sets, Field::Reps, Field::Seconds, Field::Done, Field::Stop, Field::Reserve, Field::Pain];

/// What a row comes to.
pub(crate) enum Outcome {
    Sets(RowSets),
    LeftOut(LeftOut),
    /// The problems, and athlete, day and session where they could be read.
    Bad(Vec<CellProblem>, Option<(String, CivilDate, u8)>),
}

/// The sets of a row, neither numbered nor named yet.
pub(crate) struct RowSets {
    pub(crate) athlete: String,
    pub(crate) day: CivilDate,
    pub(crate) session: u8,
    /// The number that a column gives to the first.
    pub(crate) number: Option<i64>,
    pub(crate) sets: Vec<SetDraft>,
    pub(crate) given: Vec<Given>,
}

/// What a word of the exercise column means.
enum Meaning {
    Rung(String, Unit),
    LeaveOut,
    /// A rung that nobody knows.
    Unknown(String),
}

/// Reads the rows of a sheet, one after the other.
pub(crate) struct RowReader<'m> {
    mapping: &'m Mapping,
    pub(crate) columns: Columns,
    exercises: BTreeMap<String, Meaning>,
    rungs: &'m [KnownRung],
    athletes: Option<&'m Directory>,
    is_text: bool,
    /// Words that are still looked up for a guess; each costs.
    guesses_left: usize,
    /// The values above, of fields that are filled down.
    above: BTreeMap<usize, Value<'static>>,
    /// By the column where days stand across.
    sums: BTreeMap<usize, Sums>,
    /// Cells under days so far.
    cells: usize,
    /// True when the last row that was read is a line of sums.
    pub(crate) is_sum: bool,
    /// True when nobody can say whose the last row that was read is, or of which day, by what stands above it.
    pub(crate) is_untrusted: bool,
    /// Cells of the last row that took the value above, with that value.
    pub(crate) filled: Vec<(usize, Value<'static>)>,
}

impl<'m> RowReader<'m> {
    pub(crate) fn new(mapping: &'m Mapping, rungs: &'m [KnownRung], columns: Columns, is_text: bool) -> Self {
        let unit_of = |name: &str| rungs.iter().find(|rung| rung.name == name).map(|rung| rung.unit);
        let meaning = |rung: &Option<String>| match rung {
            None => Meaning::LeaveOut,
            Some(name) => match unit_of(name) {
                Some(unit) => Meaning::Rung(name.clone(), unit),
                None => Meaning::Unknown(name.clone()),
            },
        };
        let own = rungs.iter().map(|rung| (rung.name.clone(), Meaning::Rung(rung.name.clone(), rung.unit)));
        let aliases = mapping.exercises.iter().map(|(word, rung)| (word.clone(), meaning(rung)));
        Self {
            mapping,
            columns,
            exercises: own.chain(aliases).collect(),
            rungs,
            athletes: None,
            is_text,
            guesses_left: MAX_FINDINGS,
            above: BTreeMap::new(),
            sums: BTreeMap::new(),
            cells: 0,
            is_sum: false,
            is_untrusted: false,
            filled: Vec::new(),
        }
    }

    /// The same for the athletes of a roster.
    pub(crate) fn with_athletes(self, athletes: Option<&'m Directory>) -> Self {
        Self { athletes, ..self }
    }

    /// Where the sets of a row stand.
    pub(crate) fn spot(&self, row: &GridRow<'_>) -> Spot {
        match (self.columns.day, self.columns.place(Field::Sets)) {
            (Some(_), Some(place)) => Spot::of_cell(row.number, place),
            _ => Spot::of_row(row.number),
        }
    }

    /// Counts cells under days. Fails when they are too many.
    pub(crate) fn count_cells(&mut self, cells: usize) -> Result<(), Fault> {
        self.cells += cells;
        if self.cells <= MAX_FILLED_ROWS {
            return Ok(());
        }
        let found = format!("more than {MAX_FILLED_ROWS} cells under days");
        Err(Fault::new(found, "fewer: split the sheet"))
    }

    /// Reads the next row.
    pub(crate) fn read(&mut self, row: &GridRow<'_>) -> Outcome {
        self.filled.clear();
        (self.is_sum, self.is_untrusted) = (false, false);
        if let Some(problem) = self.misshapen(row) {
            self.forget_above(row);
            self.is_untrusted = true;
            return Outcome::Bad(vec![problem], None);
        }
        if self.columns.is_repeated_in(row) {
            return Outcome::LeftOut(LeftOut::HeaderAgain);
        }
        let left_out = self.left_out(row);
        if left_out == Some(LeftOut::Heading)
            && let Some(problem) = self.names_another(row)
        {
            return Outcome::Bad(vec![problem], None);
        }
        // What stands in a row that is left out still counts for the cells below it that mean the value above.
        self.fill_down(row);
        if let Some(why) = left_out {
            self.filled.clear();
            return Outcome::LeftOut(why);
        }
        let outcome = Cells::new(row, self).outcome();
        self.unless_a_sum(row, outcome)
    }

    /// What a row comes to; a problem when it is a line of sums whose empty cells took the value above.
    fn unless_a_sum(&mut self, row: &GridRow<'_>, outcome: Outcome) -> Outcome {
        let Outcome::Sets(sets) = outcome else { return outcome };
        let named = [Field::Date, Field::Athlete, Field::Session, Field::Exercise];
        let is_bare = !named.into_iter().any(|field| self.has_own(field, row));
        let column = self.columns.day.and(self.columns.place(Field::Sets)).unwrap_or_default();
        let Some(sum) = self.sums.entry(column).or_default().told_by(&sets, is_bare) else {
            return Outcome::Sets(sets);
        };
        let fields = [Field::Sets, Field::Reps, Field::Seconds, Field::Done];
        let field = fields.into_iter().find(|field| self.has_own(*field, row));
        let problem = CellProblem {
            field,
            column: field.and_then(|field| self.columns.place(field)),
            found: format!("`{sum}`, the sum of the rows above"),
            expected: "no line of sums: take it out, or name the exercise in it where it is a set".to_owned(),
        };
        self.is_sum = true;
        // Set aside with what it took from above, it would name the exercise itself.
        self.filled.clear();
        Outcome::Bad(vec![problem], Some((sets.athlete, sets.day, sets.session)))
    }

    /// Why a row is passed over, by the fields in which it has something of its own.
    fn left_out(&self, row: &GridRow<'_>) -> Option<LeftOut> {
        if row.is_hidden && self.mapping.hidden_rows == HiddenRows::LeaveOut {
            return Some(LeftOut::Hidden);
        }
        let mut others = Field::ALL.into_iter().filter(|field| !HEADINGS.contains(field));
        if !others.any(|field| self.has_own(field, row)) {
            let is_heading = HEADINGS.into_iter().any(|field| self.has_own(field, row));
            return Some(if is_heading { LeftOut::Heading } else { LeftOut::Nothing });
        }
        // Where days stand across, nothing under a day is no plan, and an exercise that nobody knows is told all the same.
        let is_undone = self.columns.days.is_empty()
            && self.mapping.undone == UndoneRows::LeaveOut
            && !DONE.into_iter().any(|field| self.has_own(field, row));
        is_undone.then_some(LeftOut::Undone)
    }

    /// True for a hidden row that is left out.
    pub(crate) fn leaves_hidden_out(&self, row: &GridRow<'_>) -> bool {
        self.left_out(row) == Some(LeftOut::Hidden)
    }

    /// True where a row itself names an exercise that means a rung.
    pub(crate) fn names_exercise(&self, row: &GridRow<'_>) -> bool {
        let place = self.columns.place(Field::Exercise).filter(|place| !row.carried.contains(place));
        let own = place.and_then(|place| row.cells.get(place)).map(|value| folded(&value.written('.')));
        own.is_some_and(|word| matches!(self.exercises.get(&word), Some(Meaning::Rung(..))))
    }

    /// Where the fields stand that an empty cell takes from above.
    pub(crate) fn filled_places(&self) -> Vec<usize> {
        self.mapping.fill_down.iter().filter_map(|field| self.columns.place(*field)).collect()
    }

    /// What is wrong with a row that names another athlete alone, in a sheet that is said to be of one.
    fn names_another(&self, row: &GridRow<'_>) -> Option<CellProblem> {
        let (directory, own) = self.athletes.zip(self.mapping.athlete.as_ref())?;
        let Who::One(own) = directory.of_mapping(own) else { return None };
        let own_places = HEADINGS.into_iter().filter(|field| self.has_own(*field, row));
        own_places.filter_map(|field| Some((field, self.columns.place(field)?))).find_map(
            |(field, column)| {
                let Some(Value::Text(text)) = row.cells.get(column) else { return None };
                let Who::One(other) = directory.of_word(text.trim()) else { return None };
                (other != own).then(|| CellProblem {
                    field: Some(field),
                    column: Some(column),
                    found: format!("`{}`, another athlete", text.trim()),
                    expected: format!(
                        "sets of {own} alone: give each row its athlete in a column of their own"
                    ),
                })
            },
        )
    }

    fn misshapen(&self, row: &GridRow<'_>) -> Option<CellProblem> {
        let problem = |column, found: String, expected: &str| {
            Some(CellProblem { field: None, column, found, expected: expected.to_owned() })
        };
        if let Some(fault) = row.fault {
            return problem(Some(row.cells.len()), fault.found.to_owned(), fault.expected);
        }
        let width = self.columns.titles.len();
        let last = row.cells.iter().rposition(|value| !value.is_blank()).unwrap_or(0);
        // Where days stand across, what is beside them is told as that.
        if self.is_text && width > 0 && last >= width && self.columns.days.is_empty() {
            let expected = "no more cells than headers: a cell that holds the separator, as a decimal comma may be, stands \
                            in quotes";
            let found = format!("{} cells under {}", last + 1, counted(width, "header"));
            return problem(Some(last), found, expected);
        }
        None
    }

    /// True when a cell of the field holds something that was not carried there.
    fn has_own(&self, field: Field, row: &GridRow<'_>) -> bool {
        let is_own = |place: &usize| {
            row.cells.get(*place).is_some_and(|value| !value.says_nothing()) && !row.carried.contains(place)
        };
        let several = self.columns.sets.iter().filter(|_| field == Field::Sets);
        several.copied().chain(self.columns.place(field)).any(|place| is_own(&place))
    }

    /// Forgets the values above that a row may have meant to change and that cannot be trusted: rows below it must not be taken
    /// for those of another athlete or day.
    fn forget_above(&mut self, row: &GridRow<'_>) {
        // Of a row with a faulty quote the cells before it can be read.
        let is_changed = |place: &usize| match row.cells.get(*place) {
            Some(value) => !value.says_nothing(),
            None => row.fault.is_some(),
        };
        self.above.retain(|place, _| !is_changed(place));
    }

    fn fill_down(&mut self, row: &GridRow<'_>) {
        for field in &self.mapping.fill_down {
            let Some(place) = self.columns.place(*field) else { continue };
            match row.cells.get(place).filter(|value| !value.is_blank()) {
                Some(value) if !value.says_nothing() && self.above.get(&place) != Some(value) => {
                    self.above.insert(place, value.kept());
                }
                Some(_) => {}
                None => self.filled.extend(self.above.get(&place).map(|value| (place, value.clone()))),
            }
        }
        if row.carried.is_empty() {
            return;
        }
        let own: Vec<usize> = OWN.iter().filter_map(|field| self.columns.place(*field)).collect();
        for place in row.carried.iter().filter(|place| !own.contains(place)) {
            let value = row.cells.get(*place).filter(|value| !value.is_blank());
            self.filled.extend(value.map(|value| (*place, value.kept())));
        }
    }
}
