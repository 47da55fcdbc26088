//! Rows of a replay to their messages.

use nextrung_api::v1;
use nextrung_domain::ids::{RosterId, RungRef};
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_replay::evaluate::row::Row;
use nextrung_replay::evaluate::set_score::{LEVELS, WholeScore};

use crate::convert::words;
use crate::names;

/// A row's message; `forecasters` has their names in order.
pub fn of_row(roster: &RosterId, forecasters: &[&str], row: &Row) -> v1::ReplayRow {
    let Row {
        athlete,
        set,
        date,
        session,
        number,
        arrived_at_ms,
        rung,
        unit,
        purpose,
        target,
        done,
        stop,
        forecaster,
        top,
        log_ending,
        log_count,
        failed: [strength, balance, line],
        whole,
    } = row;
    v1::ReplayRow {
        set: format!("{}/athletes/{athlete}/sets/{set}", names::of_roster(roster)),
        training_date: Some(words::of_date(*date)),
        session: i32::from(*session),
        set_number: i32::from(*number),
        arrival_time: Some(words::of_moment(*arrived_at_ms)),
        rung: RungRef::parse(rung).map_or_else(|_| rung.clone(), |rung| names::of_rung(&rung)),
        unit: words::of_unit(*unit),
        purpose: words::number(&Purpose::ALL, purpose),
        planned_target: target.map(i32::from),
        done: i32::from(*done),
        stop: words::number(&Stop::ALL, stop),
        forecaster: forecasters.get(*forecaster).copied().unwrap_or_default().to_owned(),
        top: i32::from(*top),
        log_score: *log_ending,
        log_score_of_count: *log_count,
        probability_strength: *strength,
        probability_balance: *balance,
        probability_line: *line,
        whole: whole.as_ref().map(of_whole),
    }
}

fn of_whole(score: &WholeScore) -> v1::WholeSetScore {
    let WholeScore { ranked, rank, edges: [low, high], intervals, middle } = score;
    let event = |(probability, came): (f64, bool)| v1::ForetoldEvent { probability, came };
    let units = |count: usize| u32::try_from(count).map_or(f64::INFINITY, f64::from);
    let held = LEVELS.into_iter().zip(intervals);
    v1::WholeSetScore {
        ranked: *ranked,
        rank: *rank,
        low: low.map(event),
        high: high.map(event),
        intervals: held
            .map(|(level, (probability, held))| v1::ForetoldInterval {
                level,
                probability: *probability,
                held: *held,
            })
            .collect(),
        middle: Some(v1::Interval { level: LEVELS[1], low: units(middle.0), high: units(middle.1) }),
    }
}

#[cfg(test)]
mod tests;
