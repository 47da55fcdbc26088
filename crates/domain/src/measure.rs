//! Measures: units and validated numbers of a set.

use std::fmt;

use serde::{Deserialize, Serialize};

/// What a rung is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Unit {
    /// Clean repetitions.
    Reps,
    /// Seconds held.
    HoldSeconds,
    /// Seconds of one slow lowering.
    LoweringSeconds,
}

impl Unit {
    /// Every unit, in the order of the contract.
    pub const ALL: [Self; 3] = [Self::Reps, Self::HoldSeconds, Self::LoweringSeconds];

    /// The word used in files, and the field name it answers to.
    pub fn word(self) -> &'static str {
        match self {
            Self::Reps => "reps",
            Self::HoldSeconds => "hold-seconds",
            Self::LoweringSeconds => "lowering-seconds",
        }
    }

    /// The field of the contract that carries this unit.
    pub fn field(self) -> &'static str {
        match self {
            Self::Reps => "reps",
            Self::HoldSeconds => "hold_seconds",
            Self::LoweringSeconds => "lowering_seconds",
        }
    }

    /// Reads a [`word`](Self::word).
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|u| u.word() == word)
    }

    /// The largest count that is taken for real.
    pub fn most(self) -> u16 {
        match self {
            Self::Reps => 300,
            Self::HoldSeconds => 1800,
            Self::LoweringSeconds => 300,
        }
    }

    /// Short form after a number: `reps` or `s`.
    pub fn short(self) -> &'static str {
        match self {
            Self::Reps => "reps",
            Self::HoldSeconds | Self::LoweringSeconds => "s",
        }
    }
}

/// A number that keeps to a range of whole steps; serialised as that number.
macro_rules! ranged {
    ($(#[$doc:meta])* $name:ident, $inner:ty, $low:expr, $high:expr) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "i64", into = "i64")]
        pub struct $name($inner);

        impl $name {
            /// Smallest value.
            pub const LOW: i64 = $low;
            /// Largest value.
            pub const HIGH: i64 = $high;

            /// Checks the range; nothing outside it.
            pub fn new(value: i64) -> Option<Self> {
                if (Self::LOW..=Self::HIGH).contains(&value) {
                    <$inner>::try_from(value).ok().map(Self)
                } else {
                    None
                }
            }

            /// The value.
            pub fn get(self) -> $inner {
                self.0
            }
        }

        impl TryFrom<i64> for $name {
            type Error = String;
            fn try_from(value: i64) -> Result<Self, String> {
                Self::new(value).ok_or_else(|| format!("{value} is outside {}..={}", Self::LOW, Self::HIGH))
            }
        }

        impl From<$name> for i64 {
            fn from(value: $name) -> i64 {
                i64::from(value.0)
            }
        }
    };
}

ranged!(
    /// Reps in reserve: how many more the athlete thinks were there.
    Reserve, u8, 0, 10
);
ranged!(
    /// Pain on the 0-10 scale.
    Pain, u8, 0, 10
);
impl Pain {
    /// The pain at which a rung is held back unless the coach says otherwise.
    pub const DEFAULT_LIMIT: Self = Self(3);
}

ranged!(
    /// Rest before a set, in seconds.
    RestSeconds, u16, 0, 3600
);
ranged!(
    /// Session of the day, from 1.
    SessionNumber, u8, 1, 9
);
ranged!(
    /// Set of the session, from 1.
    SetNumber, u16, 1, 200
);

/// A mass in whole grams, so that it compares and hashes exactly; serialised as grams.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Grams(i32);

impl Grams {
    /// From kilograms, rounded to a gram. Nothing when not finite or outside `low..=high` kilograms.
    pub fn from_kg(kg: f64, low: f64, high: f64) -> Option<Self> {
        if !kg.is_finite() || kg < low || kg > high {
            return None;
        }
        let grams = libm::round(kg * 1000.0);
        #[expect(clippy::cast_possible_truncation, reason = "bounded by the range check above")]
        let whole = grams as i32;
        Some(Self(whole))
    }

    /// In kilograms.
    pub fn kg(self) -> f64 {
        f64::from(self.0) / 1000.0
    }
}

impl fmt::Display for Grams {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} kg", self.kg())
    }
}

/// Tempo: four signs for lowering, bottom, rising and top, each a digit of seconds or `X` for as fast as possible.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Tempo([u8; 4]);

impl Tempo {
    /// Reads four signs such as `31X1`; nothing otherwise.
    pub fn parse(text: &str) -> Option<Self> {
        let signs: [u8; 4] = text.as_bytes().try_into().ok()?;
        signs.iter().all(|b| b.is_ascii_digit() || *b == b'X').then_some(Self(signs))
    }
}

impl fmt::Display for Tempo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|b| write!(f, "{}", char::from(*b)))
    }
}

impl TryFrom<String> for Tempo {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        Self::parse(&text).ok_or_else(|| format!("`{text}` is no tempo"))
    }
}

impl From<Tempo> for String {
    fn from(tempo: Tempo) -> Self {
        tempo.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_hold() {
        assert_eq!(Pain::new(10).map(Pain::get), Some(10));
        assert!(Pain::new(11).is_none());
        assert!(Reserve::new(-1).is_none());
        assert!(SetNumber::new(0).is_none());
    }

    #[test]
    fn masses_round_to_grams_and_refuse_nonsense() {
        assert_eq!(Grams::from_kg(72.5, 20.0, 300.0).map(Grams::kg), Some(72.5));
        assert_eq!(Grams::from_kg(-10.0, -150.0, 150.0).map(Grams::kg), Some(-10.0));
        for bad in [f64::NAN, f64::INFINITY, 19.9, 300.1] {
            assert!(Grams::from_kg(bad, 20.0, 300.0).is_none());
        }
    }

    #[test]
    fn tempo_has_four_signs() {
        assert_eq!(Tempo::parse("31X1").unwrap().to_string(), "31X1");
        for bad in ["", "31x1", "3-1-1", "31X11"] {
            assert!(Tempo::parse(bad).is_none(), "{bad}");
        }
    }
}
