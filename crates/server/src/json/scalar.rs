//! Scalar: values of one piece, by the canonical mapping of protocol buffers to JSON.

use std::str::FromStr;

use nextrung_domain::problem::did_you_mean;
use prost_reflect::{DynamicMessage, EnumDescriptor, Kind, MessageDescriptor, Value};

use super::document::Part;

/// Package of the messages that JSON has a form of its own for.
const WELL_KNOWN: &str = "google.protobuf";
/// Numbers up to here are whole ones as they were written (2^53).
const EXACT: f64 = 9_007_199_254_740_992.0;
/// Longest text that is shown of what was found, bytes.
const LONGEST_SHOWN: usize = 60;

/// Whether a kind of message is written as one piece, such as a moment.
pub(super) fn is_one_piece(kind: &MessageDescriptor) -> bool {
    kind.package_name() == WELL_KNOWN
}

/// A value of a kind; nothing when it is none.
pub(super) fn of(kind: &Kind, part: &Part) -> Option<Value> {
    match kind {
        Kind::Double => number(part).map(Value::F64),
        Kind::Int32 | Kind::Sint32 | Kind::Sfixed32 => whole(part).map(Value::I32),
        Kind::Int64 | Kind::Sint64 | Kind::Sfixed64 => whole(part).map(Value::I64),
        Kind::Uint32 | Kind::Fixed32 => whole(part).map(Value::U32),
        Kind::Uint64 | Kind::Fixed64 => whole(part).map(Value::U64),
        Kind::Bool => flag(part).map(Value::Bool),
        Kind::String => text(part).map(|text| Value::String(text.to_owned())),
        Kind::Enum(kind) => entry(kind, part),
        Kind::Message(kind) if is_one_piece(kind) => {
            let text = serde_json::Value::String(text(part)?.to_owned());
            DynamicMessage::deserialize(kind.clone(), text).ok().map(Value::Message)
        }
        // Nothing of the contract, which a test holds.
        Kind::Message(_) | Kind::Float | Kind::Bytes => None,
    }
}

/// A value of a kind that stands in the query of a path, where everything is text.
pub(super) fn of_text(kind: &Kind, text: &str) -> Option<Value> {
    let written = || Part::Text(text.to_owned());
    let part = match (kind, text) {
        (Kind::Bool, "true") => Part::Flag(true),
        (Kind::Bool, "false") => Part::Flag(false),
        (Kind::Enum(_), number) => number.parse().map_or_else(|_| written(), Part::Number),
        _ => written(),
    };
    of(kind, &part)
}

/// An entry by its name or its number, whether it is known or not.
fn entry(kind: &EnumDescriptor, part: &Part) -> Option<Value> {
    let number = match part {
        Part::Text(name) => kind.get_value_by_name(name)?.number(),
        Part::Number(number) => i32::try_from(number.as_i64()?).ok()?,
        Part::Null | Part::Flag(_) | Part::List(_) | Part::Object(_) => return None,
    };
    Some(Value::EnumNumber(number))
}

fn flag(part: &Part) -> Option<bool> {
    match part {
        Part::Flag(flag) => Some(*flag),
        Part::Null | Part::Number(_) | Part::Text(_) | Part::List(_) | Part::Object(_) => None,
    }
}

fn text(part: &Part) -> Option<&str> {
    match part {
        Part::Text(text) => Some(text),
        Part::Null | Part::Flag(_) | Part::Number(_) | Part::List(_) | Part::Object(_) => None,
    }
}

/// A whole number, also as text or with an empty fraction.
fn whole<T: TryFrom<i128> + FromStr>(part: &Part) -> Option<T> {
    match part {
        Part::Number(number) => {
            let exact = number.as_i64().map(i128::from).or_else(|| number.as_u64().map(i128::from));
            let written = || number.as_f64().filter(|n| n.fract() == 0.0 && n.abs() <= EXACT);
            let whole = exact.or_else(|| format!("{:.0}", written()?).parse().ok());
            T::try_from(whole?).ok()
        }
        Part::Text(text) if !text.starts_with('+') => text.parse().ok(),
        Part::Null | Part::Flag(_) | Part::Text(_) | Part::List(_) | Part::Object(_) => None,
    }
}

/// A number, also as text, and those that JSON has no form for.
fn number(part: &Part) -> Option<f64> {
    match part {
        Part::Number(number) => number.as_f64(),
        Part::Text(text) => match text.as_str() {
            "NaN" => Some(f64::NAN),
            "Infinity" => Some(f64::INFINITY),
            "-Infinity" => Some(f64::NEG_INFINITY),
            written => {
                let begins = written.trim_start_matches('-').starts_with(|c: char| c.is_ascii_digit());
                written.parse().ok().filter(|number: &f64| begins && number.is_finite())
            }
        },
        Part::Null | Part::Flag(_) | Part::List(_) | Part::Object(_) => None,
    }
}

/// What a kind is written as.
pub(super) fn expected(kind: &Kind, found: &Part) -> String {
    match kind {
        Kind::Double | Kind::Float => "a number".to_owned(),
        Kind::Int32 | Kind::Sint32 | Kind::Sfixed32 => "a whole number of 32 bits".to_owned(),
        Kind::Int64 | Kind::Sint64 | Kind::Sfixed64 => "a whole number of 64 bits".to_owned(),
        Kind::Uint32 | Kind::Fixed32 => "a whole number of 32 bits, not negative".to_owned(),
        Kind::Uint64 | Kind::Fixed64 => "a whole number of 64 bits, not negative".to_owned(),
        Kind::Bool => "true or false".to_owned(),
        Kind::String => "a text".to_owned(),
        Kind::Bytes => "bytes in base64".to_owned(),
        Kind::Enum(kind) => {
            let names: Vec<String> = kind.values().map(|value| value.name().to_owned()).collect();
            let near = did_you_mean(text(found).unwrap_or_default(), names.iter().map(String::as_str));
            format!("one of {}{near}", names.join(", "))
        }
        Kind::Message(kind) => match kind.full_name() {
            "google.protobuf.Timestamp" => "a moment such as `2026-03-10T18:30:00Z`".to_owned(),
            "google.protobuf.FieldMask" => {
                "names of fields with a comma between them, such as `birthDate,goals`".to_owned()
            }
            _ => format!("an object, a {}", kind.name()),
        },
    }
}

/// What was found, as it is shown.
pub(super) fn shown(part: &Part) -> String {
    match part {
        Part::Null => "null".to_owned(),
        Part::Flag(flag) => flag.to_string(),
        Part::Number(number) => number.to_string(),
        Part::Text(text) => shown_text(text),
        Part::List(_) => "a list".to_owned(),
        Part::Object(_) => "an object".to_owned(),
    }
}

/// The beginning of a text.
pub(super) fn shown_text(text: &str) -> String {
    let most = text.floor_char_boundary(LONGEST_SHOWN);
    let more = if most < text.len() { "..." } else { "" };
    format!("`{}{more}`", &text[..most])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::json::document;
    use crate::json::pool::POOL;

    /// A value of a kind as it stands in a document.
    fn read(kind: &Kind, json: &str) -> Option<Value> {
        of(kind, &document::read(json.as_bytes()).unwrap())
    }

    #[test]
    fn whole_numbers_are_those_that_were_written_or_none() {
        for (json, wanted) in [
            ("5", Some(5)),
            ("-5.0", Some(-5)),
            ("5e2", Some(500)),
            ("\"-5\"", Some(-5)),
            ("9007199254740993", Some(9_007_199_254_740_993)),
            ("\"9223372036854775807\"", Some(i64::MAX)),
            ("9007199254740992.0", Some(9_007_199_254_740_992)),
            ("9007199254740994.0", None),
            ("1e300", None),
            ("18446744073709551615", None),
            ("5.5", None),
            ("\"5.5\"", None),
            ("\"+5\"", None),
            ("\" 5\"", None),
            ("\"\"", None),
            ("true", None),
            ("[5]", None),
        ] {
            assert_eq!(read(&Kind::Int64, json), wanted.map(Value::I64), "{json}");
        }
        for (json, wanted) in [
            ("-2147483648", Some(i32::MIN)),
            ("2147483647.0", Some(i32::MAX)),
            ("2147483648", None),
            ("\"2147483648\"", None),
        ] {
            assert_eq!(read(&Kind::Int32, json), wanted.map(Value::I32), "{json}");
        }
        assert_eq!(read(&Kind::Uint32, "4294967295"), Some(Value::U32(u32::MAX)));
        assert_eq!(read(&Kind::Uint32, "-1"), None);
        assert_eq!(read(&Kind::Uint64, "18446744073709551615"), Some(Value::U64(u64::MAX)));
    }

    #[test]
    fn numbers_are_written_as_json_has_them_and_by_three_words() {
        for (json, wanted) in [
            ("1.5", Some(1.5)),
            ("-2", Some(-2.0)),
            ("\"-1e3\"", Some(-1000.0)),
            ("\"Infinity\"", Some(f64::INFINITY)),
            ("\"-Infinity\"", Some(f64::NEG_INFINITY)),
            ("\"infinity\"", None),
            ("\"inf\"", None),
            ("\"nan\"", None),
            ("\"1e999\"", None),
            ("\"+1\"", None),
            ("\".5\"", None),
            ("\"\"", None),
            ("true", None),
        ] {
            assert_eq!(read(&Kind::Double, json), wanted.map(Value::F64), "{json}");
        }
        assert!(matches!(read(&Kind::Double, "\"NaN\""), Some(Value::F64(number)) if number.is_nan()));
    }

    #[test]
    fn words_stand_for_their_numbers_and_numbers_for_themselves() {
        let stop = Kind::Enum(POOL.get_enum_by_name("nextrung.v1.Stop").unwrap());
        for (json, wanted) in [
            ("\"STOP_TARGET\"", Some(1)),
            ("1", Some(1)),
            ("99", Some(99)),
            ("\"stop_target\"", None),
            ("\"1\"", None),
            ("1.5", None),
            ("3000000000", None),
            ("null", None),
        ] {
            assert_eq!(read(&stop, json), wanted.map(Value::EnumNumber), "{json}");
        }
        for (text, wanted) in [("STOP_TARGET", Some(1)), ("1", Some(1)), ("99", Some(99)), ("", None)] {
            assert_eq!(of_text(&stop, text), wanted.map(Value::EnumNumber), "{text}");
        }
    }

    #[test]
    fn of_a_long_text_the_beginning_is_shown() {
        assert_eq!(shown_text(&"x".repeat(60)), format!("`{}`", "x".repeat(60)));
        assert_eq!(shown_text(&"x".repeat(61)), format!("`{}...`", "x".repeat(60)));
        assert_eq!(shown_text(&"\u{e9}\u{732b}".repeat(20)), format!("`{}...`", "\u{e9}\u{732b}".repeat(12)));
    }
}
