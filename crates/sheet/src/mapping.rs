//! Mapping: how a sheet of other people's making is to be read, guessed from it or saved beside it.

use std::collections::BTreeMap;

use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::{SessionNumber, Unit};
use nextrung_domain::stop::{Purpose, Stop};

use crate::grid::{Encoding, letters};

mod across;
mod day;
mod directory;
mod field;
mod file;
mod guess;
mod header;
mod question;
mod survey;

pub(crate) use across::{DayColumns, day_columns, is_day, names_weekday};
pub use day::DayOrder;
pub(crate) use day::{is_half_day, read_day};
pub use directory::{Directory, Who};
pub use field::Field;
pub use guess::{Guess, NamedColumn, SeenColumn};
pub(crate) use header::{Columns, Nearest};
pub use question::{About, Question};

/// What a row holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Layout {
    /// One set.
    #[default]
    SetARow,
    /// The sets of one exercise, in the notation of [`crate::notation`].
    ExerciseARow,
    /// The sets of one exercise, each day's under a header that is the day, in the same notation.
    DaysAcross,
}

/// The unit of loads and of body mass that name none themselves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MassUnit {
    /// Kilograms.
    #[default]
    Kilograms,
    /// Pounds.
    Pounds,
}

/// The unit of rests that name none themselves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum RestUnit {
    /// Seconds.
    #[default]
    Seconds,
    /// Minutes.
    Minutes,
}

/// What to do with rows that a person or a filter has hidden.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum HiddenRows {
    /// Read them like others, and count them in the summary: a filter left on must not lose sets.
    #[default]
    Read,
    /// Leave them out, and count them.
    LeaveOut,
}

/// What to do with rows that name an exercise and nothing that was done: in a plan, those that were left undone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum UndoneRows {
    /// A problem: a count may have been forgotten.
    #[default]
    Refuse,
    /// Leave them out, and count them.
    LeaveOut,
}

/// A column, by its header or by its letters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ColumnName {
    /// The text of its header, as it stands there but for case and blanks around it.
    Header(String),
    /// Its place, counted from 0: for sheets without headers, or with the same one twice.
    Place(usize),
}

impl ColumnName {
    /// As shown in messages: `Reps`, or `column D`.
    pub fn shown(&self) -> String {
        match self {
            Self::Header(text) => format!("`{text}`"),
            Self::Place(column) => format!("column {}", letters(*column)),
        }
    }
}

/// A rung that exercises may mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownRung {
    /// `ladder/rung`.
    pub name: String,
    /// What people call it; may be empty.
    pub title: String,
    /// What it is counted in.
    pub unit: Unit,
}

impl KnownRung {
    /// A rung that goes by its name alone.
    pub fn new(name: &str, unit: Unit) -> Self {
        Self { name: name.to_owned(), title: String::new(), unit }
    }
}

/// How a sheet is to be read. Nothing in it is assumed: what is not said and needed is asked for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Mapping {
    /// The sheet of a workbook; the only visible one when left out.
    pub sheet: Option<String>,
    /// How a CSV file is to be read that is not Unicode.
    pub encoding: Encoding,
    /// What a row holds.
    pub layout: Layout,
    /// The order of days written in figures; needed once there are such that can be read two ways.
    pub day_order: Option<DayOrder>,
    /// True when numbers written as text have a decimal comma.
    pub has_decimal_comma: bool,
    /// Unit of loads and body mass.
    pub mass_unit: MassUnit,
    /// Unit of rests.
    pub rest_unit: RestUnit,
    /// Hidden rows.
    pub hidden_rows: HiddenRows,
    /// Rows that name an exercise and nothing that was done.
    pub undone: UndoneRows,
    /// The athlete of the whole sheet, where no column says it.
    pub athlete: Option<String>,
    /// The session of the day that the whole sheet is of, 1 to 9, where no column says it; the first when left out. A second
    /// sheet about the same athletes and days is another session.
    pub session: Option<SessionNumber>,
    /// Fields of which an empty cell means the value above: date, athlete, session, exercise.
    pub fill_down: Vec<Field>,
    /// Purpose of sets that say none.
    pub purpose: Option<Purpose>,
    /// Stop of sets that say none.
    pub stop: Option<Stop>,
    /// Stop of sets that say none and reach their planned target, instead of `stop`.
    pub stop_at_target: Option<Stop>,
    /// What a guess left open: settings, fields and headers. No row is read before it is said.
    pub unsaid: Vec<String>,
    /// The columns of each field.
    pub columns: BTreeMap<Field, Vec<ColumnName>>,
    /// Words of the exercise column in small letters, by what they mean: `ladder/rung`, or nothing to leave the row out.
    pub exercises: BTreeMap<String, Option<String>>,
    /// Words of the athlete column in small letters, by the athlete's name in the roster; others stand for themselves.
    pub athletes: BTreeMap<String, String>,
}

impl Mapping {
    /// The sign between whole and part of numbers written as text.
    pub fn decimal_sign(&self) -> char {
        if self.has_decimal_comma { ',' } else { '.' }
    }

    /// What a column counted from 0 is read as, by its place or the header over it.
    pub fn field_of(&self, place: usize, title: &str) -> Option<Field> {
        let title = folded(title.trim());
        let is_it = |name: &ColumnName| match name {
            ColumnName::Place(at) => *at == place,
            ColumnName::Header(text) => folded(text.trim()) == title,
        };
        self.columns.iter().find(|(_, names)| names.iter().any(is_it)).map(|(field, _)| *field)
    }

    /// True when the mapping names a column of the field.
    pub fn has(&self, field: Field) -> bool {
        self.columns.get(&field).is_some_and(|columns| !columns.is_empty())
    }
}

/// A word as aliases are looked up: small letters, one blank between words.
pub fn folded(text: &str) -> String {
    if text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-') {
        return text.to_owned();
    }
    text.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>().join(" ")
}

/// A day as the drafts have it.
pub(crate) fn parts(day: CivilDate) -> (i64, i64, i64) {
    let (y, m, d) = day.parts();
    (i64::from(y), i64::from(m), i64::from(d))
}

/// A word as ids are spelt: small letters and digits, dashes between.
pub(crate) fn slug(word: &str) -> String {
    let plain: String =
        word.to_lowercase().chars().map(|c| if c.is_alphanumeric() || c == '/' { c } else { ' ' }).collect();
    plain.split_whitespace().collect::<Vec<_>>().join("-")
}
