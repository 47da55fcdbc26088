//! Goals: where the athlete stands with each, and what comes after.

use nextrung_capacity::outlook::Strain;
use nextrung_capacity::task::Task;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::profile::Goal;

use crate::hold_back;
use crate::prescription::{GoalState, GoalStatus};
use crate::situation::Situation;

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

/// True when the goal rung itself is in the working band or easier.
pub fn is_reached(at: &Situation<'_>, rung: RungIx) -> bool {
    chances(at, rung).1 >= REACHED && at.history.rungs.contains_key(&rung)
}

/// Chance of one clean unit, and of the working band or more.
fn chances(at: &Situation<'_>, rung: RungIx) -> (f64, f64) {
    let outlook = at.state.outlook(at.model, &Task::new(at.catalog(), rung, &[], 1.0));
    let band = at.policy.working_band(at.rung(rung));
    (outlook.at_least(1.0, Strain::NONE), outlook.at_least(f64::from(band.low), Strain::NONE))
}

fn status(at: &Situation<'_>, goal: &Goal, ix: RungIx) -> GoalStatus {
    let rung = at.rung(ix);
    let outlook = at.state.outlook(at.model, &Task::new(at.catalog(), ix, &[], 1.0));
    let (p_one, p_band) = chances(at, ix);
    let attempt = at.policy.attempt_band(rung);
    let p_attempt = outlook.at_least(f64::from(attempt.low), Strain::NONE);
    let held = hold_back::of_rung(at, ix);
    let state = if is_reached(at, ix) {
        GoalState::Reached
    } else if !held.is_empty() {
        GoalState::HeldBack
    } else if p_attempt >= at.policy.attempt_floor {
        GoalState::InAttempts
    } else {
        GoalState::Ahead
    };
    let median = outlook.quantile(0.5).min(f64::from(rung.unit.most()));
    let next = (state == GoalState::Reached).then(|| next_of(at, ix)).flatten();
    let name = &rung.name;
    let unit = rung.unit.short();
    let sentence = match (state, &next) {
        (GoalState::Reached, Some(next)) => {
            let after =
                at.catalog().find(next).map_or_else(|| next.to_string(), |n| at.rung(n).name.to_lowercase());
            format!(
                "{name} is reached: it sits in the working band. The next goal on this ladder would be: {after}."
            )
        }
        (GoalState::Reached, None) => format!("{name} is reached, and nothing harder stands on this ladder."),
        (GoalState::HeldBack, _) => match held.first() {
            Some(hold) => format!("{name} is held back: {}", hold.opened_by),
            None => format!("{name} is held back."),
        },
        (GoalState::InAttempts, _) => {
            format!(
                "{name} is in reach of attempts: a clean {} has a chance of {:.0} %.",
                one(unit),
                100.0 * p_one
            )
        }
        (GoalState::Ahead, _) => {
            format!("{name} is still ahead: today's estimate is {median:.1} {unit}.")
        }
    };
    GoalStatus { rung: goal.rung.clone(), by: goal.by, state, median, p_one, p_band, next, sentence }
}

fn one(unit: &str) -> &'static str {
    if unit == "reps" { "rep" } else { "second" }
}

/// The next harder rung of the same ladder and unit, else the next one of any unit.
fn next_of(at: &Situation<'_>, ix: RungIx) -> Option<nextrung_domain::ids::RungRef> {
    let harder: Vec<RungIx> =
        at.catalog().rungs_of(&at.catalog().ladder_of(ix).id).filter(|r| *r > ix).collect();
    let unit = at.rung(ix).unit;
    let next = harder.iter().find(|r| at.rung(**r).unit == unit).or_else(|| harder.first())?;
    Some(at.catalog().name(*next))
}
