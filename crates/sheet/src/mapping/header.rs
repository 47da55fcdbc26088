//! Header: where the columns of a mapping stand in a sheet.

use nextrung_domain::problem::did_you_mean;

use super::{
    ColumnName, DayColumns, Field, Layout, Mapping, day_columns, folded, is_day, is_half_day, names_weekday,
};
use crate::grid::{Fault, GridRow, Value, cell_name};
use crate::notation::{NotedSet, Style, read_sets_of_cell};
use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::Unit;

/// Where each field stands.
#[derive(Debug, Clone)]
pub(crate) struct Columns {
    places: [Option<usize>; Field::ALL.len()],
    /// Columns of [`Field::Sets`], in their order.
    pub(crate) sets: Vec<usize>,
    /// Columns under a day, where days stand across.
    pub(crate) days: DayColumns,
    /// From where on no cell may stand under no header: the leftmost column that ever stood under a day.
    first_day: usize,
    /// True until a row was read under them.
    is_fresh: bool,
    /// The day whose column is read.
    pub(crate) day: Option<CivilDate>,
    /// The header as written; empty for a sheet without one.
    pub(crate) titles: Vec<String>,
    /// The row of the header.
    pub(crate) row: u32,
}

impl Columns {
    /// Looks for the mapping's headers in a row. Nothing when it is not the header; fails when a header stands twice.
    pub(crate) fn find(mapping: &Mapping, row: &GridRow<'_>) -> Result<Option<Self>, Fault> {
        let titles: Vec<String> =
            row.cells.iter().map(|value| value.written('.').trim().to_owned()).collect();
        let words: Vec<String> = titles.iter().map(|title| folded(title)).collect();
        let mut columns = Self::bare();
        for (field, names) in &mapping.columns {
            for name in names {
                let place = match name {
                    ColumnName::Place(place) => *place,
                    ColumnName::Header(text) => match places_of(&words, text).as_slice() {
                        [] => return Ok(None),
                        [place] => *place,
                        [first, second, ..] => return Err(doubled(text, (*first, *second), row.number)),
                    },
                };
                columns.put(*field, place);
            }
        }
        if mapping.layout == Layout::DaysAcross {
            columns.days = day_columns(row, |place| columns.takes(place), mapping.day_order)?;
            // A day alone may stand beside a title; where no header is looked for, nothing else tells.
            let is_anchored =
                mapping.columns.values().flatten().any(|name| matches!(name, ColumnName::Header(_)));
            match columns.days.first() {
                Some((first, _)) if is_anchored || columns.days.len() > 1 => columns.first_day = *first,
                Some(_) | None => return Ok(None),
            }
        }
        columns.titles = titles;
        columns.row = row.number;
        Ok(Some(columns))
    }

    /// Turns to the column of a day.
    pub(crate) fn turn_to(&mut self, (place, day): (usize, CivilDate)) {
        self.sets = vec![place];
        self.places[Field::Sets as usize] = Some(place);
        self.day = Some(day);
    }

    /// Turns to no day's column.
    pub(crate) fn turn_back(&mut self) {
        self.sets.clear();
        self.places[Field::Sets as usize] = None;
        self.day = None;
    }

    /// The same columns under the days of another row of headers; under the same days where a merged header or weekdays alone
    /// stand in it. Fails when there are none, and on what may be a day and cannot be read.
    pub(crate) fn under_days_of(&self, row: &GridRow<'_>, mapping: &Mapping) -> Result<Self, Fault> {
        let days = day_columns(row, |place| self.takes(place), mapping.day_order)?;
        if days.is_empty() {
            // A header merged over two rows, or weekdays under the days.
            let is_merged = self.places.iter().flatten().all(|place| row.carried.contains(place));
            let is_same = self.is_fresh && (is_merged || self.says_weekdays_alone(row));
            let fault = Fault::new(
                "a row of headers without a day",
                "days with their year over the columns of sets, or no such row there",
            );
            return if is_same { Ok(self.clone()) } else { Err(fault.at(format!("row {}", row.number))) };
        }
        let mut titles: Vec<String> =
            row.cells.iter().map(|value| value.written('.').trim().to_owned()).collect();
        titles.resize(titles.len().max(self.titles.len()), String::new());
        let first = days.first().map_or(self.first_day, |(place, _)| *place);
        let first_day = self.first_day.min(first);
        Ok(Self { days, first_day, is_fresh: true, titles, row: row.number, ..self.clone() })
    }

    /// True for a row of headers below the first: it says those of the mapping again, or nothing beside weekdays, or days where
    /// the mapping's columns have no headers. What the exercise above is meant for is no such row: a spreadsheet may have taken
    /// its sets for days.
    pub(crate) fn is_of_other_days(&self, row: &GridRow<'_>, mapping: &Mapping) -> bool {
        let has_header = |place: &usize| self.titles.get(*place).is_some_and(|title| !title.is_empty());
        let is_bare =
            !mapping.fill_down.contains(&Field::Exercise) && !self.places.iter().flatten().any(has_header);
        let is_count = |set: &NotedSet| set.count <= i64::from(Unit::HoldSeconds.most());
        let reads = |text: &str| {
            read_sets_of_cell(text, Style::default()).is_ok_and(|sets| sets.iter().all(is_count))
        };
        let may_be_sets = |value: &Value<'_>| matches!(value, Value::Text(text) if reads(text));
        let is_plain_day = |value: &Value<'_>| is_day(value) && !may_be_sets(value);
        let says_days_alone = || {
            row.cells.iter().all(|value| value.is_blank() || is_plain_day(value))
                && row.cells.iter().filter(|value| !value.is_blank()).count() > 1
        };
        self.is_repeated_in(row) || self.says_weekdays_alone(row) || is_bare && says_days_alone()
    }

    /// Notes that a row was read under them.
    pub(crate) fn read_under(&mut self) {
        self.is_fresh = false;
    }

    /// True for a row that says weekdays and nothing else.
    fn says_weekdays_alone(&self, row: &GridRow<'_>) -> bool {
        let mut open =
            row.cells.iter().enumerate().filter(|(place, value)| !value.is_blank() && !self.takes(*place));
        let has_own = |place: &usize| {
            row.cells.get(*place).is_some_and(|value| !value.is_blank()) && !row.carried.contains(place)
        };
        !self.places.iter().flatten().any(has_own)
            && open.clone().next().is_some()
            && open.all(|(_, value)| names_weekday(value))
    }

    /// Fails where all that stands under days is days, two or more: a row of headers that is none of the mapping's, or sets that
    /// look like days. What follows would be taken for that of other days.
    pub(crate) fn says_no_days(&self, row: &GridRow<'_>, filled: &[(usize, CivilDate)]) -> Result<(), Fault> {
        let is_half = |value: &Value<'_>| matches!(value, Value::Text(text) if is_half_day(text));
        let is_like_day = |(place, _): &(usize, CivilDate)| {
            row.cells.get(*place).is_some_and(|value| is_day(value) || is_half(value))
        };
        let [(first, _), _, ..] = filled else { return Ok(()) };
        if !filled.iter().all(is_like_day) {
            return Ok(());
        }
        let found = row.cells.get(*first).map(Value::shown).unwrap_or_default();
        let expected = "sets, three of them as `10 10 12`, or a row of further days, which says the headers of the mapping again and \
                        has a year in four figures";
        Err(Fault::new(format!("{found}, and days in all cells of the row"), expected)
            .at(cell_name(*first, row.number)))
    }

    /// The first cell that holds something under no header and may be sets: beside the days, or between them and what else is
    /// read.
    pub(crate) fn under_no_day(&self, row: &GridRow<'_>) -> Option<usize> {
        let has_title = |place: &usize| self.titles.get(*place).is_some_and(|title| !title.is_empty());
        let reads = |text: &str| read_sets_of_cell(text, Style::default()).is_ok();
        let is_word = |value: &Value<'_>| matches!(value, Value::Text(text) if !reads(text));
        let last = self.places.iter().flatten().filter(|place| **place < self.first_day).max();
        let from = last.map_or(self.first_day, |last| last + 1);
        let mut filled = row.cells.iter().enumerate().skip(from).filter(|(_, value)| !value.says_nothing());
        let found = filled.find(|(place, value)| {
            !has_title(place) && !self.takes(*place) && (*place >= self.first_day || !is_word(value))
        });
        found.map(|(place, _)| place)
    }

    /// True when a field of the mapping stands there.
    fn takes(&self, place: usize) -> bool {
        self.places.contains(&Some(place)) || self.sets.contains(&place)
    }

    /// The columns of a mapping that names all of them by letter; nothing when it looks for a header, which has the days where they
    /// stand across.
    pub(crate) fn by_letters(mapping: &Mapping) -> Option<Self> {
        if mapping.layout == Layout::DaysAcross {
            return None;
        }
        let mut columns = Self::bare();
        for (field, names) in &mapping.columns {
            for name in names {
                let ColumnName::Place(place) = name else { return None };
                columns.put(*field, *place);
            }
        }
        Some(columns)
    }

    fn bare() -> Self {
        Self {
            places: [None; Field::ALL.len()],
            sets: Vec::new(),
            days: Vec::new(),
            first_day: 0,
            is_fresh: true,
            day: None,
            titles: Vec::new(),
            row: 0,
        }
    }

    fn put(&mut self, field: Field, place: usize) {
        if field == Field::Sets {
            self.sets.push(place);
        }
        self.places[field as usize].get_or_insert(place);
    }

    /// Where a field stands; the first column of several.
    pub(crate) fn place(&self, field: Field) -> Option<usize> {
        self.places[field as usize]
    }

    /// True for a row that only says the headers again.
    pub(crate) fn is_repeated_in(&self, row: &GridRow<'_>) -> bool {
        let mut mapped = self
            .places
            .iter()
            .flatten()
            .filter(|place| self.titles.get(**place).is_some_and(|t| !t.is_empty()));
        !self.titles.is_empty()
            && mapped.clone().next().is_some()
            && mapped.all(|place| match row.cells.get(*place) {
                Some(Value::Text(text)) => is_same(text.trim(), &self.titles[*place]),
                _ => false,
            })
    }

    /// Headers that no field takes, with their letters.
    pub(crate) fn unread(&self) -> Vec<String> {
        let days = self.days.iter().map(|(place, _)| place);
        let taken: Vec<usize> = self.places.iter().flatten().chain(&self.sets).chain(days).copied().collect();
        let left = self
            .titles
            .iter()
            .enumerate()
            .filter(|(place, title)| !title.is_empty() && !taken.contains(place));
        left.map(|(_, title)| title.clone()).collect()
    }
}

/// What is missing when no row is the header: the row that comes nearest, and its headers.
#[derive(Debug, Default)]
pub(crate) struct Nearest {
    best: usize,
    row: u32,
    missing: Vec<String>,
    titles: Vec<String>,
}

impl Nearest {
    /// Looks at a row that is not the header.
    pub(crate) fn look(&mut self, mapping: &Mapping, row: &GridRow<'_>) {
        if row.number > 200 && self.best > 0 {
            return;
        }
        let words: Vec<String> = row.cells.iter().map(|value| folded(value.written('.').trim())).collect();
        let names = mapping.columns.values().flatten();
        let headers: Vec<&String> = names
            .filter_map(|name| match name {
                ColumnName::Header(text) => Some(text),
                ColumnName::Place(_) => None,
            })
            .collect();
        let (there, missing): (Vec<&String>, Vec<&String>) =
            headers.into_iter().partition(|text| !places_of(&words, text).is_empty());
        if there.len() > self.best {
            self.best = there.len();
            self.row = row.number;
            self.missing = missing.into_iter().cloned().collect();
            self.titles = words;
        }
    }

    pub(crate) fn fault(self, mapping: &Mapping) -> Fault {
        let titles = self.titles.iter().map(String::as_str).filter(|title| !title.is_empty());
        if self.best == 0 && mapping.layout == Layout::DaysAcross {
            let expected = "a row with days and their year over the columns of sets, such as 2026-03-14; two of them where no column \
                            of the mapping has a header";
            return Fault::new("no row of days", expected);
        }
        if self.best == 0 {
            return Fault::new(
                "none of the mapping's headers",
                "the sheet that the mapping was made for; guess it anew",
            );
        }
        if self.missing.is_empty() {
            let expected = "days with their year over the columns of sets, such as 2026-03-14, since the mapping says days-across";
            return Fault::new("headers without a day", expected).at(format!("row {}", self.row));
        }
        let missing: Vec<String> = self
            .missing
            .iter()
            .map(|text| format!("`{text}`{}", did_you_mean(&folded(text), titles.clone())))
            .collect();
        let expected =
            format!("a row with every header of the mapping; here is missing {}", missing.join(", "));
        Fault::new("a header that lacks some of the mapping's", expected).at(format!("row {}", self.row))
    }
}

fn places_of(words: &[String], header: &str) -> Vec<usize> {
    let word = folded(header.trim());
    words.iter().enumerate().filter(|(_, found)| **found == word).map(|(place, _)| place).collect()
}

/// True for the same header, whatever its case.
fn is_same(text: &str, title: &str) -> bool {
    text == title || text.len() == title.len() && folded(text) == folded(title)
}

fn doubled(text: &str, places: (usize, usize), row: u32) -> Fault {
    let (first, second) = (cell_name(places.0, row), cell_name(places.1, row));
    let letters = crate::grid::letters(places.0);
    let found = format!("the header `{text}` in {first} and in {second}");
    let expected = format!(
        "each header once; name the column by its letter in the mapping: {{ column = \"{letters}\" }}"
    );
    Fault::new(found, expected).at(second)
}
