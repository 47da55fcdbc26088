//! Survey: what the cells of a sheet look like, column by column.

use std::collections::BTreeMap;

use nextrung_domain::date::CivilDate;

use super::day::{WrittenDay, written_day};
use super::guess::TitleRow;
use super::{Field, SeenColumn, folded, is_day, names_weekday};
use crate::grid::{GridRow, Value, cell_name};
use crate::mapping::guess::COUNTS;
use crate::notation::{NotedSet, Style, read_sets_of_cell};

/// Words of the exercise column, and of that of athletes, that are looked at.
const MAX_WORDS: usize = 2000;
/// Longest of these words, in bytes: what is longer is no name.
const MAX_WORD: usize = 400;
/// Letters of an example.
const LETTERS: usize = 40;

/// What the cells of a column look like.
#[derive(Debug, Default, Clone)]
pub(super) struct Look {
    pub(super) filled: usize,
    /// Empty below a filled one, in rows that hold something else that is read.
    pub(super) blank_below: usize,
    pub(super) whole: usize,
    /// Plain ones.
    pub(super) ones: usize,
    /// Several sets in one cell.
    pub(super) several: usize,
    pub(super) points: usize,
    pub(super) commas: usize,
    /// Days in figures whose first, second part is over 12, and those with two readings.
    pub(super) first_over: usize,
    pub(super) second_over: usize,
    pub(super) open: usize,
    /// The first of these days.
    pub(super) open_day: String,
    /// The first and the third part of days whose year has two figures.
    pub(super) short_first: Span,
    pub(super) short_third: Span,
    /// Days of the spreadsheet itself, and those of them after the 12th of their month.
    pub(super) real_days: usize,
    pub(super) late_days: usize,
    /// The first of them.
    pub(super) real_day: String,
    /// Cells of sets in which a comma may belong to a load or part it from the next set.
    pub(super) open_loads: usize,
    /// The first of them.
    pub(super) open_load: String,
    /// The highest and the lowest plain number.
    pub(super) most: f64,
    pub(super) least: Option<f64>,
}

/// The lowest and the highest of some numbers.
#[derive(Debug, Default, Clone, Copy)]
pub(super) struct Span(Option<(i64, i64)>);

impl Span {
    fn add(&mut self, number: i64) {
        let (low, high) = self.0.unwrap_or((number, number));
        self.0 = Some((low.min(number), high.max(number)));
    }

    /// Lowest, highest, and what is between them.
    pub(super) fn ends(self) -> Option<(i64, i64, i64)> {
        self.0.map(|(low, high)| (low, high, high - low))
    }
}

pub(super) struct Survey {
    fields: Vec<Option<Field>>,
    /// What the days look like that stand across.
    days: Option<Look>,
    under_days: Vec<usize>,
    looks: Vec<Look>,
    titles: Vec<String>,
    examples: Vec<String>,
    pub(super) rows: usize,
    pub(super) words: BTreeMap<String, usize>,
    pub(super) athletes: BTreeMap<String, usize>,
    /// The last value of the columns of day, athlete and set number, to see whether numbers begin anew.
    last: (String, f64),
    pub(super) has_restarts: bool,
    /// Rows that fill more than one column of units done, and the first of them.
    pub(super) rows_of_several: (usize, u32),
}

impl Survey {
    pub(super) fn of(header: &TitleRow) -> Self {
        let mut fields = header.fields.clone();
        header.days.iter().for_each(|(place, _)| fields[*place] = Some(Field::Sets));
        Self {
            fields,
            days: Look::of_days(header),
            under_days: header.days.iter().map(|(place, _)| *place).collect(),
            looks: vec![Look::default(); header.titles.len()],
            titles: header.titles.clone(),
            examples: vec![String::new(); header.titles.len()],
            rows: 0,
            words: BTreeMap::new(),
            athletes: BTreeMap::new(),
            last: (String::new(), 0.0),
            has_restarts: false,
            rows_of_several: (0, 0),
        }
    }

    /// The columns under the header.
    pub(super) fn columns(&self) -> Vec<SeenColumn> {
        let both = self.titles.iter().zip(&self.examples).enumerate();
        both.map(|(place, (title, example))| SeenColumn {
            title: title.clone(),
            example: example.clone(),
            is_under_day: self.under_days.contains(&place),
        })
        .collect()
    }

    pub(super) fn look(&mut self, row: &GridRow<'_>) {
        self.rows += 1;
        let is_of_days = |value: &Value<'_>| value.is_blank() || is_day(value) || names_weekday(value);
        if self.days.is_some() && row.cells.iter().all(is_of_days) {
            return;
        }
        if row.cells.len() > self.titles.len() {
            self.titles.resize(row.cells.len(), String::new());
            self.examples.resize(row.cells.len(), String::new());
        }
        for (example, value) in self.examples.iter_mut().zip(row.cells) {
            if example.is_empty() && !value.is_blank() {
                *example = value.written('.').trim().chars().take(LETTERS).collect();
            }
        }
        let has = |field: Field| {
            let mut places =
                self.fields.iter().enumerate().filter(|(_, f)| **f == Some(field)).map(|(place, _)| place);
            places.any(|place| row.cells.get(place).is_some_and(|value| !value.says_nothing()))
        };
        let of_one = COUNTS.into_iter().filter(|field| has(*field)).count();
        if of_one > 1 {
            let (rows, first) = self.rows_of_several;
            self.rows_of_several = (rows + 1, if rows == 0 { row.number } else { first });
        }
        let counts = [Field::Sets, Field::Reps, Field::Seconds, Field::Done];
        let is_of_sets = has(Field::Exercise) || counts.into_iter().any(has);
        let mut place_of_set = (String::new(), None);
        for (place, look) in self.looks.iter_mut().enumerate() {
            let Some(field) = self.fields[place] else { continue };
            let value = row.cells.get(place).filter(|value| !value.is_blank());
            let Some(value) = value else {
                look.blank_below += usize::from(look.filled > 0 && is_of_sets);
                continue;
            };
            if value.says_nothing() {
                continue;
            }
            look.add(field, value, &cell_name(place, row.number));
            let text = value.written('.');
            let is_named = matches!(field, Field::Exercise | Field::Athlete);
            let is_word = is_named && matches!(value, Value::Text(_) | Value::Number(_));
            if is_word && folded(&text) != folded(&self.titles[place]) {
                let words = if field == Field::Exercise { &mut self.words } else { &mut self.athletes };
                count(words, &text);
            }
            if matches!(field, Field::Date | Field::Athlete | Field::Session) {
                place_of_set.0.push_str(&text);
            } else if field == Field::SetNumber {
                place_of_set.1 = text.trim().parse::<f64>().ok();
            }
        }
        if let (place, Some(number)) = place_of_set {
            let is_same_place = place.is_empty() || place == self.last.0;
            self.has_restarts |= is_same_place && number <= self.last.1;
            self.last = (if place.is_empty() { self.last.0.clone() } else { place }, number);
        }
    }

    pub(super) fn of_field(&self, field: Field) -> impl Iterator<Item = &Look> {
        self.fields
            .iter()
            .zip(&self.looks)
            .filter(move |(found, _)| **found == Some(field))
            .map(|(_, look)| look)
            .chain(self.days.iter().filter(move |_| field == Field::Date))
    }

    pub(super) fn sum(&self, field: Field, count: impl Fn(&Look) -> usize) -> usize {
        self.of_field(field).map(count).sum()
    }

    /// The first example of some fields that there is; an empty text when there is none.
    pub(super) fn example(&self, fields: &[Field], of: fn(&Look) -> &str) -> &str {
        let all = fields.iter().flat_map(|field| self.of_field(*field));
        all.map(of).find(|text| !text.is_empty()).unwrap_or_default()
    }
}

/// Counts a word, as long as there are not too many.
fn count(words: &mut BTreeMap<String, usize>, text: &str) {
    if text.len() > MAX_WORD {
        return;
    }
    let word = folded(text);
    if let Some(rows) = words.get_mut(&word) {
        *rows += 1;
    } else if words.len() < MAX_WORDS {
        words.insert(word, 1);
    }
}

impl Look {
    /// What the days of a header look like.
    fn of_days(header: &TitleRow) -> Option<Self> {
        if header.days.is_empty() {
            return None;
        }
        let mut look = Self::default();
        for (place, is_real) in &header.days {
            let title = header.titles[*place].as_str();
            let real = CivilDate::parse(title).ok().filter(|_| *is_real).map(Value::Day);
            let value = real.unwrap_or(Value::Text(title.into()));
            look.add(Field::Date, &value, &cell_name(*place, header.number));
        }
        Some(look)
    }

    fn add(&mut self, field: Field, value: &Value<'_>, cell: &str) {
        self.filled += 1;
        let text = match value {
            Value::Text(text) => text.trim(),
            Value::Number(number) => {
                self.ones += usize::from((*number - 1.0).abs() < f64::EPSILON);
                self.whole += usize::from(number.fract() == 0.0);
                self.add_number(*number);
                return;
            }
            Value::Day(day) => {
                self.real_days += 1;
                self.late_days += usize::from(day.parts().2 > 12);
                if self.real_day.is_empty() {
                    self.real_day = format!("{day} in {cell}");
                }
                return;
            }
            Value::Empty | Value::Time(_) | Value::Truth(_) | Value::Error(_) | Value::Uncalculated => return,
        };
        self.whole += usize::from(!text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()));
        self.ones += usize::from(text == "1");
        if field == Field::Date {
            self.add_day(text, cell);
        } else if matches!(field, Field::Load | Field::BodyMass | Field::Rest) {
            self.points += usize::from(parts_digits(text, '.'));
            self.commas += usize::from(parts_digits(text, ','));
            let number = text.replace(',', ".").parse::<f64>().ok().filter(|number| number.is_finite());
            number.into_iter().for_each(|number| self.add_number(number));
        } else if matches!(field, Field::Sets | Field::Reps | Field::Seconds | Field::Done) {
            self.add_sets(text, cell);
        }
    }

    fn add_number(&mut self, number: f64) {
        self.most = self.most.max(number);
        self.least = Some(self.least.unwrap_or(number).min(number));
    }

    fn add_sets(&mut self, text: &str, cell: &str) {
        let says_more = |set: &NotedSet| set.load_kg.is_some() || set.stop.is_some();
        let comma = Style { has_decimal_comma: true, ..Style::default() };
        // What reads only with a decimal comma has one, or means two sets.
        let (read, is_open) = match read_sets_of_cell(text, Style::default()) {
            Ok(sets) => (Some(sets), false),
            Err(_) => (read_sets_of_cell(text, comma).ok(), true),
        };
        let Some(sets) = read else { return };
        self.several += usize::from(sets.len() > 1 || sets.iter().any(says_more));
        if is_open {
            self.open_loads += 1;
            if self.open_load.is_empty() {
                self.open_load = format!("`{text:.40}` in {cell}");
            }
        } else if sets.iter().any(|set| set.load_kg.is_some()) {
            self.points += usize::from(parts_digits(text, '.'));
        }
    }

    fn add_day(&mut self, text: &str, cell: &str) {
        let Ok(WrittenDay::Figures { first, second, year }) = written_day(text) else { return };
        if !text.contains(&year.to_string()) {
            self.short_first.add(first);
            self.short_third.add(year % 100);
        }
        self.first_over += usize::from(first > 12);
        self.second_over += usize::from(second > 12);
        if first <= 12 && second <= 12 && first != second {
            self.open += 1;
            if self.open_day.is_empty() {
                self.open_day = format!("`{text}` in {cell}");
            }
        }
    }
}

/// True when the first `sign` stands between figures.
fn parts_digits(text: &str, sign: char) -> bool {
    let is_digit = |c: char| c.is_ascii_digit();
    text.split_once(sign).is_some_and(|(whole, part)| whole.ends_with(is_digit) && part.starts_with(is_digit))
}
