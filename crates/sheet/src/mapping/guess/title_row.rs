//! Title row: the row of headers of a sheet, found by the words coaches use and by what a person named.

use nextrung_domain::problem::did_you_mean;

use std::collections::BTreeSet;
use std::ops::ControlFlow;

use crate::grid::{Cause, Fault, Grid, GridRow, Refusal, Value, column_of};
use crate::mapping::{Field, folded, is_day};

/// Filled rows among which it is looked for.
const WITHIN: usize = 40;

/// A column that a person named: what it holds, and its header or its letters.
pub type NamedColumn = (Field, String);

/// A row of headers.
pub(in crate::mapping) struct TitleRow {
    /// Its number; 0 for a sheet without one.
    pub(in crate::mapping) number: u32,
    /// Its texts; empty ones for a sheet without headers.
    pub(in crate::mapping) titles: Vec<String>,
    pub(in crate::mapping) fields: Vec<Option<Field>>,
    /// Columns under a day, where days stand across; true for a day of the spreadsheet itself.
    pub(in crate::mapping) days: Vec<(usize, bool)>,
    /// Fields that a person named.
    pub(super) named: BTreeSet<Field>,
}

impl TitleRow {
    /// The row of most headers that are known or named. Columns that are all named by letters need no row of headers. Fails
    /// when there is none otherwise, and when a named column is not there.
    pub(super) fn find(grid: &Grid<'_>, sheet: usize, named: &[NamedColumn]) -> Result<Self, Refusal> {
        let by_letters = named.iter().filter(|(_, text)| column_of(text.trim()).is_some()).count();
        let mut best: Option<(usize, Self)> = None;
        let mut looked = 0;
        grid.walk(sheet, &mut |row| {
            looked += 1;
            let header = Self::of(row, named);
            let known = header.fields.iter().flatten().count() + header.days.len();
            let is_one = known >= 2 || (known == 1 && by_letters > 0);
            // Of headers with days over the columns the first counts: the others begin further blocks.
            let is_further =
                best.as_ref().is_some_and(|(_, first)| !first.days.is_empty() && !header.days.is_empty());
            if is_one && !is_further && best.as_ref().is_none_or(|(most, _)| known > *most) {
                best = Some((known, header));
            }
            if looked < WITHIN { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
        })?;
        let found = match best {
            Some((_, header)) => Ok(header),
            None if by_letters >= 2 => Ok(Self::bare()),
            None => Err(missing(looked)),
        };
        let taken = found.and_then(|header| header.with(named)).map(Self::with_told);
        taken.map_err(|fault| fault.refuse(grid.file(), grid.sheet_name(sheet)))
    }

    fn bare() -> Self {
        Self { number: 0, titles: Vec::new(), fields: Vec::new(), days: Vec::new(), named: BTreeSet::new() }
    }

    fn of(row: &GridRow<'_>, named: &[NamedColumn]) -> Self {
        let titles: Vec<String> =
            row.cells.iter().map(|value| value.written('.').trim().to_owned()).collect();
        let said = |title: &str| {
            let is_it = |text: &str| !title.is_empty() && folded(text.trim()) == folded(title);
            named.iter().find(|(_, text)| is_it(text)).map(|(field, _)| *field)
        };
        let fields: Vec<Option<Field>> =
            titles.iter().map(|title| said(title).or_else(|| Field::of_header(title))).collect();
        let days = days_of(row, &fields, named);
        Self { number: row.number, titles, fields, days, named: BTreeSet::new() }
    }

    /// The same with the named columns in place of those that only look like them.
    fn with(mut self, named: &[NamedColumn]) -> Result<Self, Fault> {
        let mut places = Vec::new();
        for (field, text) in named {
            let title = folded(text.trim());
            let by_title = self.titles.iter().position(|found| !title.is_empty() && folded(found) == title);
            let place = by_title.or_else(|| column_of(text.trim()));
            places.push((*field, place.ok_or_else(|| self.not_there(text))?));
        }
        self.named = places.iter().map(|(field, _)| *field).collect();
        for found in &mut self.fields {
            *found = found.filter(|field| !self.named.contains(field));
        }
        for (field, place) in places {
            if self.fields.len() <= place {
                self.titles.resize(place + 1, String::new());
                self.fields.resize(place + 1, None);
            }
            self.fields[place] = Some(field);
            self.days.retain(|(day, _)| *day != place);
        }
        Ok(self)
    }

    /// The same with the only column whose header tells, among other words, a field that no column is yet.
    fn with_told(mut self) -> Self {
        for field in Field::TOLD {
            let both = self.titles.iter().zip(&self.fields).enumerate();
            let mut told = both.filter(|(place, (title, found))| {
                found.is_none() && field.is_told_by(title) && self.days.iter().all(|(day, _)| day != place)
            });
            let only = told.next().map(|(place, _)| place).filter(|_| told.next().is_none());
            if let Some(place) = only.filter(|_| !self.fields.contains(&Some(field))) {
                self.fields[place] = Some(field);
            }
        }
        self
    }

    fn not_there(&self, text: &str) -> Fault {
        let titles = self.titles.iter().map(|title| title.trim()).filter(|title| !title.is_empty());
        let shown: Vec<String> = titles.clone().map(|title| format!("`{title:.40}`")).collect();
        let near = did_you_mean(text.trim(), titles);
        let expected = match shown.is_empty() {
            true => "the letters of a column, such as D: no row of headers was found".to_owned(),
            false => format!("the letters of a column, such as D, or one of {}{near}", shown.join(", ")),
        };
        let fault = Fault::new(format!("no column `{:.80}`", text.trim()), expected);
        if self.number > 0 { fault.at(format!("row {}", self.number)) } else { fault }
    }
}

/// The columns of a row that stand under a day, where the row is one of days across: it has an exercise's column or one that a
/// person named by letters, at least two days, and no column of days or of what was done.
fn days_of(row: &GridRow<'_>, fields: &[Option<Field>], named: &[NamedColumn]) -> Vec<(usize, bool)> {
    let by_letters = |place: usize| named.iter().any(|(_, text)| column_of(text.trim()) == Some(place));
    let by_header = |field: Field| {
        fields.iter().enumerate().any(|(place, found)| *found == Some(field) && !by_letters(place))
    };
    let has = |field: Field| by_header(field) || named.iter().any(|(one, _)| *one == field);
    let of_rows = [Field::Date, Field::Sets, Field::Reps, Field::Seconds, Field::Done];
    if !has(Field::Exercise) || of_rows.into_iter().any(has) {
        return Vec::new();
    }
    let open =
        row.cells.iter().enumerate().filter(|(place, _)| fields.get(*place).is_none_or(Option::is_none));
    let open = open.filter(|(place, _)| !by_letters(*place));
    let days = open.filter(|(_, value)| is_day(value));
    let days: Vec<(usize, bool)> =
        days.map(|(place, value)| (place, matches!(value, Value::Day(_)))).collect();
    if days.len() < 2 { Vec::new() } else { days }
}

fn missing(looked: usize) -> Fault {
    let found = match looked {
        1 => "no row of headers in its one row".to_owned(),
        _ => format!("no row of headers in the first {looked} rows"),
    };
    let expected = "a row of headers such as Date, Exercise, Sets, Reps; where they have other words, or there are none, name \
                    the columns by their headers or letters; days that stand across have their year, 2026-03-14";
    Fault::new(found, expected).because(Cause::NoHeader)
}
