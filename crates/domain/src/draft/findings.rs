//! Findings: the problems of a draft, collected while its fields are read.

use crate::catalog::Catalog;
use crate::draft::Choice;
use crate::ids::RungRef;
use crate::ladder::Rung;
use crate::problem::{Problem, did_you_mean};

/// Longest note or reason, in bytes.
pub const MAX_NOTE: usize = 1000;
/// Most entries of a list that are looked at one by one; a longer list is one problem, whatever is in it.
pub const MAX_LISTED: usize = 300;
/// The same for the shadings of one set, of which there may be a thousand at a time.
pub const MAX_SHADINGS: usize = 20;

/// Collects problems while fields are read.
pub(crate) struct Findings(pub(crate) Vec<Problem>);

impl Findings {
    pub(crate) fn add(&mut self, field: &str, found: impl Into<String>, expected: impl Into<String>) {
        self.0.push(Problem::new(field, found, expected));
    }

    /// A whole number in the range of one of the measures.
    pub(super) fn whole<T>(
        &mut self,
        field: &str,
        value: i64,
        read: impl Fn(i64) -> Option<T>,
        range: (i64, i64),
    ) -> Option<T> {
        let read = read(value);
        if read.is_none() {
            self.add(field, value.to_string(), format!("a whole number from {} to {}", range.0, range.1));
        }
        read
    }
}

/// Reads a closed choice, reporting what is missing or unknown.
pub(crate) fn check_choice<T: Copy>(
    bad: &mut Findings,
    field: &str,
    choice: &Choice<T>,
    words: &[&'static str],
) -> Option<T> {
    let one_of = || format!("one of {}", words.join(", "));
    match choice {
        Choice::Known(value) => Some(*value),
        Choice::Missing => {
            bad.add(field, "nothing", one_of());
            None
        }
        Choice::Unknown(text) => {
            let guess = did_you_mean(text, words.iter().copied());
            bad.add(field, quoted(text), format!("{}{guess}", one_of()));
            None
        }
    }
}

/// A rung by name, with the nearest name suggested when it is unknown.
pub(crate) fn check_rung<'c>(
    bad: &mut Findings,
    text: &str,
    catalog: &'c Catalog,
) -> Option<(RungRef, &'c Rung)> {
    let name = RungRef::parse(text).ok();
    let found = name.and_then(|n| catalog.find(&n).map(|ix| (n, catalog.rung(ix))));
    if found.is_none() {
        let names: Vec<String> = catalog
            .ladders()
            .iter()
            .flat_map(|l| l.rungs.iter().map(|r| format!("{}/{}", l.id, r.id)))
            .collect();
        let guess = did_you_mean(text, names.iter().map(String::as_str));
        bad.add("rung", quoted(text), format!("a rung of one of the ladders, written ladder/rung{guess}"));
    }
    found
}

/// A list that is short enough to be looked at, or nothing of it.
pub(crate) fn listed<'l, T>(bad: &mut Findings, field: &str, list: &'l [T], most: usize) -> &'l [T] {
    if list.len() <= most {
        return list;
    }
    bad.add(field, format!("{} entries", list.len()), format!("at most {most}"));
    &[]
}

/// A free text that keeps to its length.
pub(crate) fn check_text(bad: &mut Findings, field: &str, text: &str) {
    if text.len() > MAX_NOTE {
        bad.add(field, format!("{} bytes", text.len()), format!("at most {MAX_NOTE} bytes"));
    }
}

pub(crate) fn quoted(text: &str) -> String {
    if text.is_empty() {
        "nothing".to_owned()
    } else {
        format!("`{}`", text.chars().take(80).collect::<String>())
    }
}
