//! A reader over spanned TOML that collects every problem instead of stopping at the first.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::ladder_file::{LadderProblem, MAX_PROBLEMS, NamedText};
use crate::problem::did_you_mean;

/// What was found wrong so far in the text being read.
pub(crate) struct Source<'a> {
    file: &'a str,
    /// Offsets of the line breaks: a file of problems has each of them placed, and must not be counted through for each.
    breaks: Vec<usize>,
    problems: Vec<LadderProblem>,
    /// Problems beyond those that are kept.
    more: usize,
}

impl<'a> Source<'a> {
    /// A text in which nothing was found yet.
    pub(crate) fn new(file: NamedText<'a>) -> Self {
        let breaks = file.text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(at, _)| at).collect();
        Self { file: file.name, breaks, problems: Vec::new(), more: 0 }
    }

    /// How many problems were found.
    pub(crate) fn count(&self) -> usize {
        self.problems.len() + self.more
    }

    /// What was found: [`MAX_PROBLEMS`], and one more that counts the rest.
    pub(crate) fn into_problems(mut self) -> Vec<LadderProblem> {
        if self.more > 0 {
            let found = format!("{} more problems", self.more);
            self.more = 0;
            self.problems.push(LadderProblem {
                file: self.file.to_owned(),
                line: 1,
                key: "file".to_owned(),
                found,
                expected: "the problems before mended first".to_owned(),
                suggestion: String::new(),
            });
        }
        self.problems
    }

    /// Line of a byte offset, from 1.
    pub(crate) fn line(&self, offset: usize) -> usize {
        1 + self.breaks.partition_point(|at| *at < offset)
    }

    /// Notes a problem at a byte offset.
    pub(crate) fn report(&mut self, at: usize, key: &str, found: impl Into<String>, fix: (&str, String)) {
        if self.problems.len() == MAX_PROBLEMS {
            self.more += 1;
            return;
        }
        let (expected, suggestion) = fix;
        let problem = LadderProblem {
            file: self.file.to_owned(),
            line: self.line(at),
            key: key.to_owned(),
            found: found.into(),
            expected: expected.to_owned(),
            suggestion: suggestion.trim_start_matches("; ").to_owned(),
        };
        self.problems.push(problem);
    }
}

/// A table within the source, with the path that leads to it.
pub(crate) struct Table<'t, 'a> {
    pub(crate) path: String,
    pub(crate) at: usize,
    table: &'t DeTable<'a>,
}

/// A short description of a value for messages.
fn describe(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(s) => format!("the text \"{}\"", s.chars().take(60).collect::<String>()),
        DeValue::Integer(i) => format!("the number {i}"),
        DeValue::Float(f) => format!("the number {f}"),
        DeValue::Boolean(b) => format!("{b}"),
        DeValue::Datetime(_) => "a date".to_owned(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}

fn number(value: &DeValue<'_>) -> Option<f64> {
    let text =
        value.as_float().map(ToString::to_string).or_else(|| value.as_integer().map(ToString::to_string))?;
    text.replace('_', "").parse::<f64>().ok().filter(|x| x.is_finite())
}

fn integer(value: &DeValue<'_>) -> Option<i64> {
    value.as_integer().and_then(|i| i64::from_str_radix(i.as_str(), i.radix()).ok())
}

impl<'t, 'a> Table<'t, 'a> {
    /// The whole file as a table.
    pub(crate) fn root(table: &'t DeTable<'a>) -> Self {
        Self { path: String::new(), at: 0, table }
    }

    /// The full key of a field.
    pub(crate) fn key(&self, field: &str) -> String {
        if self.path.is_empty() { field.to_owned() } else { format!("{}.{field}", self.path) }
    }

    /// Where a field stands; the table's own place when it is missing.
    pub(crate) fn place(&self, field: &str) -> usize {
        self.table.get(field).map_or(self.at, |v| v.span().start)
    }

    /// Reports every key that is not in `known`.
    pub(crate) fn only(&self, src: &mut Source<'_>, known: &[&str]) {
        for (name, _) in self.table {
            let word: &str = name.get_ref();
            if !known.contains(&word) {
                let guess = did_you_mean(word, known.iter().copied());
                let fix = if guess.is_empty() { "remove it".to_owned() } else { guess };
                src.report(
                    name.span().start,
                    &self.key(word),
                    "a key nobody reads",
                    (&format!("one of {}", known.join(", ")), fix),
                );
            }
        }
    }

    fn value(&self, src: &mut Source<'_>, field: &str, expected: &str) -> Option<&'t Spanned<DeValue<'a>>> {
        let value = self.table.get(field);
        if value.is_none() {
            src.report(self.at, &self.key(field), "nothing", (expected, format!("add `{field} = ...`")));
        }
        value
    }

    fn wrong(&self, src: &mut Source<'_>, field: &str, value: &Spanned<DeValue<'a>>, expected: &str) {
        src.report(
            value.span().start,
            &self.key(field),
            describe(value.get_ref()),
            (expected, String::new()),
        );
    }

    /// True when the field is there.
    pub(crate) fn has(&self, field: &str) -> bool {
        self.table.contains_key(field)
    }

    /// A text that is there and not empty.
    pub(crate) fn text(&self, src: &mut Source<'_>, field: &str) -> Option<String> {
        let expected = "a text that is not empty";
        let value = self.value(src, field, expected)?;
        let text = value.get_ref().as_str().filter(|s| !s.trim().is_empty());
        if text.is_none() {
            self.wrong(src, field, value, expected);
        }
        text.map(ToOwned::to_owned)
    }

    /// A text turned into something by `read`; `expected` says what would do.
    pub(crate) fn parsed<T>(
        &self,
        src: &mut Source<'_>,
        field: &str,
        read: impl Fn(&str) -> Option<T>,
        expected: (&str, &[&str]),
    ) -> Option<T> {
        let text = self.text(src, field)?;
        let parsed = read(&text);
        if parsed.is_none() {
            let guess = did_you_mean(&text, expected.1.iter().copied());
            src.report(self.place(field), &self.key(field), format!("`{text}`"), (expected.0, guess));
        }
        parsed
    }

    /// A finite number in `low..=high`.
    pub(crate) fn number(&self, src: &mut Source<'_>, field: &str, low: f64, high: f64) -> Option<f64> {
        let expected = format!("a number from {low} to {high}");
        let value = self.value(src, field, &expected)?;
        let found = number(value.get_ref()).filter(|x| (low..=high).contains(x));
        if found.is_none() {
            self.wrong(src, field, value, &expected);
        }
        found
    }

    /// A whole number in `low..=high`.
    pub(crate) fn whole(&self, src: &mut Source<'_>, field: &str, low: i64, high: i64) -> Option<i64> {
        let expected = format!("a whole number from {low} to {high}");
        let value = self.value(src, field, &expected)?;
        let found = integer(value.get_ref()).filter(|x| (low..=high).contains(x));
        if found.is_none() {
            self.wrong(src, field, value, &expected);
        }
        found
    }

    /// True or false; false when missing.
    pub(crate) fn flag(&self, src: &mut Source<'_>, field: &str) -> bool {
        match self.table.get(field).map(|v| (v, v.get_ref())) {
            None => false,
            Some((_, DeValue::Boolean(b))) => *b,
            Some((value, _)) => {
                self.wrong(src, field, value, "true or false");
                false
            }
        }
    }

    /// A list of texts with their places; empty when missing.
    pub(crate) fn texts(&self, src: &mut Source<'_>, field: &str) -> Vec<(usize, String)> {
        let Some(value) = self.table.get(field) else { return Vec::new() };
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong(src, field, value, "a list of texts");
            return Vec::new();
        };
        let mut texts = Vec::new();
        for item in items {
            match item.get_ref().as_str().filter(|s| !s.trim().is_empty()) {
                Some(s) => texts.push((item.span().start, s.to_owned())),
                None => self.wrong(src, field, item, "a text that is not empty"),
            }
        }
        texts
    }

    /// A pair of whole numbers `[low, high]`; nothing when missing.
    pub(crate) fn pair(&self, src: &mut Source<'_>, field: &str) -> Option<(i64, i64)> {
        let value = self.table.get(field)?;
        let pair = value.get_ref().as_array().filter(|items| items.len() == 2).and_then(|items| {
            let mut whole = items.iter().map(|i| integer(i.get_ref()));
            whole.next().flatten().zip(whole.next().flatten())
        });
        if pair.is_none() {
            self.wrong(src, field, value, "two whole numbers [low, high]");
        }
        pair
    }

    /// A table of numbers by name, each in `low..=high`, with places.
    pub(crate) fn numbers(
        &self,
        src: &mut Source<'_>,
        field: &str,
        low: f64,
        high: f64,
    ) -> Vec<(usize, String, f64)> {
        let Some(value) = self.value(src, field, "a table of numbers") else { return Vec::new() };
        let DeValue::Table(table) = value.get_ref() else {
            self.wrong(src, field, value, "a table of numbers");
            return Vec::new();
        };
        let mut found = Vec::new();
        for (name, item) in table {
            match number(item.get_ref()).filter(|x| (low..=high).contains(x)) {
                Some(x) => found.push((name.span().start, name.get_ref().to_string(), x)),
                None => self.wrong(src, field, item, &format!("a number from {low} to {high}")),
            }
        }
        found
    }

    /// The tables of a list of tables, each with its own path; empty when missing.
    pub(crate) fn tables(&self, src: &mut Source<'_>, field: &str) -> Vec<Table<'t, 'a>> {
        let Some(value) = self.table.get(field) else { return Vec::new() };
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong(src, field, value, &format!("a list of tables [[{field}]]"));
            return Vec::new();
        };
        let mut found = Vec::new();
        for (n, item) in items.iter().enumerate() {
            match item.get_ref().as_table() {
                Some(table) => {
                    let path = format!("{}[{n}]", self.key(field));
                    found.push(Table { path, at: item.span().start, table });
                }
                None => self.wrong(src, field, item, "a table"),
            }
        }
        found
    }
}
