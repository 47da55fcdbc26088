//! Problems: what is wrong with a piece of input, where, and how to mend it.

use std::fmt;

use serde::{Deserialize, Serialize};

/// One bad field.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Problem {
    /// Path of the field, such as `sets[3].reps`; the same names as in the contract.
    pub field: String,
    /// What was found.
    pub found: String,
    /// What was expected, and how to mend it.
    pub expected: String,
}

impl Problem {
    /// A problem at `field`.
    pub fn new(field: impl Into<String>, found: impl Into<String>, expected: impl Into<String>) -> Self {
        Self { field: field.into(), found: found.into(), expected: expected.into() }
    }

    /// The same problem with `prefix` before its field path.
    #[must_use]
    pub fn under(mut self, prefix: &str) -> Self {
        self.field = format!("{prefix}.{}", self.field);
        self
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: found {}; expected {}", self.field, self.found, self.expected)
    }
}

/// The known word nearest to `text`, if one is near enough to be worth suggesting. Costs little on a text of any
/// length: a distance takes memory as the product of both lengths, so words of far other length are left out first.
pub fn nearest<'a>(text: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let length = text.chars().count();
    let reach = |word: &str| 1 + word.len() / 4;
    known
        .filter(|word| word.chars().count().abs_diff(length) <= reach(word))
        .map(|word| (strsim::damerau_levenshtein(text, word), word))
        .filter(|(distance, word)| *distance <= reach(word))
        .min()
        .map(|(_, word)| word)
}

/// `did you mean X?` when a near word is known, else the empty text.
pub fn did_you_mean<'a>(text: &str, known: impl Iterator<Item = &'a str>) -> String {
    nearest(text, known).map(|word| format!("; did you mean `{word}`?")).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_word_is_suggested_only_when_near() {
        let known = ["pull-up", "row"];
        assert_eq!(nearest("pul-up", known.into_iter()), Some("pull-up"));
        assert_eq!(nearest("handstand", known.into_iter()), None);
    }
}
