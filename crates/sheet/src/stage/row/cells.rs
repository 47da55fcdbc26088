//! Cells: the cells of a row, read one by one.

use std::borrow::Cow;

use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::{SessionNumber, SetNumber, Unit};
use nextrung_domain::problem::{did_you_mean, nearest};

use super::{Meaning, OWN, Outcome, RowReader, RowSets};
use crate::cell::shown;
use crate::grid::{GridRow, Value};
use crate::mapping::{Field, KnownRung, Mapping, Who, folded, parts, read_day, slug};
use crate::stage::amount::whole;
use crate::stage::finding::CellProblem;
use crate::stage::summary::{Given, LeftOut};

/// The cells of a row, and what was found wrong with them so far.
pub(super) struct Cells<'r, 'm> {
    row: &'r GridRow<'r>,
    pub(super) reader: &'r mut RowReader<'m>,
    pub(super) problems: Vec<CellProblem>,
    pub(super) given: Vec<Given>,
}

impl<'r, 'm> Cells<'r, 'm> {
    pub(super) fn new(row: &'r GridRow<'r>, reader: &'r mut RowReader<'m>) -> Self {
        Self { row, reader, problems: Vec::new(), given: Vec::new() }
    }

    pub(super) fn outcome(mut self) -> Outcome {
        let exercise = match self.exercise() {
            Ok(None) => return Outcome::LeftOut(LeftOut::Exercise),
            Ok(Some(exercise)) => Some(exercise),
            Err(()) => None,
        };
        let athlete = self.athlete();
        let day = self.day();
        let session = self.session();
        let number = self.whole(Field::SetNumber, (SetNumber::LOW, SetNumber::HIGH));
        let sets = exercise.and_then(|(rung, unit)| self.sets(&rung, unit));
        let key = || Some((athlete.clone()?, day?, session?));
        match (key(), sets) {
            (Some((athlete, day, session)), Some(mut sets)) if self.problems.is_empty() => {
                for set in &mut sets {
                    set.training_date = Some(parts(day));
                    set.session = i64::from(session);
                }
                Outcome::Sets(RowSets { athlete, day, session, number, sets, given: self.given })
            }
            (key, _) => Outcome::Bad(self.problems, key),
        }
    }

    pub(super) fn add(
        &mut self,
        field: Field,
        column: Option<usize>,
        found: impl Into<String>,
        expected: impl Into<String>,
    ) {
        let (found, expected) = (found.into(), expected.into());
        self.problems.push(CellProblem { field: Some(field), column, found, expected });
    }

    /// The value at a place, by what is filled down; nothing when it is blank.
    fn at(&self, field: Field, place: usize) -> Option<Cow<'r, Value<'r>>> {
        let row = self.row;
        if OWN.contains(&field) && row.carried.contains(&place) {
            return None;
        }
        let own = row.cells.get(place).filter(|value| !value.is_blank()).map(Cow::Borrowed);
        let filled = || self.reader.filled.iter().find(|(at, _)| *at == place);
        own.or_else(|| filled().map(|(_, value)| Cow::Owned(value.clone())))
    }

    /// The value of a field that is filled, with its column; one that cannot be a value at all is reported.
    pub(super) fn value(&mut self, field: Field, place: usize) -> Option<Cow<'r, Value<'r>>> {
        let value = self.at(field, place)?;
        match value.as_ref() {
            Value::Error(_) | Value::Uncalculated => {
                let expected =
                    "a value: let a spreadsheet program calculate the sheet and save it, or type the value";
                self.add(field, Some(place), value.shown(), expected);
                None
            }
            dash if dash.says_nothing() => None,
            Value::Empty
            | Value::Text(_)
            | Value::Number(_)
            | Value::Day(_)
            | Value::Time(_)
            | Value::Truth(_) => Some(value),
        }
    }

    pub(super) fn given<T>(
        &mut self,
        field: Field,
        read: impl Fn(&Value<'_>, &Mapping) -> Result<T, String>,
    ) -> Option<T> {
        let place = self.reader.columns.place(field)?;
        let value = self.value(field, place)?;
        match read(&value, self.reader.mapping) {
            Ok(read) => Some(read),
            Err(expected) => {
                self.add(field, Some(place), value.shown(), expected);
                None
            }
        }
    }

    pub(super) fn whole(&mut self, field: Field, range: (i64, i64)) -> Option<i64> {
        self.given(field, |value, mapping| whole(value, mapping, range))
    }

    pub(super) fn text(&mut self, field: Field) -> Option<String> {
        self.given(field, |value, mapping| Ok(value.written(mapping.decimal_sign())))
    }

    /// What is expected in an empty cell that may mean the one above.
    fn wanted_from_above(&self, what: &str, field: Field) -> String {
        if self.reader.mapping.fill_down.contains(&field) {
            return format!("{what}: it is empty, and nothing stands above it that can be read");
        }
        let name = field.name();
        format!("{what}: if an empty cell means the one above, say fill_down = [\"{name}\"] in the mapping")
    }

    /// Reports a field that must be filled and is not.
    pub(super) fn missing(&mut self, field: Field, before: usize, expected: &str) {
        if self.problems.len() == before {
            self.add(field, self.reader.columns.place(field), "nothing", expected);
        }
    }

    /// The rung and its unit; nothing for an exercise that is left out.
    fn exercise(&mut self) -> Result<Option<(String, Unit)>, ()> {
        let before = self.problems.len();
        let Some(text) = self.text(Field::Exercise) else {
            self.missing(Field::Exercise, before, &self.wanted_from_above("an exercise", Field::Exercise));
            return Err(());
        };
        let word = folded(&text);
        match self.reader.exercises.get(&word) {
            Some(Meaning::Rung(rung, unit)) => return Ok(Some((rung.clone(), *unit))),
            Some(Meaning::LeaveOut) => return Ok(None),
            Some(Meaning::Unknown(_)) | None => {}
        }
        let (found, asked) = match self.reader.exercises.get(&word) {
            Some(Meaning::Unknown(rung)) => {
                (format!("{}, {} by the mapping", shown(text.trim()), shown(rung)), rung.clone())
            }
            _ => (shown(text.trim()), word.clone()),
        };
        let guess = if self.may_guess() { guess_of(&asked, self.reader.rungs) } else { String::new() };
        let short = shown(&word);
        let expected = format!(
            "what {short} means: a line of [exercises] in the mapping that says it as ladder/rung, or \"\" to leave such \
             rows out{guess}"
        );
        self.add(Field::Exercise, self.reader.columns.place(Field::Exercise), found, expected);
        Err(())
    }

    fn athlete(&mut self) -> Option<String> {
        let before = self.problems.len();
        let named = self.text(Field::Athlete).map(|text| text.trim().to_owned());
        let athlete =
            named.or_else(|| self.reader.mapping.athlete.clone().filter(|_| self.problems.len() == before));
        let Some(athlete) = athlete else {
            self.missing(Field::Athlete, before, &self.wanted_from_above("an athlete", Field::Athlete));
            return None;
        };
        self.known_athlete(athlete)
    }

    /// The athlete by the mapping and, where there is one, by the roster.
    fn known_athlete(&mut self, written: String) -> Option<String> {
        let mapping = self.reader.mapping;
        let said = match mapping.athletes.is_empty() {
            true => None,
            false => mapping.athletes.get(&folded(&written)),
        };
        let Some(directory) = self.reader.athletes else { return Some(said.cloned().unwrap_or(written)) };
        let is_of_sheet = mapping.athlete.as_ref() == Some(&written);
        let who = match said {
            Some(said) => directory.of_mapping(said),
            None if is_of_sheet => directory.of_mapping(&written),
            None => directory.of_word(&written),
        };
        if let Who::One(id) = who {
            return Some(id.to_owned());
        }
        let by_mapping = said.map(|said| format!(", {} by the mapping", shown(said))).unwrap_or_default();
        let is_unknown = who == Who::Nobody && self.may_guess();
        let guess = if is_unknown { directory.guess_of(&written) } else { String::new() };
        let expected = who.expected(&shown(&folded(&written))) + &guess;
        let found = format!("{}{by_mapping}", shown(&written));
        self.add(Field::Athlete, self.reader.columns.place(Field::Athlete), found, expected);
        None
    }

    /// True as long as few names were guessed, since each costs a look at all.
    fn may_guess(&mut self) -> bool {
        let left = self.reader.guesses_left;
        self.reader.guesses_left = left.saturating_sub(1);
        left > 0
    }

    fn day(&mut self) -> Option<CivilDate> {
        if self.reader.columns.day.is_some() {
            return self.reader.columns.day;
        }
        let before = self.problems.len();
        let day = self.given(Field::Date, |value, mapping| match value {
            Value::Day(day) => Ok(*day),
            Value::Text(text) => read_day(text.trim(), mapping.day_order).map_err(|expected| {
                let is_figure = text.trim().bytes().all(|b| b.is_ascii_digit());
                if is_figure { COUNTED_DAY.to_owned() } else { expected }
            }),
            Value::Number(_) => Err(COUNTED_DAY.to_owned()),
            Value::Empty | Value::Time(_) | Value::Truth(_) | Value::Error(_) | Value::Uncalculated => {
                Err("a day".to_owned())
            }
        });
        if day.is_none() {
            self.missing(Field::Date, before, &self.wanted_from_above("a day", Field::Date));
        }
        day
    }

    fn session(&mut self) -> Option<u8> {
        let before = self.problems.len();
        let session = self.whole(Field::Session, (SessionNumber::LOW, SessionNumber::HIGH));
        if self.problems.len() > before {
            return None;
        }
        let of_sheet = self.reader.mapping.session.map_or(1, |session| i64::from(session.get()));
        u8::try_from(session.unwrap_or(of_sheet)).ok()
    }
}

const COUNTED_DAY: &str = "a day: a number here may be one that lost its format; format the column as days, or write \
                           them as 2026-03-14";

/// The rung that a word may mean, by its own name or with its ladder's.
pub(crate) fn guess_of(word: &str, rungs: &[KnownRung]) -> String {
    let slug = slug(word);
    let full = did_you_mean(&slug, rungs.iter().map(|rung| rung.name.as_str()));
    if !full.is_empty() {
        return full;
    }
    let own = |rung: &'_ KnownRung| rung.name.split_once('/').map(|(_, own)| own.to_owned());
    let names: Vec<String> = rungs.iter().filter_map(own).collect();
    let near = nearest(&slug, names.iter().map(String::as_str));
    let rung = near.and_then(|near| {
        rungs.iter().find(|rung| rung.name.split_once('/').is_some_and(|(_, own)| own == near))
    });
    rung.map(|rung| format!("; did you mean `{}`?", rung.name)).unwrap_or_default()
}
