//! Reading: takes settings out of the layers one by one and collects every problem instead of stopping at the first.

use std::ops::RangeInclusive;
use std::time::Duration;

use nextrung_domain::problem::Problem;

use super::layers::{Layers, Origin};
use super::value::{Value, duration, of_duration, of_size, size};

/// One setting as it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Its key, such as `limits.calls`.
    pub key: &'static str,
    /// What it does, in whole sentences.
    pub about: &'static str,
    /// What a good value looks like.
    pub expected: String,
    /// The value in force, hidden where it is secret.
    pub value: String,
    /// What is in force when nobody says anything.
    pub default: String,
    /// Where the value comes from.
    pub origin: Origin,
}

/// What a key is, for people.
type About = &'static str;

/// Layers being read.
pub(super) struct Reading<'a> {
    layers: &'a Layers,
    entries: Vec<Entry>,
    problems: Vec<Problem>,
}

/// How values of one kind are told apart, read and written.
struct Kind<'a, T> {
    expected: String,
    is_secret: bool,
    flaw: fn(&str) -> Option<String>,
    read: &'a dyn Fn(&str) -> Option<T>,
    write: &'a dyn Fn(&T) -> String,
}

impl<T> Kind<'_, T> {
    /// Reads a text, or tells what was found in its place.
    fn take(&self, text: &str) -> Result<T, String> {
        (self.read)(text).ok_or_else(|| match (self.is_secret, (self.flaw)(text)) {
            (false, _) => format!("`{text}`"),
            (true, None) => "a text that cannot be it (not shown)".to_owned(),
            (true, Some(flaw)) => format!("a text that cannot be it (not shown): {flaw}"),
        })
    }
}

impl<'a> Reading<'a> {
    pub(super) fn of(layers: &'a Layers) -> Self {
        Self { layers, entries: Vec::new(), problems: Vec::new() }
    }

    /// A value of a kind that has one form.
    pub(super) fn value<T: Value>(&mut self, key: &'static str, about: About, default: T) -> T {
        let kind = Kind {
            expected: T::EXPECTED.to_owned(),
            is_secret: T::IS_SECRET,
            flaw: T::flaw,
            read: &T::read,
            write: &T::write,
        };
        self.take(key, about, default, &kind)
    }

    /// A whole number within bounds.
    pub(super) fn count<T>(
        &mut self,
        key: &'static str,
        about: About,
        default: T,
        bounds: RangeInclusive<T>,
    ) -> T
    where
        T: Copy + PartialOrd + std::fmt::Display + std::str::FromStr,
    {
        let kind = Kind {
            expected: format!("a whole number from {} to {}", bounds.start(), bounds.end()),
            is_secret: false,
            flaw: |_| None,
            read: &|text| text.parse().ok().filter(|number| bounds.contains(number)),
            write: &T::to_string,
        };
        self.take(key, about, default, &kind)
    }

    /// A time within bounds.
    pub(super) fn time(
        &mut self,
        key: &'static str,
        about: About,
        default: Duration,
        bounds: RangeInclusive<Duration>,
    ) -> Duration {
        let (least, most) = (of_duration(*bounds.start()), of_duration(*bounds.end()));
        let kind = Kind {
            expected: format!("a time with its unit from {least} to {most}, such as 500ms, 30s or 5min"),
            is_secret: false,
            flaw: |_| None,
            read: &|text| duration(text).filter(|time| bounds.contains(time)),
            write: &|time| of_duration(*time),
        };
        self.take(key, about, default, &kind)
    }

    /// A size within bounds, bytes.
    pub(super) fn size(
        &mut self,
        key: &'static str,
        about: About,
        default: usize,
        bounds: RangeInclusive<usize>,
    ) -> usize {
        let text = |bytes: &usize| of_size(u64::try_from(*bytes).unwrap_or(u64::MAX));
        let (least, most) = (text(bounds.start()), text(bounds.end()));
        let in_bounds = |bytes: &usize| bounds.contains(bytes);
        let kind = Kind {
            expected: format!("a size with its unit from {least} to {most}: B, KiB, MiB or GiB"),
            is_secret: false,
            flaw: |_| None,
            read: &|text| size(text).and_then(|bytes| usize::try_from(bytes).ok()).filter(in_bounds),
            write: &text,
        };
        self.take(key, about, default, &kind)
    }

    /// One of a few words.
    pub(super) fn word<T: Copy + PartialEq>(
        &mut self,
        key: &'static str,
        about: About,
        default: T,
        words: &[(&'static str, T)],
    ) -> T {
        let names: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        let name_of =
            |value: &T| words.iter().find(|(_, v)| v == value).map_or("", |(word, _)| word).to_owned();
        let kind = Kind {
            expected: format!("one of {}", names.join(", ")),
            is_secret: false,
            flaw: |_| None,
            read: &|text| words.iter().find(|(word, _)| *word == text).map(|(_, value)| *value),
            write: &name_of,
        };
        self.take(key, about, default, &kind)
    }

    fn take<T>(&mut self, key: &'static str, about: About, default: T, kind: &Kind<'_, T>) -> T {
        let written_default = (kind.write)(&default);
        let mut in_force = None;
        // What a higher layer overrules is checked all the same: it would count again the day that layer goes.
        for (text, origin) in self.layers.about(key) {
            match text.map_err(str::to_owned).and_then(|text| kind.take(text)) {
                Ok(value) => drop(in_force.get_or_insert((value, origin))),
                Err(found) => {
                    self.problems.push(Problem::new(place(key, &origin), found, kind.expected.clone()));
                }
            }
        }
        let (value, origin) = in_force.unwrap_or((default, Origin::Default));
        self.entries.push(Entry {
            key,
            about,
            expected: kind.expected.clone(),
            value: (kind.write)(&value),
            default: written_default,
            origin,
        });
        value
    }

    /// Notes that a value is missing which others ask for.
    pub(super) fn lacks<T>(&mut self, key: &'static str, expected: &str) -> Option<T> {
        self.problems.push(Problem::new(key, "nothing", expected));
        None
    }

    /// What was read. Fails with every problem, those of unknown keys last.
    pub(super) fn end(mut self) -> Result<Vec<Entry>, Vec<Problem>> {
        let known: Vec<&str> = self.entries.iter().map(|entry| entry.key).collect();
        self.problems.extend(self.layers.unknown(&known));
        if self.problems.is_empty() { Ok(self.entries) } else { Err(self.problems) }
    }
}

/// The key with where its value was found.
fn place(key: &str, origin: &Origin) -> String {
    match origin {
        Origin::Default => key.to_owned(),
        Origin::File { .. } => format!("{origin}, {key}"),
        Origin::Variable { .. } | Origin::Flag { .. } => origin.to_string(),
    }
}
