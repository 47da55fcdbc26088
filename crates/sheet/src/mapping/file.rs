//! File: a mapping as a small TOML that a coach can read and change.

use std::collections::BTreeMap;
use std::fmt::Write;

use nextrung_domain::measure::SessionNumber;
use nextrung_domain::problem::{Problem, did_you_mean};
use nextrung_domain::stop::{Purpose, Stop};
use toml::{Table, Value};

use super::{ColumnName, DayOrder, Field, Mapping, folded};
use crate::cell::shown;
use crate::grid::{Encoding, column_of, letters};

mod unsaid;
mod words;

use words::{DECIMALS, ENCODINGS, FILLED, HIDDEN, LAYOUTS, MASSES, ORDERS, RESTS, UNDONE, Words};

/// Bytes of a mapping, at most: hundreds of exercises fit.
const MAX_MAPPING: usize = 1024 * 1024;

const TOP: [&str; 17] = [
    "sheet",
    "encoding",
    "layout",
    "day_order",
    "decimal",
    "mass_unit",
    "rest_unit",
    "hidden_rows",
    "undone",
    "athlete",
    "session",
    "fill_down",
    "to_be_said",
    "defaults",
    "columns",
    "exercises",
    "athletes",
];

impl Mapping {
    /// Reads a mapping as [`write`](Self::write) writes it; what is left out is as in [`Mapping::default`]. Fails with every
    /// key that is unknown or holds what it cannot.
    pub fn read(text: &str) -> Result<Self, Vec<Problem>> {
        if text.len() > MAX_MAPPING {
            let found = format!("{} bytes", text.len());
            return Err(vec![Problem::new("mapping", found, format!("at most {MAX_MAPPING} bytes"))]);
        }
        let table: Table = toml::from_str(text).map_err(|error| {
            vec![Problem::new("mapping", error.to_string().trim_end(), "TOML as `nextrung` writes it")]
        })?;
        let mut reading = Reading { problems: Vec::new() };
        reading.only("", &table, &TOP);
        let defaults = reading.table(&table, "defaults");
        reading.only("defaults.", &defaults, &["purpose", "stop", "stop_at_target"]);
        let mapping = Self {
            sheet: reading.text(&table, "", "sheet"),
            encoding: reading.word(&table, "encoding", ENCODINGS).unwrap_or_default(),
            layout: reading.word(&table, "layout", LAYOUTS).unwrap_or_default(),
            day_order: reading.word(&table, "day_order", ORDERS),
            has_decimal_comma: reading.word(&table, "decimal", DECIMALS).unwrap_or_default(),
            mass_unit: reading.word(&table, "mass_unit", MASSES).unwrap_or_default(),
            rest_unit: reading.word(&table, "rest_unit", RESTS).unwrap_or_default(),
            hidden_rows: reading.word(&table, "hidden_rows", HIDDEN).unwrap_or_default(),
            undone: reading.word(&table, "undone", UNDONE).unwrap_or_default(),
            athlete: reading.text(&table, "", "athlete"),
            session: reading.session(&table),
            fill_down: reading.fill_down(&table),
            purpose: reading.choice(&defaults, "purpose", &Purpose::ALL, Purpose::word),
            stop: reading.choice(&defaults, "stop", &Stop::ALL, Stop::word),
            stop_at_target: reading.choice(&defaults, "stop_at_target", &Stop::ALL, Stop::word),
            unsaid: reading.unsaid(&table),
            columns: reading.columns(&table),
            exercises: reading.exercises(&table),
            athletes: reading.athletes(&table),
        };
        let mapping = mapping.without_said(&table);
        if reading.problems.is_empty() { Ok(mapping) } else { Err(reading.problems) }
    }

    /// The mapping as TOML with comments, which [`read`](Self::read) reads back.
    pub fn write(&self) -> String {
        let mut out = String::new();
        // Writing into a text cannot fail.
        let _ = self.write_settings(&mut out).and_then(|()| self.write_tables(&mut out));
        out
    }

    fn write_settings(&self, out: &mut String) -> std::fmt::Result {
        if let Some(sheet) = &self.sheet {
            writeln!(out, "# The sheet of the workbook.\nsheet = {}", quoted(sheet))?;
        }
        if self.encoding != Encoding::default() {
            writeln!(out, "# How the text is encoded: unicode (found out by itself) or windows-1252.")?;
            writeln!(out, "encoding = \"{}\"", word_of(ENCODINGS, self.encoding))?;
        }
        writeln!(
            out,
            "# One set a row (set-a-row), the sets of one exercise (exercise-a-row), or those of each day under it (days-across)."
        )?;
        writeln!(out, "layout = \"{}\"", word_of(LAYOUTS, self.layout))?;
        writeln!(out, "# The order of days such as 03/04/2026: day-month-year or month-day-year.")?;
        match self.day_order {
            Some(order) => writeln!(out, "day_order = \"{}\"", order.word())?,
            None => writeln!(out, "# day_order = \"{}\"", DayOrder::DayMonth.word())?,
        }
        writeln!(out, "# The decimal sign of numbers in text: point or comma.")?;
        writeln!(out, "decimal = \"{}\"", word_of(DECIMALS, self.has_decimal_comma))?;
        writeln!(out, "# Units of what names none: kg or lb, s or min.")?;
        self.write_setting(out, "mass_unit", word_of(MASSES, self.mass_unit))?;
        self.write_setting(out, "rest_unit", word_of(RESTS, self.rest_unit))?;
        writeln!(out, "# Rows hidden by a person or a filter: read or leave-out.")?;
        writeln!(out, "hidden_rows = \"{}\"", word_of(HIDDEN, self.hidden_rows))?;
        writeln!(out, "# Rows that name an exercise and nothing done: refuse or leave-out.")?;
        writeln!(out, "undone = \"{}\"", word_of(UNDONE, self.undone))?;
        if let Some(athlete) = &self.athlete {
            writeln!(out, "# The athlete of every row.\nathlete = {}", quoted(athlete))?;
        }
        if let Some(session) = self.session {
            writeln!(out, "# The session of the day of every row.\nsession = {}", session.get())?;
        }
        writeln!(out, "# Where an empty cell means the value above: date, athlete, session, exercise.")?;
        let filled: Vec<String> = self.fill_down.iter().map(|field| quoted(field.name())).collect();
        writeln!(out, "fill_down = [{}]", filled.join(", "))?;
        if !self.unsaid.is_empty() {
            writeln!(
                out,
                "# What the sheet leaves open: say it here or under [columns] and take it out. Until then no row is read."
            )?;
            let open: Vec<String> = self.unsaid.iter().map(|open| quoted(open)).collect();
            writeln!(out, "to_be_said = [{}]", open.join(", "))?;
        }
        Ok(())
    }

    /// A setting; as a comment while it is to be said.
    fn write_setting(&self, out: &mut String, key: &str, word: &str) -> std::fmt::Result {
        let sign = if self.unsaid.iter().any(|open| open == key) { "# " } else { "" };
        writeln!(out, "{sign}{key} = \"{word}\"")
    }

    fn write_tables(&self, out: &mut String) -> std::fmt::Result {
        writeln!(
            out,
            "\n# What holds for sets that do not say it themselves. Nothing is assumed: without it they are refused."
        )?;
        writeln!(out, "[defaults]")?;
        let words = |all: Vec<&str>| all.join(", ");
        writeln!(out, "# One of {}.", words(Purpose::ALL.map(Purpose::word).to_vec()))?;
        write_default(out, "purpose", self.purpose.map(Purpose::word), "working")?;
        writeln!(out, "# One of {}.", words(Stop::ALL.map(Stop::word).to_vec()))?;
        write_default(out, "stop", self.stop.map(Stop::word), "other")?;
        writeln!(out, "# For sets that reach their planned target.")?;
        write_default(out, "stop_at_target", self.stop_at_target.map(Stop::word), "target")?;
        writeln!(
            out,
            "\n# By header, or by letter as in {{ column = \"D\" }}; sets may be a list of columns."
        )?;
        writeln!(out, "[columns]")?;
        for (field, columns) in &self.columns {
            let names: Vec<String> = columns.iter().map(column_text).collect();
            let value = match names.as_slice() {
                [one] => one.clone(),
                several => format!("[{}]", several.join(", ")),
            };
            writeln!(out, "{} = {value} # {}", field.name(), field.meaning())?;
        }
        writeln!(out, "\n# The words of the exercise column as ladder/rung; \"\" leaves such rows out.")?;
        writeln!(out, "[exercises]")?;
        for (word, rung) in &self.exercises {
            writeln!(out, "{} = {}", quoted(word), quoted(rung.as_deref().unwrap_or_default()))?;
        }
        if !self.athletes.is_empty() {
            writeln!(out, "\n# The words of the athlete column as the roster calls them.\n[athletes]")?;
            for (word, athlete) in &self.athletes {
                writeln!(out, "{} = {}", quoted(word), quoted(athlete))?;
            }
        }
        Ok(())
    }
}

fn write_default(out: &mut String, key: &str, word: Option<&str>, example: &str) -> std::fmt::Result {
    match word {
        Some(word) => writeln!(out, "{key} = \"{word}\""),
        None => writeln!(out, "# {key} = \"{example}\""),
    }
}

fn word_of<T: PartialEq + Copy>(words: Words<T>, value: T) -> &'static str {
    words.iter().find(|(_, meant)| *meant == value).map_or("", |(word, _)| word)
}

fn column_text(column: &ColumnName) -> String {
    match column {
        ColumnName::Header(text) => quoted(text),
        ColumnName::Place(place) => format!("{{ column = \"{}\" }}", letters(*place)),
    }
}

/// A text as TOML writes it.
pub(super) fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for sign in text.chars() {
        match sign {
            '"' | '\\' => out.extend(['\\', sign]),
            c if c.is_control() => out.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

struct Reading {
    problems: Vec<Problem>,
}

impl Reading {
    fn add(&mut self, key: impl Into<String>, found: impl Into<String>, expected: impl Into<String>) {
        self.problems.push(Problem::new(key, found, expected));
    }

    fn only(&mut self, path: &str, table: &Table, known: &[&str]) {
        for key in table.keys().filter(|key| !known.contains(&key.as_str())) {
            let guess = did_you_mean(key, known.iter().copied());
            self.add(
                format!("{path}{key}"),
                "a key nobody reads",
                format!("one of {}{guess}", known.join(", ")),
            );
        }
    }

    fn table(&mut self, table: &Table, key: &str) -> Table {
        match table.get(key) {
            None => Table::new(),
            Some(Value::Table(inner)) => inner.clone(),
            Some(other) => {
                self.add(key, described(other), format!("a table, [{key}]"));
                Table::new()
            }
        }
    }

    fn text(&mut self, table: &Table, path: &str, key: &str) -> Option<String> {
        let value = table.get(key)?;
        let text = value.as_str().filter(|text| !text.trim().is_empty());
        if text.is_none() {
            self.add(format!("{path}{key}"), described(value), "a text that is not empty");
        }
        text.map(str::to_owned)
    }

    fn word<T: Copy>(&mut self, table: &Table, key: &str, words: Words<T>) -> Option<T> {
        let value = table.get(key)?;
        let found = value.as_str().and_then(|text| words.iter().find(|(word, _)| *word == text));
        if found.is_none() {
            let all: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            let guess = did_you_mean(value.as_str().unwrap_or_default(), all.iter().copied());
            self.add(key, described(value), format!("one of {}{guess}", all.join(", ")));
        }
        found.map(|(_, meant)| *meant)
    }

    fn choice<T: Copy>(
        &mut self,
        table: &Table,
        key: &str,
        all: &[T],
        word_of: fn(T) -> &'static str,
    ) -> Option<T> {
        let value = table.get(key)?;
        let found = all.iter().copied().find(|one| value.as_str() == Some(word_of(*one)));
        if found.is_none() {
            let words: Vec<&str> = all.iter().map(|one| word_of(*one)).collect();
            let guess = did_you_mean(value.as_str().unwrap_or_default(), words.iter().copied());
            self.add(
                format!("defaults.{key}"),
                described(value),
                format!("one of {}{guess}", words.join(", ")),
            );
        }
        found
    }

    fn session(&mut self, table: &Table) -> Option<SessionNumber> {
        let value = table.get("session")?;
        let found = value.as_integer().and_then(SessionNumber::new);
        if found.is_none() {
            self.add("session", described(value), "a session of the day, 1 to 9");
        }
        found
    }

    fn fill_down(&mut self, table: &Table) -> Vec<Field> {
        let Some(value) = table.get("fill_down") else { return Vec::new() };
        let listed = value.as_array().map(Vec::as_slice).unwrap_or(std::slice::from_ref(value));
        let mut fields = Vec::new();
        for one in listed {
            match FILLED.iter().find(|(word, _)| one.as_str() == Some(word)) {
                Some((_, field)) => fields.push(*field),
                None => self.add("fill_down", described(one), "a list of date, athlete, session, exercise"),
            }
        }
        fields
    }

    fn columns(&mut self, table: &Table) -> BTreeMap<Field, Vec<ColumnName>> {
        let mut columns = BTreeMap::new();
        for (key, value) in &self.table(table, "columns") {
            let Some(field) = Field::from_name(key) else {
                let names = Field::ALL.map(Field::name);
                let guess = did_you_mean(key, names.into_iter());
                self.add(format!("columns.{key}"), "no field", format!("one of {}{guess}", names.join(", ")));
                continue;
            };
            let listed = value.as_array().map(Vec::as_slice).unwrap_or(std::slice::from_ref(value));
            if listed.len() != 1 && field != Field::Sets {
                self.add(
                    format!("columns.{key}"),
                    format!("{} columns", listed.len()),
                    "one column; only sets may be several",
                );
                continue;
            }
            let read: Vec<ColumnName> = listed.iter().filter_map(|one| self.column(key, one)).collect();
            columns.insert(field, read);
        }
        columns
    }

    fn column(&mut self, key: &str, value: &Value) -> Option<ColumnName> {
        let by_letter = value.as_table().filter(|t| t.len() == 1).and_then(|t| t.get("column")?.as_str());
        let found = match value.as_str() {
            Some(text) => (!text.trim().is_empty()).then(|| ColumnName::Header(text.to_owned())),
            None => by_letter.and_then(column_of).map(ColumnName::Place),
        };
        if found.is_none() {
            let expected = "the header of a column such as \"Reps\", or its letters as in { column = \"D\" }";
            self.add(format!("columns.{key}"), described(value), expected);
        }
        found
    }

    fn exercises(&mut self, table: &Table) -> BTreeMap<String, Option<String>> {
        let mut exercises = BTreeMap::new();
        for (word, value) in &self.table(table, "exercises") {
            match value.as_str() {
                Some(rung) => {
                    exercises
                        .insert(folded(word), Some(rung.trim().to_owned()).filter(|rung| !rung.is_empty()));
                }
                None => self.add(
                    format!("exercises.{word}"),
                    described(value),
                    "ladder/rung, or \"\" to leave rows out",
                ),
            }
        }
        exercises
    }

    fn athletes(&mut self, table: &Table) -> BTreeMap<String, String> {
        let inner = self.table(table, "athletes");
        inner.keys().filter_map(|word| Some((folded(word), self.text(&inner, "athletes.", word)?))).collect()
    }
}

fn described(value: &Value) -> String {
    match value {
        Value::String(text) => shown(text),
        Value::Integer(number) => format!("the number {number}"),
        Value::Float(number) => format!("the number {number}"),
        Value::Boolean(is_true) => is_true.to_string(),
        Value::Datetime(_) => "a date".to_owned(),
        Value::Array(_) => "a list".to_owned(),
        Value::Table(_) => "a table".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mapping::{HiddenRows, Layout, MassUnit, RestUnit, UndoneRows};

    #[test]
    fn what_is_written_reads_the_same() {
        assert_eq!(Mapping::read(&Mapping::default().write()), Ok(Mapping::default()));
        let full = Mapping {
            sheet: Some("March \"26\" \\ \u{1}".to_owned()),
            encoding: Encoding::Windows1252,
            layout: Layout::ExerciseARow,
            day_order: Some(DayOrder::MonthDay),
            has_decimal_comma: true,
            mass_unit: MassUnit::Pounds,
            rest_unit: RestUnit::Minutes,
            hidden_rows: HiddenRows::LeaveOut,
            undone: UndoneRows::LeaveOut,
            athlete: Some("wren".to_owned()),
            session: SessionNumber::new(2),
            fill_down: vec![Field::Date, Field::Exercise],
            unsaid: vec!["load".to_owned(), "Weight \"kg\" %".to_owned()],
            purpose: Some(Purpose::Working),
            stop: Some(Stop::Other),
            stop_at_target: Some(Stop::Target),
            columns: BTreeMap::from([
                (Field::Date, vec![ColumnName::Header("Date = # day".to_owned())]),
                (Field::Sets, vec![ColumnName::Header("Set 1".to_owned()), ColumnName::Place(27)]),
            ]),
            exercises: BTreeMap::from([
                ("pull ups".to_owned(), Some("pull/pull-up".to_owned())),
                ("warm-up".to_owned(), None),
            ]),
            athletes: BTreeMap::from([("ż. wren".to_owned(), "wren".to_owned())]),
        };
        assert_eq!(Mapping::read(&full.write()), Ok(full));
    }

    #[test]
    fn every_bad_key_is_named() {
        let text = "layuot = \"set-a-row\"\ndecimal = 5\nmass_unit = \"lbs\"\nfill_down = [\"reps\"]\nathlete = \"\"\nsession = 10\n\
                    [defaults]\nstop = \"fail\"\n[columns]\nrepz = \"Reps\"\nreps = [\"A\", \"B\"]\ndate = { column = \"7\" }\n\
                    [exercises]\nrow = 3\n";
        let problems: Vec<String> =
            Mapping::read(text).unwrap_err().iter().map(ToString::to_string).collect();
        let keys: Vec<&str> = problems.iter().map(|p| p.split(':').next().unwrap()).collect();
        assert_eq!(
            keys,
            [
                "layuot",
                "decimal",
                "mass_unit",
                "athlete",
                "session",
                "fill_down",
                "defaults.stop",
                "columns.date",
                "columns.reps",
                "columns.repz",
                "exercises.row"
            ],
            "{problems:#?}"
        );
        assert!(problems[0].ends_with("did you mean `layout`?"), "{}", problems[0]);
        assert!(Mapping::read("sheet = ").unwrap_err()[0].found.contains("line 1"));
    }
}
