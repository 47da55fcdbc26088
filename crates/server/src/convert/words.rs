//! Words: enums, dates and times, both ways.

use nextrung_api::v1;
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::Choice;
use nextrung_domain::ladder::{Basis, Side};
use nextrung_domain::measure::Unit;
use nextrung_domain::profile::Clearance;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_store::record::Days;

use crate::fields::{Read, bad, both};

/// The member of `all` at a contract number, which is its place in the list plus one; 0 is missing.
fn choice<T: Copy>(all: &[T], number: i32) -> Choice<T> {
    match usize::try_from(number) {
        Ok(0) => Choice::Missing,
        Ok(n) => all.get(n - 1).map_or_else(|| Choice::Unknown(number.to_string()), |v| Choice::Known(*v)),
        Err(_) => Choice::Unknown(number.to_string()),
    }
}

/// The contract number of a member: its place in the list plus one.
pub fn number<T: PartialEq>(all: &[T], member: &T) -> i32 {
    all.iter().position(|m| m == member).and_then(|at| i32::try_from(at + 1).ok()).unwrap_or(0)
}

/// A stop.
pub fn stop(number: i32) -> Choice<Stop> {
    choice(&Stop::ALL, number)
}

/// A purpose.
pub fn purpose(number: i32) -> Choice<Purpose> {
    choice(&Purpose::ALL, number)
}

/// A clearance.
pub fn clearance(number: i32) -> Choice<Clearance> {
    choice(&Clearance::ALL, number)
}

/// A unit's number.
pub fn of_unit(unit: Unit) -> i32 {
    number(&Unit::ALL, &unit)
}

/// A side's number.
pub fn of_side(side: Side) -> i32 {
    number(&Side::ALL, &side)
}

/// A basis's number.
pub fn of_basis(basis: Basis) -> i32 {
    number(&Basis::ALL, &basis)
}

/// Year, month, day of a date message.
pub fn date_parts(date: v1::Date) -> (i64, i64, i64) {
    let v1::Date { year, month, day } = date;
    (i64::from(year), i64::from(month), i64::from(day))
}

/// A date that must be there and exist.
pub fn date(field: &str, date: Option<v1::Date>) -> Read<CivilDate> {
    match optional_date(field, date)? {
        Some(date) => Ok(date),
        None => bad(field, "nothing", "a date: year, month and day"),
    }
}

/// A date that must exist when it is there.
pub fn optional_date(field: &str, date: Option<v1::Date>) -> Read<Option<CivilDate>> {
    let Some((y, m, d)) = date.map(date_parts) else { return Ok(None) };
    match CivilDate::from_parts(y, m, d) {
        Ok(date) => Ok(Some(date)),
        Err(_) => bad(field, format!("{y}-{m}-{d}"), "a day that exists, from 1900 to 2199"),
    }
}

/// The days a list is cut to, both ends included.
pub fn days(start_date: Option<v1::Date>, end_date: Option<v1::Date>) -> Read<Days> {
    let (from, to) = both(optional_date("start_date", start_date), optional_date("end_date", end_date))?;
    match (from, to) {
        (Some(from), Some(to)) if to < from => {
            bad("end_date", to.to_string(), format!("a day not before start_date, {from}"))
        }
        _ => Ok(Days { from, to }),
    }
}

/// A date's message.
pub fn of_date(date: CivilDate) -> v1::Date {
    let (year, month, day) = date.parts();
    v1::Date { year: i32::from(year), month: i32::from(month), day: i32::from(day) }
}

/// A moment's message, from milliseconds since 1970-01-01 UTC.
pub fn of_moment(ms: i64) -> prost_types::Timestamp {
    let nanos = i32::try_from(ms.rem_euclid(1000) * 1_000_000).unwrap_or(0);
    prost_types::Timestamp { seconds: ms.div_euclid(1000), nanos }
}

/// A log position's number.
pub fn of_position(position: u64) -> i64 {
    of_count(position)
}

/// A count's number.
pub fn of_count(count: u64) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

#[cfg(test)]
pub(super) mod tests;
