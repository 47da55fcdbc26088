//! Words: the contract's closed lists as plain lower-case words, both ways.

use clap::builder::{PossibleValuesParser, TypedValueParser};
use nextrung_api::v1;

/// A closed list of the contract.
pub(crate) trait Worded: Copy + Send + Sync + 'static + TryFrom<i32> {
    /// What every name begins with, such as `STOP_`.
    const PREFIX: &'static str;

    /// The name in the contract.
    fn name(self) -> &'static str;

    /// Its number in the contract.
    fn number(self) -> i32;
}

macro_rules! worded {
    ($($kind:ident: $prefix:literal),+ $(,)?) => {
        $(impl Worded for v1::$kind {
            const PREFIX: &'static str = $prefix;

            fn name(self) -> &'static str {
                self.as_str_name()
            }

            fn number(self) -> i32 {
                i32::from(self)
            }
        })+
    };
}

worded! {
    Block: "BLOCK_",
    Clearance: "CLEARANCE_",
    Direction: "DIRECTION_",
    GoalState: "GOAL_STATE_",
    HoldBackKind: "HOLD_BACK_KIND_",
    Limiter: "LIMITER_",
    PrescriptionKind: "PRESCRIPTION_KIND_",
    Purpose: "PURPOSE_",
    SetState: "SET_STATE_",
    Side: "SIDE_",
    Stop: "STOP_",
    Unit: "UNIT_",
    Weekday: "WEEKDAY_",
}

/// The word of a value: `slow-lowering-full-range` of `CLEARANCE_SLOW_LOWERING_FULL_RANGE`.
pub(crate) fn word<E: Worded>(value: E) -> String {
    let name = value.name();
    name.strip_prefix(E::PREFIX).unwrap_or(name).to_lowercase().replace('_', "-")
}

/// The word of a number on the wire; a number of a newer contract is named by itself.
pub(crate) fn word_of<E: Worded>(number: i32) -> String {
    E::try_from(number).map_or_else(|_| format!("kind {number}"), word)
}

/// The same without hyphens, for sentences.
pub(crate) fn phrase_of<E: Worded>(number: i32) -> String {
    word_of::<E>(number).replace('-', " ")
}

/// Every value but the unspecified one.
pub(crate) fn all<E: Worded>() -> impl Iterator<Item = E> {
    (1..).map_while(|number| E::try_from(number).ok())
}

/// The value of a word.
pub(crate) fn parse<E: Worded>(text: &str) -> Result<E, String> {
    all::<E>().find(|value| word(*value) == text).ok_or_else(|| {
        let words: Vec<String> = all::<E>().map(word).collect();
        format!("expected one of {}", words.join(", "))
    })
}

/// A parser of the command line that offers the words of a list.
pub(crate) fn choice<E: Worded>() -> impl TypedValueParser<Value = E> {
    PossibleValuesParser::new(all::<E>().map(word)).try_map(|text| parse::<E>(&text))
}

/// A day of the week by its first letters, at least three.
pub(crate) fn weekday(text: &str) -> Result<v1::Weekday, String> {
    let text = text.to_lowercase();
    let found = all::<v1::Weekday>().find(|day| text.len() >= 3 && word(*day).starts_with(&text));
    found.ok_or_else(|| "expected a day such as mon or monday".to_owned())
}

/// The short form of a unit: `reps` or `s`.
pub(crate) fn unit(number: i32) -> &'static str {
    match v1::Unit::try_from(number) {
        Ok(v1::Unit::Reps) => "reps",
        Ok(v1::Unit::HoldSeconds | v1::Unit::LoweringSeconds) => "s",
        Ok(v1::Unit::Unspecified) | Err(_) => "units",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn round_trip<E: Worded + PartialEq + std::fmt::Debug>(count: usize) {
        let values: Vec<E> = all::<E>().collect();
        assert_eq!(values.len(), count);
        for value in values {
            assert_eq!(parse::<E>(&word(value)), Ok(value));
            assert_eq!(word_of::<E>(value.number()), word(value));
        }
    }

    #[test]
    fn every_value_has_a_word_that_reads_back() {
        round_trip::<v1::Block>(4);
        round_trip::<v1::Clearance>(3);
        round_trip::<v1::Direction>(5);
        round_trip::<v1::GoalState>(4);
        round_trip::<v1::HoldBackKind>(6);
        round_trip::<v1::PrescriptionKind>(4);
        round_trip::<v1::Purpose>(5);
        round_trip::<v1::SetState>(3);
        round_trip::<v1::Side>(4);
        round_trip::<v1::Stop>(9);
        round_trip::<v1::Unit>(3);
        round_trip::<v1::Weekday>(7);
    }

    #[test]
    fn words_are_those_of_the_files() {
        assert_eq!(word(v1::Clearance::SlowLoweringFullRange), "slow-lowering-full-range");
        assert_eq!(word(v1::Side::BentArm), "bent-arm");
        assert_eq!(phrase_of::<v1::PrescriptionKind>(4), "held back");
        assert_eq!(word_of::<v1::Stop>(99), "kind 99");
        assert!(parse::<v1::Stop>("tired").is_err());
    }

    #[test]
    fn weekdays_may_be_cut_short() {
        assert_eq!(weekday("Mon"), Ok(v1::Weekday::Monday));
        assert_eq!(weekday("thursday"), Ok(v1::Weekday::Thursday));
        assert!(weekday("t").is_err());
        assert!(weekday("never").is_err());
    }
}
