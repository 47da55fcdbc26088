//! Civil dates: the day an athlete trained, without time or zone.

use std::fmt;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A civil date between 1900-01-01 and 2199-12-31.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct CivilDate {
    /// Days since 1970-01-01.
    days: i32,
}

/// Why a date is none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{text}` is no date between 1900-01-01 and 2199-12-31, written year-month-day")]
pub struct BadDate {
    /// The text as it came.
    pub text: String,
}

impl CivilDate {
    /// The last date taken, 2199-12-31.
    pub const LAST: Self = Self { days: 84_005 };

    /// From year, month (1-12) and day (1-31). Fails with [`BadDate`] on a day that does not exist.
    pub fn from_parts(year: i64, month: i64, day: i64) -> Result<Self, BadDate> {
        let bad = || BadDate { text: format!("{year:04}-{month:02}-{day:02}") };
        let y = i16::try_from(year).map_err(|_| bad())?;
        let m = i8::try_from(month).map_err(|_| bad())?;
        let d = i8::try_from(day).map_err(|_| bad())?;
        let date = Date::new(y, m, d).map_err(|_| bad())?;
        if (1900..=2199).contains(&y) { Ok(Self { days: days_of(date) }) } else { Err(bad()) }
    }

    /// Reads `2026-03-14`. Fails with [`BadDate`].
    pub fn parse(text: &str) -> Result<Self, BadDate> {
        let bad = || BadDate { text: text.chars().take(40).collect() };
        let mut parts = text.split('-');
        let mut next = |digits: usize| -> Result<i64, BadDate> {
            let part = parts.next().ok_or_else(bad)?;
            let plain = part.len() == digits && part.bytes().all(|b| b.is_ascii_digit());
            if plain { part.parse().map_err(|_| bad()) } else { Err(bad()) }
        };
        let (y, m, d) = (next(4)?, next(2)?, next(2)?);
        if parts.next().is_some() {
            return Err(bad());
        }
        Self::from_parts(y, m, d)
    }

    /// From days since 1970-01-01. Fails with [`BadDate`] outside 1900 to 2199.
    pub fn from_day_number(days: i32) -> Result<Self, BadDate> {
        let in_range = (-25_567..=84_005).contains(&days);
        if in_range { Ok(Self { days }) } else { Err(BadDate { text: format!("day {days}") }) }
    }

    /// Days since 1970-01-01.
    pub fn day_number(self) -> i32 {
        self.days
    }

    /// The date `n` days later (earlier when negative), held inside the allowed years.
    pub fn plus_days(self, n: i32) -> Self {
        Self { days: self.days.saturating_add(n).clamp(-25_567, 84_005) }
    }

    /// Whole days from `earlier` to this date; negative when this date comes first.
    pub fn days_since(self, earlier: Self) -> i32 {
        self.days - earlier.days
    }

    /// Year, month (1-12), day (1-31).
    pub fn parts(self) -> (i16, i8, i8) {
        let d = self.to_jiff();
        (d.year(), d.month(), d.day())
    }

    /// The day of the week, 0 for Monday to 6 for Sunday.
    pub fn weekday(self) -> u8 {
        // 1970-01-01 was a Thursday, the fourth day.
        u8::try_from((self.days + 3).rem_euclid(7)).unwrap_or(0)
    }

    /// Full years from `birth` to this date.
    pub fn years_since(self, birth: Self) -> i32 {
        let (y, m, d) = self.parts();
        let (by, bm, bd) = birth.parts();
        i32::from(y) - i32::from(by) - i32::from((m, d) < (bm, bd))
    }

    fn to_jiff(self) -> Date {
        Date::new(1970, 1, 1)
            .and_then(|epoch| epoch.checked_add(jiff::Span::new().days(self.days)))
            .unwrap_or(Date::ZERO)
    }
}

fn days_of(date: Date) -> i32 {
    let epoch = Date::new(1970, 1, 1).unwrap_or(Date::ZERO);
    (date - epoch).get_days()
}

impl fmt::Display for CivilDate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (y, m, d) = self.parts();
        write!(f, "{y:04}-{m:02}-{d:02}")
    }
}

impl TryFrom<String> for CivilDate {
    type Error = BadDate;
    fn try_from(text: String) -> Result<Self, BadDate> {
        Self::parse(&text)
    }
}

impl From<CivilDate> for String {
    fn from(date: CivilDate) -> Self {
        date.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_round_trip_and_count_days() {
        let a = CivilDate::parse("2024-02-28").unwrap();
        let b = CivilDate::parse("2024-03-01").unwrap();
        assert_eq!(b.days_since(a), 2);
        assert_eq!(a.plus_days(2), b);
        assert_eq!(b.to_string(), "2024-03-01");
        assert_eq!(CivilDate::parse("1970-01-01").unwrap().day_number(), 0);
        assert_eq!(CivilDate::parse("1900-01-01").unwrap().day_number(), -25_567);
        assert_eq!(CivilDate::parse("2199-12-31").unwrap().day_number(), 84_005);
    }

    #[test]
    fn weekdays_start_on_monday() {
        // 2026-11-23 is a Monday (ISO calendar).
        let monday = CivilDate::parse("2026-11-23").unwrap();
        assert_eq!(monday.weekday(), 0);
        assert_eq!(monday.plus_days(6).weekday(), 6);
        assert_eq!(CivilDate::parse("1969-12-31").unwrap().weekday(), 2);
    }

    #[test]
    fn days_that_do_not_exist_are_refused() {
        for bad in [
            "2023-02-29",
            "2024-13-01",
            "2024-1-1",
            "24-01-01",
            "2024-01-01x",
            "1899-12-31",
            "",
            "+024-01-01",
        ] {
            assert!(CivilDate::parse(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn age_counts_full_years() {
        let birth = CivilDate::parse("2008-06-15").unwrap();
        assert_eq!(CivilDate::parse("2026-06-14").unwrap().years_since(birth), 17);
        assert_eq!(CivilDate::parse("2026-06-15").unwrap().years_since(birth), 18);
    }
}
