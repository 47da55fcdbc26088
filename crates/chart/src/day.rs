//! Days: civil dates by their count, as pictures place and name them.

const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const WEEKDAYS: [&str; 7] = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"];

/// A day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Day {
    /// Days since 1970-01-01.
    pub count: i32,
}

impl Day {
    /// Year, month (1 to 12) and day (1 to 31) of the Gregorian calendar: years counted from March, so that the leap day
    /// is the last of its year and months follow a line (common practice for civil calendars).
    pub fn parts(self) -> (i64, i64, i64) {
        let days = i64::from(self.count) + 719_468;
        let era = days.div_euclid(146_097);
        let of_era = days.rem_euclid(146_097);
        let year_of_era = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        let from_march = (5 * of_year + 2) / 153;
        let day = of_year - (153 * from_march + 2) / 5 + 1;
        let month = if from_march < 10 { from_march + 3 } else { from_march - 9 };
        let year = year_of_era + 400 * era + i64::from(month <= 2);
        (year, month, day)
    }

    /// `2026-11-23`.
    pub fn iso(self) -> String {
        let (year, month, day) = self.parts();
        format!("{year:04}-{month:02}-{day:02}")
    }

    /// `23 Nov`.
    pub(crate) fn short(self) -> String {
        let (_, month, day) = self.parts();
        let month = usize::try_from(month - 1).ok().and_then(|at| MONTHS.get(at)).unwrap_or(&"?");
        format!("{day} {month}")
    }

    /// `Monday`.
    pub(crate) fn weekday(self) -> &'static str {
        let of_week = (i64::from(self.count) + 3).rem_euclid(7);
        usize::try_from(of_week).ok().and_then(|at| WEEKDAYS.get(at)).copied().unwrap_or("?")
    }

    /// Its place on an axis of days.
    pub(crate) fn place(self) -> f64 {
        f64::from(self.count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_named_as_the_calendar_has_them() {
        for (count, iso, weekday) in [
            (0, "1970-01-01", "Thursday"),
            (-1, "1969-12-31", "Wednesday"),
            (19_782, "2024-02-29", "Thursday"),
            (19_783, "2024-03-01", "Friday"),
            (20_780, "2026-11-23", "Monday"),
            (84_005, "2199-12-31", "Tuesday"),
            (-25_567, "1900-01-01", "Monday"),
        ] {
            let day = Day { count };
            assert_eq!((day.iso().as_str(), day.weekday()), (iso, weekday));
        }
        assert_eq!(Day { count: 20_780 }.short(), "23 Nov");
    }
}
