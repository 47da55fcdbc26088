//! Calendar: days as people write and read them, and today on this machine's calendar.

use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

const WEEKDAYS: [&str; 7] = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"];
const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// Today in this machine's time zone. Only a default for a flag that was left out: the service has its own clock.
pub(crate) fn today() -> CivilDate {
    let now = jiff::ZonedDateTime::now();
    CivilDate::from_parts(now.year().into(), now.month().into(), now.day().into()).unwrap_or(CivilDate::LAST)
}

/// Reads `2026-03-14`, `today`, `tomorrow` or `yesterday`.
pub(crate) fn parse_day(text: &str) -> Result<CivilDate, String> {
    match text {
        "today" => Ok(today()),
        "tomorrow" => Ok(today().plus_days(1)),
        "yesterday" => Ok(today().plus_days(-1)),
        _ => CivilDate::parse(text)
            .map_err(|_| "expected a day such as 2026-03-14, or today, tomorrow, yesterday".to_owned()),
    }
}

/// A day as the contract sends it.
pub(crate) fn to_wire(day: CivilDate) -> v1::Date {
    let (year, month, day) = day.parts();
    v1::Date { year: year.into(), month: month.into(), day: day.into() }
}

/// A day of an answer as `2026-03-14`; `-` when there is none.
pub(crate) fn iso(day: Option<&v1::Date>) -> String {
    day.map_or_else(|| "-".to_owned(), |day| format!("{:04}-{:02}-{:02}", day.year, day.month, day.day))
}

/// A day of an answer as `Monday 23 November 2026`.
pub(crate) fn long(day: Option<&v1::Date>) -> String {
    let Some(date) = day.and_then(from_wire) else { return iso(day) };
    let (year, month, day) = date.parts();
    let month = usize::try_from(month - 1).ok().and_then(|at| MONTHS.get(at)).unwrap_or(&"?");
    let weekday = WEEKDAYS.get(usize::from(date.weekday())).unwrap_or(&"?");
    format!("{weekday} {day} {month} {year}")
}

/// A day of an answer, when it is one.
pub(crate) fn from_wire(day: &v1::Date) -> Option<CivilDate> {
    CivilDate::from_parts(day.year.into(), day.month.into(), day.day.into()).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_written_in_both_forms() {
        let day = to_wire(CivilDate::parse("2026-11-23").unwrap());
        assert_eq!(long(Some(&day)), "Monday 23 November 2026");
        assert_eq!(iso(Some(&day)), "2026-11-23");
        assert_eq!(iso(None), "-");
    }

    #[test]
    fn days_are_read_by_date_or_by_word() {
        assert_eq!(parse_day("2026-11-23").unwrap().to_string(), "2026-11-23");
        assert_eq!(parse_day("tomorrow").unwrap().days_since(parse_day("yesterday").unwrap()), 2);
        assert!(parse_day("23.11.2026").is_err());
    }
}
