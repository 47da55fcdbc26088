//! Story: a forecast in plain sentences.

use nextrung_domain::ladder::{Demand, Rung};

use super::dose::Gain;
use super::journey::WEEK;
use super::training::Training;
use super::{Line, Week};
use crate::hold_back::HoldBack;
use crate::situation::Situation;
use crate::wording::{amount, decimal, percent, small, unit_word};

/// The assumption of a line in a sentence.
pub(super) fn assumption(rung: &Rung, training: &Training, gain: Option<&Gain>) -> String {
    let name = small(&rung.name);
    let tried = format!("In each session one fresh set of {name} is tried.");
    let sessions = rate(training.sessions_per_week());
    if let Some(gain) = gain {
        return format!(
            "Three sessions a week, as recommended, with {:+.1} % more growth a week (standard error {:.1} %), as this log shows it. {tried}",
            100.0 * libm::expm1(gain.per_week),
            100.0 * gain.error
        );
    }
    if training.is_none() {
        return format!(
            "Nothing that {name} asks for was trained in the last four weeks, and that goes on: what time off costs is reckoned in. One set is tried at the end of each week."
        );
    }
    let weeks = match training.period / WEEK {
        1 => "week".to_owned(),
        n => format!("{n} weeks"),
    };
    let about = training.sets_a_session.map_or_else(String::new, |n| format!(" of about {}", sets(n)));
    format!(
        "Training goes on as in the last {weeks}: {sessions} a week{about} on what {name} asks for. {tried}"
    )
}

/// `1 set`, `4 sets`.
fn sets(n: f64) -> String {
    let text = format!("{n:.0}");
    format!("{text} set{}", if text == "1" { "" } else { "s" })
}

/// `3 sessions`, `0.75 sessions`.
fn rate(sessions: f64) -> String {
    let text = format!("{sessions:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} session{}", if text == "1" { "" } else { "s" })
}

/// What a coach would say of the lines.
pub(super) fn sentences(
    at: &Situation<'_>,
    lines: &[Line],
    (rung, best): (&Rung, u16),
    held: Option<&HoldBack>,
) -> Vec<String> {
    let mut all: Vec<String> = unknown(at, rung).into_iter().collect();
    if best > 0 {
        all.push(format!(
            "{} was done before, at best {}: the chance is that of showing a clean {} again.",
            rung.name,
            amount(best, rung.unit),
            unit_word(1, rung.unit)
        ));
    }
    if let Some(held) = held {
        all.push(format!(
            "It is held back now: the forecast says what a try would give and is no advice to try. {}",
            held.opened_by
        ));
    }
    if let [line, others @ ..] = lines {
        all.extend(of_line(at, (rung, best), line));
        all.extend(others.iter().map(|other| versus(line, other)));
    }
    all
}

/// Said of abilities that no set has told of; nothing when there are none.
fn unknown(at: &Situation<'_>, rung: &Rung) -> Option<String> {
    let is_unknown = |demand: &&Demand| at.state.block(demand.ability).is_none();
    let names: Vec<String> = rung
        .demands
        .iter()
        .filter(is_unknown)
        .map(|d| small(&at.catalog().ability(d.ability).name))
        .collect();
    let (last, others) = names.split_last()?;
    let list = if others.is_empty() { last.clone() } else { format!("{} and {last}", others.join(", ")) };
    Some(format!(
        "Nothing is known yet of {list}: the figures below are only starting values, until sets of it are logged."
    ))
}

fn of_line(at: &Situation<'_>, (rung, best): (&Rung, u16), line: &Line) -> Vec<String> {
    let count = u16::try_from(line.weeks.len()).unwrap_or(u16::MAX);
    let Some(last) = line.weeks.last() else { return Vec::new() };
    let half = match line.median_week {
        Some(week) => {
            let end = at.date.plus_days(WEEK * i32::from(week));
            format!("More likely than not by week {week}, which ends on {end}.")
        }
        None => "Within these weeks it stays less likely than not.".to_owned(),
    };
    let week = |n: u16| if n > count { format!("later than week {count}") } else { format!("week {n}") };
    let (low, high) = line.first_week;
    let when = if low > count {
        format!("In at least nine of ten cases it comes {}.", week(low))
    } else if low == high {
        format!("In at least eight of ten cases it comes in {}.", week(low))
    } else {
        format!("The 80 % interval of its week goes from {} to {}.", week(low), week(high))
    };
    vec![
        format!(
            "A {}clean {} on {}: {} likely within {}.",
            if best > 0 { "" } else { "first " },
            unit_word(1, rung.unit),
            small(&rung.name),
            percent(last.chance_by_then),
            if count == 1 { "a week".to_owned() } else { format!("{count} weeks") }
        ),
        half,
        when,
        capacity(rung, last, count),
    ]
}

fn capacity(rung: &Rung, last: &Week, count: u16) -> String {
    format!(
        "After week {count} a fresh set of it is about {} {} (80 % of sets {} to {}).",
        decimal(last.median),
        rung.unit.short(),
        decimal(last.interval.0),
        decimal(last.interval.1)
    )
}

fn versus(line: &Line, other: &Line) -> String {
    let last = |line: &Line| line.weeks.last().map_or(0.0, |week| week.chance_by_then);
    format!(
        "With the recommended three sessions a week it would be {} instead of {}.",
        percent(last(other)),
        percent(last(line))
    )
}
