//! Question: what a sheet does not decide, and what has to be said about it.

use std::fmt;

use super::Field;

/// What a question is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum About {
    /// Which column a field is.
    Column(Field),
    /// The order of days.
    DayOrder,
    /// The decimal sign.
    Decimal,
    /// The unit of loads and body mass.
    MassUnit,
    /// The unit of rests.
    RestUnit,
    /// What a word of the exercise column means.
    Exercise(String),
    /// Whom a word of the athlete column means.
    Athlete(String),
    /// Whose sets the sheet holds.
    Whose,
    /// What sets were for that do not say it.
    Purpose,
    /// How sets ended that do not say it.
    Stop,
}

/// What a sheet does not decide; shown as a sentence that ends in what to say in the mapping.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// What it is about.
    pub about: About,
    /// The sentence.
    pub text: String,
}

impl Question {
    pub(super) fn new(about: About, text: impl Into<String>) -> Self {
        Self { about, text: text.into() }
    }
}

impl fmt::Display for Question {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}
