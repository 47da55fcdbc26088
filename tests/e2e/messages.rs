//! Messages: sound ones, for tests to send or to spoil.

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;

pub(crate) const PULL_UP: &str = "ladders/pull/rungs/pull-up";
pub(crate) const ONE_ARM: &str = "ladders/pull/rungs/one-arm-pull-up";

pub(crate) fn date(year: i32, month: i32, day: i32) -> v1::Date {
    v1::Date { year, month, day }
}

pub(crate) fn strings(texts: &[&str]) -> Vec<String> {
    texts.iter().map(|text| (*text).to_owned()).collect()
}

pub(crate) fn roster(title: &str) -> v1::Roster {
    v1::Roster { title: title.to_owned(), ..v1::Roster::default() }
}

/// An invented adult with common equipment.
pub(crate) fn athlete() -> v1::Athlete {
    v1::Athlete {
        display_name: "Wren".to_owned(),
        birth_date: Some(date(1990, 6, 15)),
        body_mass_kg: Some(70.0),
        equipment: strings(&["bar", "box", "rings", "wall"]),
        ..v1::Athlete::default()
    }
}

/// A working set of pull-ups on 2 March 2026 that strength ended after five; `number` is its place and its id.
pub(crate) fn pull_up(number: i32) -> v1::LoggedSet {
    v1::LoggedSet {
        client_set_id: format!("s-{number}"),
        training_date: Some(date(2026, 3, 2)),
        set_number: number,
        rung: PULL_UP.to_owned(),
        purpose: v1::Purpose::Working.into(),
        done: Some(Done::Reps(5)),
        stop: v1::Stop::Strength.into(),
        ..v1::LoggedSet::default()
    }
}

/// `count` sound sets with ids and places of their own, four to a day from 1 January 2024.
pub(crate) fn many(count: i32) -> Vec<v1::LoggedSet> {
    (0..count)
        .map(|n| {
            let day = n / 4;
            let date = date(2024, 1 + day / 25, 1 + day % 25);
            v1::LoggedSet { client_set_id: format!("m-{n}"), training_date: Some(date), ..pull_up(1 + n % 4) }
        })
        .collect()
}

/// A week of pull-ups near five.
pub(crate) fn history() -> Vec<v1::LoggedSet> {
    let days = [(1, [5, 5, 4]), (4, [5, 5, 5]), (7, [6, 5, 5])];
    let sets = days.into_iter().flat_map(|(day, counts)| counts.map(|reps| (day, reps)));
    let in_day = sets.zip([1, 2, 3].into_iter().cycle());
    in_day
        .map(|((day, reps), number)| v1::LoggedSet {
            client_set_id: format!("h-{day}-{number}"),
            training_date: Some(date(2026, 3, day)),
            done: Some(Done::Reps(reps)),
            ..pull_up(number)
        })
        .collect()
}
