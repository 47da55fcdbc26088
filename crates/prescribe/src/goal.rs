//! Goals: where the athlete stands with each, and what comes after.

use nextrung_capacity::outlook::Strain;
use nextrung_capacity::task::Task;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::RungRef;
use nextrung_domain::ladder::Rung;
use nextrung_domain::profile::Goal;

use crate::hold_back::{self, HoldBackKind};
use crate::prescription::{GoalState, GoalStatus};
use crate::situation::Situation;
use crate::wording::{amount, clean, percent, small, unit_word};

/// Chance of the working band or more at which a goal is reached.
const REACHED: f64 = 0.8;

/// Where the athlete stands with each goal that a ladder still knows, in the order of the goals.
pub fn statuses(at: &Situation<'_>) -> Vec<GoalStatus> {
    at.profile
        .goals
        .iter()
        .filter_map(|goal| at.catalog().find(&goal.rung).map(|ix| status(at, goal, ix)))
        .collect()
}

/// True when the goal rung itself is in the working band or easier: it was trained, and the band was shown on it or the
/// estimate is all but sure of it.
pub fn is_reached(at: &Situation<'_>, rung: RungIx) -> bool {
    at.history.rungs.get(&rung).is_some_and(|note| {
        let low = at.policy.working_band(at.rung(rung)).low;
        let (chance, doubt) = hold_back::expected(at, rung, low);
        chance >= REACHED && (note.best >= low || doubt <= at.policy.gate_doubt)
    })
}

fn status(at: &Situation<'_>, goal: &Goal, ix: RungIx) -> GoalStatus {
    let rung = at.rung(ix);
    let outlook = at.state.outlook(at.model, &Task::new(at.catalog(), ix, &[], 1.0));
    let low = at.policy.working_band(rung).low;
    let p_one = outlook.at_least(1.0, Strain::NONE);
    let p_band = outlook.at_least(f64::from(low), Strain::NONE);
    let is_reached = is_reached(at, ix);
    let attempt = at.policy.attempt_band(rung);
    let p_attempt = outlook.at_least(f64::from(attempt.low), Strain::NONE);
    let in_reach = p_attempt >= at.policy.attempt_floor;
    let held = hold_back::of_rung(at, ix);
    // A gate on a rung far ahead is no news: the way there leads through it anyway.
    let hold = held.iter().find(|h| h.kind != HoldBackKind::Gate || in_reach);
    let state = match hold {
        _ if is_reached => GoalState::Reached,
        Some(_) => GoalState::HeldBack,
        None if in_reach => GoalState::InAttempts,
        None => GoalState::Ahead,
    };
    let median = outlook.quantile(0.5).min(f64::from(rung.unit.most()));
    let next = (state == GoalState::Reached).then(|| next_of(at, ix)).flatten();
    let sentence = match state {
        GoalState::Reached => reached_words(at, rung, next.as_ref()),
        GoalState::HeldBack => {
            let opened_by = hold.map_or("", |h| h.opened_by.as_str());
            format!("{} is held back. {opened_by}", rung.name).trim_end().to_owned()
        }
        GoalState::InAttempts => format!(
            "{} is in reach of attempts: {} at {}, {} at {}.",
            rung.name,
            clean(attempt.low, rung.unit),
            percent(p_attempt),
            low,
            percent(p_band)
        ),
        GoalState::Ahead if median < 1.0 => {
            format!("{} is still ahead: not yet a clean {}.", rung.name, unit_word(1, rung.unit))
        }
        GoalState::Ahead => format!(
            "{} is still ahead: about {} today, {low} wanted.",
            rung.name,
            amount(whole(median), rung.unit)
        ),
    };
    GoalStatus { rung: goal.rung.clone(), by: goal.by, state, median, p_one, p_band, next, sentence }
}

/// The whole number nearest to a count of units.
fn whole(units: f64) -> u16 {
    (0..u16::MAX).find(|n| f64::from(*n) + 0.5 > units).unwrap_or(u16::MAX)
}

fn reached_words(at: &Situation<'_>, rung: &Rung, next: Option<&RungRef>) -> String {
    let after = next.and_then(|n| at.catalog().find(n)).map(|n| small(&at.rung(n).name));
    let name = &rung.name;
    after.map_or_else(
        || format!("{name} is reached, and nothing harder stands on this ladder."),
        |after| format!("{name} is reached. The next goal on this ladder could be: {after}."),
    )
}

/// The next harder rung of the same ladder and unit, else the next one of any unit.
fn next_of(at: &Situation<'_>, ix: RungIx) -> Option<RungRef> {
    let harder: Vec<RungIx> =
        at.catalog().rungs_of(&at.catalog().ladder_of(ix).id).filter(|r| *r > ix).collect();
    let unit = at.rung(ix).unit;
    let next = harder.iter().find(|r| at.rung(**r).unit == unit).or_else(|| harder.first())?;
    Some(at.catalog().name(*next))
}
