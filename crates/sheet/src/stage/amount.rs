//! Amount: numbers as people type them into cells.

use crate::grid::Value;
use crate::mapping::{Mapping, MassUnit, RestUnit};
use crate::notation::kg_of_pounds;

/// A number with the word after it.
#[derive(Debug, PartialEq)]
struct Amount {
    number: f64,
    word: String,
}

/// A whole number from `low` to `high`. Fails with what was expected.
pub(crate) fn whole(value: &Value<'_>, mapping: &Mapping, range: (i64, i64)) -> Result<i64, String> {
    let expected = || format!("a whole number from {} to {}", range.0, range.1);
    let in_range = |n: &i64| (range.0..=range.1).contains(n);
    // Nearly every number is plain digits; they need not go through a fraction.
    if let Value::Text(text) = value
        && let digits = text.trim()
        && (1..=9).contains(&digits.len())
        && digits.bytes().all(|b| b.is_ascii_digit())
    {
        return digits.parse().ok().filter(in_range).ok_or_else(expected);
    }
    let amount = amount(value, mapping).filter(|amount| amount.word.is_empty()).ok_or_else(expected)?;
    whole_of(amount.number).filter(in_range).ok_or_else(expected)
}

/// Repetitions: a whole number, or `5 reps`. Fails with what was expected.
pub(crate) fn repetitions(value: &Value<'_>, mapping: &Mapping, range: (i64, i64)) -> Result<i64, String> {
    if let Value::Text(text) = value
        && let Some(digits) = text.trim().strip_suffix("reps").or_else(|| text.trim().strip_suffix("rep"))
    {
        return whole(&Value::Text(digits.trim_end().into()), mapping, range);
    }
    whole(value, mapping, range)
}

/// Seconds: a number, `30 s`, `2 min` or `1:30`. Fails with what was expected.
pub(crate) fn seconds(value: &Value<'_>, mapping: &Mapping, is_rest: bool, high: i64) -> Result<i64, String> {
    let example = if is_rest { "`90 s`, `1.5 min` or `1:30`" } else { "`30` or `30 s`" };
    let expected = || format!("whole seconds from 0 to {high}, such as {example}");
    let in_range = |n: &i64| (0..=high).contains(n);
    if let Value::Text(text) = value
        && let Some((minutes, rest)) = text.trim().split_once(':')
    {
        let is_plain =
            |part: &str| !part.is_empty() && part.len() <= 4 && part.bytes().all(|b| b.is_ascii_digit());
        let clock = (is_plain(minutes) && is_plain(rest) && rest.len() == 2)
            .then(|| Some(minutes.parse::<i64>().ok()? * 60 + rest.parse::<i64>().ok().filter(|s| *s < 60)?));
        return clock.flatten().filter(in_range).ok_or_else(expected);
    }
    if matches!(value, Value::Time(_)) {
        let why = "a spreadsheet takes `0:30` for hours and minutes; type the seconds alone, or format the column as text and type it again";
        return Err(format!("{}: {why}", expected()));
    }
    let amount = amount(value, mapping).ok_or_else(expected)?;
    let factor = match amount.word.as_str() {
        "" if is_rest && mapping.rest_unit == RestUnit::Minutes => 60.0,
        "" | "s" | "sec" | "secs" | "second" | "seconds" => 1.0,
        "m" | "min" | "mins" | "minute" | "minutes" if is_rest => 60.0,
        _ => return Err(expected()),
    };
    whole_of(amount.number * factor).filter(in_range).ok_or_else(expected)
}

/// Kilograms, with `kg` or `lb` after them or in the mapping's unit; body weight alone is a load of 0. Fails with what was
/// expected.
pub(crate) fn kilograms(value: &Value<'_>, mapping: &Mapping, range: (f64, f64)) -> Result<f64, String> {
    let expected = || {
        let unit = if mapping.mass_unit == MassUnit::Pounds { "pounds" } else { "kilograms" };
        format!(
            "{unit} with a decimal {}, from {} to {} kg, such as 12{}5",
            if mapping.has_decimal_comma { "comma" } else { "point" },
            range.0,
            range.1,
            mapping.decimal_sign()
        )
    };
    if let Value::Text(text) = value
        && range.0 < 0.0
        && matches!(text.trim().to_lowercase().as_str(), "bw" | "bodyweight" | "body weight")
    {
        return Ok(0.0);
    }
    let amount = amount(value, mapping).ok_or_else(expected)?;
    let is_in_pounds = match amount.word.as_str() {
        "" => mapping.mass_unit == MassUnit::Pounds,
        "kg" | "kgs" => false,
        "lb" | "lbs" => true,
        _ => return Err(expected()),
    };
    let kg = if is_in_pounds { kg_of_pounds(amount.number) } else { amount.number };
    if (range.0..=range.1).contains(&kg) { Ok(kg) } else { Err(expected()) }
}

fn amount(value: &Value<'_>, mapping: &Mapping) -> Option<Amount> {
    match value {
        Value::Number(number) => Some(Amount { number: *number, word: String::new() }),
        Value::Text(text) => {
            // Spreadsheets mark a number kept as text by an apostrophe, which some exports leave in.
            let text = text.trim().trim_start_matches('\'').trim_start();
            let is_number = |c: char| c.is_ascii_digit() || "+-−.,".contains(c);
            let end = text.find(|c| !is_number(c)).unwrap_or(text.len());
            let (digits, word) = text.split_at(end);
            let number = decimal(digits, mapping.has_decimal_comma)?;
            Some(Amount { number, word: word.trim().to_lowercase() })
        }
        Value::Empty
        | Value::Day(_)
        | Value::Time(_)
        | Value::Truth(_)
        | Value::Error(_)
        | Value::Uncalculated => None,
    }
}

/// Digits with one decimal sign at most and a sign before them. The other decimal sign is refused: it may part thousands.
fn decimal(digits: &str, has_decimal_comma: bool) -> Option<f64> {
    let (is_less, digits) = match digits.strip_prefix(['-', '−']) {
        Some(rest) => (true, rest),
        None => (false, digits.strip_prefix('+').unwrap_or(digits)),
    };
    let sign = if has_decimal_comma { ',' } else { '.' };
    let (whole, part) = digits.split_once(sign).unwrap_or((digits, "0"));
    let is_plain =
        |part: &str| !part.is_empty() && part.len() <= 12 && part.bytes().all(|b| b.is_ascii_digit());
    if !is_plain(whole) || !is_plain(part) {
        return None;
    }
    let number: f64 = format!("{whole}.{part}").parse().ok()?;
    Some(if is_less { -number } else { number })
}

fn whole_of(number: f64) -> Option<i64> {
    if !(-1e9..=1e9).contains(&number) {
        return None;
    }
    #[expect(clippy::cast_possible_truncation, reason = "bounded by the range check above")]
    let whole = number as i64;
    #[expect(clippy::cast_precision_loss, reason = "below 2^53")]
    let is_whole = (whole as f64).total_cmp(&number).is_eq() || number == 0.0;
    is_whole.then_some(whole)
}

#[cfg(test)]
mod tests {
    use std::borrow::Cow;

    use super::*;

    fn text(text: &str) -> Value<'_> {
        Value::Text(Cow::Borrowed(text))
    }

    #[test]
    fn numbers_are_read_as_typed() {
        let reps = |text: &'static str| repetitions(&Value::Text(text.into()), &Mapping::default(), (0, 10));
        assert_eq!((reps("5 reps"), reps("1rep"), reps(" 4 ")), (Ok(5), Ok(1), Ok(4)));
        assert!(reps("reps").is_err() && reps("11 reps").is_err() && reps("5 s").is_err());
        let point = Mapping::default();
        let comma = Mapping { has_decimal_comma: true, rest_unit: RestUnit::Minutes, ..Mapping::default() };
        assert_eq!(whole(&text(" '5 "), &point, (0, 10)), Ok(5));
        assert_eq!(whole(&text("5,0"), &comma, (0, 10)), Ok(5));
        assert_eq!(whole(&Value::Number(-3.0), &point, (-5, 10)), Ok(-3));
        for bad in ["5.5", "11", "5 reps", "", "five", "1.000.000", "5,5", "--5", "1e3"] {
            assert_eq!(
                whole(&text(bad), &point, (0, 10)),
                Err("a whole number from 0 to 10".to_owned()),
                "{bad}"
            );
        }
        assert_eq!(seconds(&text("1,5"), &comma, true, 3600), Ok(90));
        assert_eq!(seconds(&text("90 s"), &comma, true, 3600), Ok(90));
        assert_eq!(seconds(&text("1:30"), &point, true, 3600), Ok(90));
        for bad in ["1:75", ":30", "2 min", "0.5", "-1", "12:3", "1:2:3"] {
            assert!(seconds(&text(bad), &point, false, 3600).is_err(), "{bad}");
        }
    }

    #[test]
    fn loads_take_their_unit_from_the_cell_or_the_mapping() {
        let point = Mapping::default();
        let pounds = Mapping { mass_unit: MassUnit::Pounds, ..Mapping::default() };
        let range = (-200.0, 200.0);
        assert_eq!(kilograms(&text("+12.5 kg"), &pounds, range), Ok(12.5));
        assert_eq!(kilograms(&text("−20"), &point, range), Ok(-20.0));
        assert_eq!(kilograms(&Value::Number(10.0), &pounds, range), Ok(4.536));
        assert_eq!(kilograms(&text("BW"), &point, range), Ok(0.0));
        assert!(kilograms(&text("BW"), &point, (20.0, 300.0)).is_err(), "no body mass");
        let wrong = kilograms(&text("12,5"), &point, range).unwrap_err();
        assert_eq!(wrong, "kilograms with a decimal point, from -200 to 200 kg, such as 12.5");
        for bad in ["10 stone", "500", "kg", "1.234,5"] {
            assert!(kilograms(&text(bad), &point, range).is_err(), "{bad}");
        }
    }
}
