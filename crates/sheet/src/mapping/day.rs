//! Day: days written as text, in figures or with the month's name.

use nextrung_domain::date::CivilDate;

/// The order in which days are written in figures; year first is known without it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DayOrder {
    /// `14/03/2026`.
    DayMonth,
    /// `03/14/2026`.
    MonthDay,
}

impl DayOrder {
    /// Its word in a mapping.
    pub fn word(self) -> &'static str {
        match self {
            Self::DayMonth => "day-month-year",
            Self::MonthDay => "month-day-year",
        }
    }
}

/// A day as it was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum WrittenDay {
    /// One reading only.
    Known(CivilDate),
    /// In figures, day and month in an order of the sheet's own.
    Figures { first: i64, second: i64, year: i64 },
}

const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

const WEEKDAYS: [&str; 7] = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];

const EXPECTED: &str = "a day with its year that exists, from 1900 to 2199, such as 2026-03-14, 14/03/2026 or 14 Mar 2026, its month in figures or \
     in English";

/// Takes a written day apart. Fails with what was expected.
pub(crate) fn written_day(text: &str) -> Result<WrittenDay, String> {
    let bad = || EXPECTED.to_owned();
    if let Ok(day) = CivilDate::parse(text) {
        return Ok(WrittenDay::Known(day));
    }
    if text.len() > 60 {
        return Err(bad());
    }
    let lower = text.to_lowercase();
    let words: Vec<&str> =
        lower.split(|c: char| c == ',' || c.is_whitespace()).filter(|word| !word.is_empty()).collect();
    let words = match words.as_slice() {
        [first, rest @ ..] if is_short_for(first.trim_end_matches('.'), &WEEKDAYS) && !rest.is_empty() => {
            rest
        }
        all => all,
    };
    match words {
        // A time of day after the day says nothing about training order that the rows do not.
        [day] | [day, _] if day.contains(['/', '.', '-']) => {
            if words.get(1).is_some_and(|time| !is_time(time)) {
                return Err(bad());
            }
            figures(day.split_once('t').filter(|(_, time)| is_time(time)).map_or(*day, |(day, _)| day))
        }
        [first, second, year] => {
            let (day, month) = match month_of(second) {
                Some(month) => (first, month),
                None => (second, month_of(first).ok_or_else(bad)?),
            };
            let day = day.trim_end_matches(['.', 's', 't', 'n', 'd', 'r', 'h']);
            let (day, year) = (small(day).ok_or_else(bad)?, year_of(year).ok_or_else(bad)?);
            CivilDate::from_parts(year, month, day).map(WrittenDay::Known).map_err(|_| bad())
        }
        _ => Err(bad()),
    }
}

/// True for what people write for a day without its year, and for a number that may be one.
pub(crate) fn is_like_a_day(text: &str) -> bool {
    let lower = text.to_lowercase();
    let words = lower.split(|c: char| c == ',' || c.is_whitespace());
    let words: Vec<&str> = words
        .map(|word| word.trim_matches(|c: char| !c.is_alphanumeric()))
        .filter(|word| !word.is_empty())
        .collect();
    let is_figure = |word: &&str| word.starts_with(|c: char| c.is_ascii_digit()) && small_figures(word);
    let names_month = words.iter().any(|word| month_of(word).is_some());
    let names_weekday = words.first().is_some_and(|word| is_weekday(word));
    let figures = words.iter().filter(|word| is_figure(word)).count();
    let signs = |word: &&str| word.chars().filter(|c| matches!(c, '/' | '.' | '-')).count();
    let is_whole = words.iter().filter(|word| is_figure(word)).any(|word| signs(word) > 1);
    let is_half = words.first().is_some_and(|word| is_figure(word) && word.contains('/'));
    // A day and a year, whatever the month's name.
    let has_year = words.iter().any(|word| word.len() == 4 && year_of(word).is_some());
    let has_day = words.iter().any(|word| small(word.trim_end_matches('.')).is_some());
    figures > 0 && (names_month || names_weekday || figures == words.len())
        || is_whole
        || is_half
        || has_year && has_day
}

/// True for day and month alone in figures, `14/3`.
pub(crate) fn is_half_day(text: &str) -> bool {
    text.trim()
        .split_once('/')
        .is_some_and(|(first, second)| small(first).is_some() && small(second).is_some())
}

/// True for the name of a weekday, or its first letters.
pub(crate) fn is_weekday(text: &str) -> bool {
    is_short_for(text.trim().trim_end_matches('.').to_lowercase().as_str(), &WEEKDAYS)
}

/// True for figures alone, or with the signs of a day between them.
fn small_figures(word: &str) -> bool {
    word.trim_end_matches(['.', 's', 't', 'n', 'd', 'r', 'h'])
        .chars()
        .all(|c| c.is_ascii_digit() || matches!(c, '/' | '.' | '-'))
}

/// Reads a day in the order of the sheet. Fails with what was expected, both readings told where there are two.
pub(crate) fn read_day(text: &str, order: Option<DayOrder>) -> Result<CivilDate, String> {
    let (first, second, year) = match written_day(text)? {
        WrittenDay::Known(day) => return Ok(day),
        WrittenDay::Figures { first, second, year } => (first, second, year),
    };
    let day_month = CivilDate::from_parts(year, second, first);
    let month_day = CivilDate::from_parts(year, first, second);
    let other = |order: DayOrder| format!("a day written {}, as the mapping says; {EXPECTED}", order.word());
    match (order, day_month, month_day) {
        (Some(DayOrder::DayMonth), Ok(day), _) | (Some(DayOrder::MonthDay), _, Ok(day)) => Ok(day),
        (Some(order), Ok(_), _) | (Some(order), _, Ok(_)) => Err(other(order)),
        (None, Ok(day), Err(_)) | (None, Err(_), Ok(day)) => Ok(day),
        (None, Ok(one), Ok(two)) if one == two => Ok(one),
        (None, Ok(one), Ok(two)) => Err(format!(
            "a day with one reading: this is {one} or {two}; say day_order = \"{}\" or \"{}\" in the mapping",
            DayOrder::DayMonth.word(),
            DayOrder::MonthDay.word()
        )),
        (_, Err(_), Err(_)) => Err(EXPECTED.to_owned()),
    }
}

fn figures(text: &str) -> Result<WrittenDay, String> {
    let bad = || EXPECTED.to_owned();
    if let Ok(day) = CivilDate::parse(text) {
        return Ok(WrittenDay::Known(day));
    }
    let text = text.trim_end_matches('.');
    let sign = text.chars().find(|c| !c.is_ascii_digit()).ok_or_else(bad)?;
    let parts: Vec<&str> = text.split(sign).collect();
    let [first, second, third] = parts.as_slice() else { return Err(bad()) };
    if first.len() == 4 {
        let (year, month, day) = (year_of(first), small(second), small(third));
        let day = year.zip(month.zip(day)).and_then(|(y, (m, d))| CivilDate::from_parts(y, m, d).ok());
        return day.map(WrittenDay::Known).ok_or_else(bad);
    }
    let (first, second) = (small(first).ok_or_else(bad)?, small(second).ok_or_else(bad)?);
    Ok(WrittenDay::Figures { first, second, year: year_of(third).ok_or_else(bad)? })
}

fn small(text: &str) -> Option<i64> {
    let fits = (1..=2).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
    if fits { text.parse().ok() } else { None }
}

/// Four figures, or two: 70 to 99 are of the last century (common practice, no source).
fn year_of(text: &str) -> Option<i64> {
    if text.len() == 4 && text.bytes().all(|b| b.is_ascii_digit()) {
        return text.parse().ok();
    }
    let short = small(text).filter(|_| text.len() == 2)?;
    Some(if short >= 70 { 1900 + short } else { 2000 + short })
}

fn month_of(word: &str) -> Option<i64> {
    let word = word.trim_end_matches('.');
    let at = (0..12).find(|n| is_short_for(word, &MONTHS[*n..=*n]))?;
    i64::try_from(at + 1).ok()
}

/// True for a name, or for its first three or four letters.
fn is_short_for(word: &str, names: &[&str]) -> bool {
    names.iter().any(|name| *name == word || (matches!(word.len(), 3 | 4) && name.starts_with(word)))
}

fn is_time(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
        && text.contains(':')
        && text.chars().all(|c| c.is_ascii_digit() || ":.+z".contains(c))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_read_as_people_write_them() {
        for text in [
            "2026-03-14",
            "2026/3/14",
            "2026-03-14 18:30",
            "2026-03-14T18:30:00",
            "14/03/2026",
            "14.3.26",
            "14.03.2026.",
            "14-3-2026",
            "Sat 14/03/2026",
            "14 Mar 2026",
            "14. March 2026",
            "Mar 14, 2026",
            "March 14th, 2026",
            "Saturday, 14 Mar 26",
            "14\u{a0}March\u{a0}2026",
        ] {
            assert_eq!(read_day(text, None).map(|d| d.to_string()).as_deref(), Ok("2026-03-14"), "{text}");
        }
        let order = Some(DayOrder::MonthDay);
        assert_eq!(read_day("3/14/26", order).map(|d| d.to_string()).as_deref(), Ok("2026-03-14"));
        assert_eq!(read_day("03.04.2026", order).map(|d| d.to_string()).as_deref(), Ok("2026-03-04"));
        assert_eq!(read_day("05.05.99", None).map(|d| d.to_string()).as_deref(), Ok("1999-05-05"));
    }

    #[test]
    fn two_readings_are_told_and_none_is_taken() {
        let both = read_day("03/04/2026", None).unwrap_err();
        assert!(both.contains("2026-04-03 or 2026-03-04; say day_order = \"day-month-year\""), "{both}");
        let other = read_day("14/03/2026", Some(DayOrder::MonthDay)).unwrap_err();
        assert!(other.starts_with("a day written month-day-year, as the mapping says"), "{other}");
        for none in [
            "14/03",
            "31/02/2026",
            "2026",
            "March",
            "32 Mar 2026",
            "tomorrow",
            "",
            "14/03/2026 late",
            "1/2/3",
        ] {
            assert_eq!(read_day(none, None), Err(EXPECTED.to_owned()), "{none}");
        }
    }
}
