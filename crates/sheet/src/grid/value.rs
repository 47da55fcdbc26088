//! Value: what a cell holds.

use std::borrow::Cow;

use nextrung_domain::date::CivilDate;

use crate::cell::shown;

/// What a cell holds.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Value<'a> {
    /// Nothing.
    #[default]
    Empty,
    /// A text to the letter; every cell of a CSV file that holds something is one.
    Text(Cow<'a, str>),
    /// A number.
    Number(f64),
    /// A day; a time of day with it is dropped.
    Day(CivilDate),
    /// A time of day or a span of time, in days.
    Time(f64),
    /// True or false.
    Truth(bool),
    /// An error of the spreadsheet, such as `#N/A`.
    Error(Cow<'a, str>),
    /// A formula whose value was not saved.
    Uncalculated,
}

impl Value<'_> {
    /// True when there is nothing to read: no value, or a text of blanks.
    pub fn is_blank(&self) -> bool {
        match self {
            Self::Empty => true,
            Self::Text(text) => text.trim().is_empty(),
            Self::Number(_)
            | Self::Day(_)
            | Self::Time(_)
            | Self::Truth(_)
            | Self::Error(_)
            | Self::Uncalculated => false,
        }
    }

    /// True for what is blank, and for a dash, which stands for nothing.
    pub(crate) fn says_nothing(&self) -> bool {
        let is_dash = |text: &str| matches!(text.trim(), "-" | "–" | "—" | "n/a");
        self.is_blank() || matches!(self, Self::Text(text) if is_dash(text))
    }

    /// As shown in messages.
    pub fn shown(&self) -> String {
        match self {
            Self::Empty => shown(""),
            Self::Text(text) => shown(text),
            Self::Number(number) => format!("the number {number}"),
            Self::Day(day) => format!("the day {day}"),
            Self::Time(days) => format!("the time {}", clock(*days)),
            Self::Truth(is_true) => if *is_true { "TRUE" } else { "FALSE" }.to_owned(),
            Self::Error(code) => format!("the error {}", shown(code)),
            Self::Uncalculated => "a formula whose value was not saved".to_owned(),
        }
    }

    /// As written into a sheet of text; numbers with `decimal` as their sign.
    pub fn written(&self, decimal: char) -> String {
        match self {
            Self::Empty => String::new(),
            Self::Text(text) => text.clone().into_owned(),
            Self::Number(number) if decimal == ',' => number.to_string().replace('.', ","),
            Self::Number(number) => number.to_string(),
            Self::Day(day) => day.to_string(),
            Self::Time(days) => clock(*days),
            Self::Truth(_) => self.shown(),
            Self::Error(code) => code.clone().into_owned(),
            Self::Uncalculated => String::new(),
        }
    }

    /// The same, kept beyond its row.
    pub(crate) fn kept(&self) -> Value<'static> {
        match self {
            Self::Empty => Value::Empty,
            Self::Text(text) => Value::Text(Cow::Owned(text.clone().into_owned())),
            Self::Number(number) => Value::Number(*number),
            Self::Day(day) => Value::Day(*day),
            Self::Time(days) => Value::Time(*days),
            Self::Truth(is_true) => Value::Truth(*is_true),
            Self::Error(code) => Value::Error(Cow::Owned(code.clone().into_owned())),
            Self::Uncalculated => Value::Uncalculated,
        }
    }
}

/// A part of a day, or some days, as `18:30:00`.
fn clock(days: f64) -> String {
    let minutes = whole_of(days * 1440.0 + 1e-6).unwrap_or(0);
    let seconds = whole_of((days * 1440.0 - f64::from(minutes)).max(0.0) * 60.0 + 0.5).unwrap_or(0).min(59);
    format!("{:02}:{:02}:{seconds:02}", minutes / 60, minutes % 60)
}

/// The day of a workbook's count of days: from 1904-01-01 on, or in the count that begins with 1900-01-01 as 1 and has a
/// 29th of February in 1900, which never was. Nothing when it is no day from 1900 to 2199.
pub(crate) fn day_of_count(count: f64, is_1904: bool) -> Option<CivilDate> {
    let whole = whole_of(count)?;
    let since_1970 = match (is_1904, whole) {
        (true, n) => n - 24_107,
        (false, 1..=59) => whole - 25_568,
        (false, 61..) => whole - 25_569,
        (false, _) => return None,
    };
    CivilDate::from_day_number(since_1970).ok()
}

/// The whole number at or under a small one that is not negative.
fn whole_of(number: f64) -> Option<i32> {
    if !(0.0..200_000.0).contains(&number) {
        return None;
    }
    #[expect(clippy::cast_possible_truncation, reason = "bounded by the range check above")]
    let whole = number as i32;
    Some(whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_from_either_beginning() {
        let day = |count, is_1904| day_of_count(count, is_1904).map(|d| d.to_string());
        assert_eq!(day(1.0, false).as_deref(), Some("1900-01-01"));
        assert_eq!(day(59.0, false).as_deref(), Some("1900-02-28"));
        assert_eq!(day(60.0, false), None, "never was");
        assert_eq!(day(61.0, false).as_deref(), Some("1900-03-01"));
        // 2026-03-14 is 46,095 days after 1899-12-30, counted by Python's datetime.
        assert_eq!(day(46_095.75, false).as_deref(), Some("2026-03-14"));
        assert_eq!(day(46_095.0 - 1462.0, true).as_deref(), Some("2026-03-14"));
        assert_eq!(day(0.0, true).as_deref(), Some("1904-01-01"));
        for none in [-1.0, 0.5, f64::NAN, 1e9] {
            assert_eq!(day(none, false), None, "{none}");
        }
    }
}
