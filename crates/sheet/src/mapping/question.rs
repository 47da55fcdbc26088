//! Question: what a sheet does not decide, and what has to be said about it.

use std::fmt;

use super::Field;

/// What a question is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum About {
    /// Which column a field is.
    Column(Field),
    /// What a column holds whose header speaks of something that is read.
    Unread(String),
    /// The order of days.
    DayOrder,
    /// Whether a year of two figures stands first.
    ShortYear,
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

impl About {
    /// What it goes by in a mapping that leaves it to be said; nothing where sets are refused without it anyway.
    pub(super) fn unsaid(&self) -> Option<&str> {
        match self {
            Self::Column(Field::Date | Field::Exercise | Field::Sets) => None,
            Self::Column(field) => Some(field.name()),
            Self::Unread(title) => Some(title),
            Self::ShortYear => Some("day_order"),
            Self::MassUnit => Some("mass_unit"),
            Self::RestUnit => Some("rest_unit"),
            Self::DayOrder
            | Self::Decimal
            | Self::Exercise(_)
            | Self::Athlete(_)
            | Self::Whose
            | Self::Purpose
            | Self::Stop => None,
        }
    }
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
