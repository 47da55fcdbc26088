//! Across: days that stand over columns of their own, with what was done on them under them.

use nextrung_domain::date::CivilDate;

use super::DayOrder;
use super::day::{WrittenDay, is_like_a_day, is_weekday, read_day, written_day};
use crate::grid::{Fault, GridRow, Value, cell_name};

/// Columns with the day that stands over them.
pub(crate) type DayColumns = Vec<(usize, CivilDate)>;

/// True for a header that is a day with its year, whatever its order.
pub(crate) fn is_day(value: &Value<'_>) -> bool {
    match value {
        Value::Day(_) => true,
        Value::Text(text) => match written_day(text.trim()) {
            Ok(WrittenDay::Known(_)) => true,
            Ok(WrittenDay::Figures { first, second, year }) => [(first, second), (second, first)]
                .into_iter()
                .any(|(day, month)| CivilDate::from_parts(year, month, day).is_ok()),
            Err(_) => false,
        },
        Value::Empty
        | Value::Number(_)
        | Value::Time(_)
        | Value::Truth(_)
        | Value::Error(_)
        | Value::Uncalculated => false,
    }
}

/// True for a weekday alone.
pub(crate) fn names_weekday(value: &Value<'_>) -> bool {
    matches!(value, Value::Text(text) if is_weekday(text))
}

/// The days of a row of headers, but for the columns that mean something else; none in another row. Fails on a header among
/// days that may be one and cannot be read.
pub(crate) fn day_columns(
    row: &GridRow<'_>,
    is_taken: impl Fn(usize) -> bool,
    order: Option<DayOrder>,
) -> Result<DayColumns, Fault> {
    let open = || row.cells.iter().enumerate().filter(|(place, _)| !is_taken(*place));
    if !open().any(|(_, value)| is_day(value)) {
        return Ok(DayColumns::new());
    }
    let mut days = DayColumns::new();
    let mut add = |place: usize, day: CivilDate| match days.iter().find(|(_, other)| *other == day) {
        Some((other, _)) => Err(doubled(day, [*other, place], row.number)),
        None => {
            days.push((place, day));
            Ok(())
        }
    };
    for (place, value) in open() {
        match value {
            Value::Day(day) => add(place, *day)?,
            Value::Text(text) => match read_day(text.trim(), order) {
                Ok(day) => add(place, day)?,
                Err(expected) if is_day(value) || is_like_a_day(text) => {
                    return Err(Fault::new(value.shown(), expected).at(cell_name(place, row.number)));
                }
                Err(_) => (),
            },
            Value::Number(_) | Value::Time(_) | Value::Truth(_) | Value::Error(_) | Value::Uncalculated => {
                let expected = "a day with its year, as the headers beside it: format them as days, or write them as 2026-03-14";
                return Err(Fault::new(value.shown(), expected).at(cell_name(place, row.number)));
            }
            Value::Empty => (),
        }
    }
    Ok(days)
}

fn doubled(day: CivilDate, places: [usize; 2], row: u32) -> Fault {
    let [first, second] = places.map(|place| cell_name(place, row));
    let found = format!("{day} in {first} and in {second}");
    let expected = "each day once: all sets of a day stand in one cell, and those of a second session in a sheet of its own, with \
                    session = 2 in its mapping";
    Fault::new(found, expected).at(second)
}

#[cfg(test)]
mod tests {
    use std::borrow::Cow;

    use super::*;

    fn days(texts: &[&'static str], order: Option<DayOrder>) -> Result<Vec<(usize, String)>, String> {
        let cells: Vec<Value<'_>> = texts.iter().map(|text| Value::Text(Cow::Borrowed(*text))).collect();
        let row = GridRow { number: 3, cells: &cells, carried: &[], is_hidden: false, fault: None };
        let found =
            day_columns(&row, |place| place == 0, order).map_err(|f| f.refuse("x", None).to_string())?;
        Ok(found.into_iter().map(|(place, day)| (place, day.to_string())).collect())
    }

    #[test]
    fn days_are_found_beside_what_means_something_else() {
        let found = days(&["Exercise", "14.03.2026", "Goal", "", "Tue 17 Mar 2026", "1RM"], None).unwrap();
        assert_eq!(found, [(1, "2026-03-14".to_owned()), (4, "2026-03-17".to_owned())]);
        assert_eq!(days(&["Exercise", "5 5 4", "3x5"], None), Ok(vec![]), "no header at all");
        assert_eq!(days(&["14.03.2026", "5 5 4"], None), Ok(vec![]), "a row that begins with its day");
    }

    #[test]
    fn a_header_that_may_be_a_day_is_not_passed_over() {
        for (text, word) in [
            ("17/3", "a day with its year"),
            ("17 Mar", "a day with its year"),
            ("17", "a day with its year"),
            ("31/02/2026", "a day with its year"),
            ("03/04/2026", "a day with one reading"),
        ] {
            let told = days(&["Exercise", "14.03.2026", text], None).unwrap_err();
            assert!(told.contains("C3") && told.contains(word), "{text}: {told}");
        }
        let read = days(&["Exercise", "03/04/2026"], Some(DayOrder::MonthDay)).unwrap();
        assert_eq!(read, [(1, "2026-03-04".to_owned())]);
    }
}
