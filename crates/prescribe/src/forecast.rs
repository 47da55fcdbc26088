//! Forecast: when the first clean unit on a rung is likely, by simulating the state (F-12).
//!
//! What is asked: in each session that trains what the rung asks for, one fresh set without shadings is tried on it. The
//! first clean unit comes in the first of these sessions whose try would give one. Tries are not counted as training. Each
//! path draws level, slope and the athlete's departure on the rung together from what is believed, moves them from session
//! to session by F-03, draws the form of each session, and carries the chance that no try has succeeded yet: the noise of
//! a set is summed exactly. The capacity at the end of each week is exact as well and takes no draws.

pub mod dose;
mod journey;
mod story;
pub mod training;

use nextrung_capacity::done::Done;
use nextrung_capacity::state::LEVEL;
use nextrung_capacity::task::Task;
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ladder::Rung;

use crate::hold_back;
use crate::situation::Situation;
use crate::story::cautions_of;
use dose::Gain;
use journey::{Journey, WEEK};
use training::Training;

/// Paths simulated for each line.
pub const PATHS: u32 = 2000;
/// Most weeks ahead.
pub const MOST_WEEKS: u16 = 52;
/// Share of the paths below the low end of an interval; as many are above its high end.
const TAIL: f64 = 0.1;

/// When the first clean unit on a rung is likely.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// The rung.
    pub rung: RungIx,
    /// True when at least one clean unit was done on it before.
    pub is_done_before: bool,
    /// Training as in the last weeks first; then the recommended dose, when the log supports one.
    pub lines: Vec<Line>,
    /// Why there is no line for the recommended dose; empty when there is one.
    pub no_second_line: String,
    /// The forecast in plain sentences.
    pub sentences: Vec<String>,
    /// The cautions that belong to it.
    pub cautions: Vec<String>,
}

/// A forecast under one assumption.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The assumption in a sentence.
    pub assumption: String,
    /// Sessions a week.
    pub sessions_per_week: f64,
    /// Week by week.
    pub weeks: Vec<Week>,
    /// First weeks by which the chance is at least 0.1 and 0.9; the week after the last when it is not within them.
    pub first_week: (u16, u16),
    /// First week by which it is at least 0.5; nothing when that lies beyond the last.
    pub median_week: Option<u16>,
}

/// One week of a forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Week {
    /// Chance that the first clean unit has come by the end of the week.
    pub chance_by_then: f64,
    /// Chance that it comes in the week.
    pub chance_in_week: f64,
    /// Median of a fresh set on a usual day at the end of the week, units of the rung.
    pub median: f64,
    /// Its central interval of level 0.8: doubt, form of the day and noise of the set together.
    pub interval: (f64, f64),
}

/// The forecast for a rung from the situation of a day and the whole log up to and on it, `weeks` weeks ahead.
pub fn forecast(at: &Situation<'_>, sets: &[(Task, Done)], rung: RungIx, weeks: u16) -> Forecast {
    let task = Task::new(at.catalog(), rung, &[], 1.0);
    let lately = Training::lately(&task, sets, at.day());
    let mut lines = vec![line(at, (&task, weeks), &lately, None)];
    let supported = dose::recommended(at, sets, (&task, &lately));
    if let Ok(gain) = &supported {
        lines.push(line(at, (&task, weeks), &Training::recommended(&task), Some(gain)));
    }
    let best = at.history.rungs.get(&rung).map_or(0, |note| note.best);
    let held = hold_back::of_rung(at, rung);
    let sentences = story::sentences(at, &lines, (at.rung(rung), best), held.first());
    Forecast {
        rung,
        is_done_before: best > 0,
        lines,
        no_second_line: supported.err().unwrap_or_default(),
        sentences,
        cautions: cautions_of(at, [rung]),
    }
}

fn line(at: &Situation<'_>, (task, weeks): (&Task, u16), training: &Training, gain: Option<&Gain>) -> Line {
    let rung = at.rung(task.rung);
    let open = Journey::new(at, (task, weeks), training, gain).still_open(PATHS);
    let capacities = capacities(at, (task, weeks), training, gain);
    let mut before = 0.0;
    let week = |(open, (median, interval)): (&f64, (f64, (f64, f64)))| {
        let by_then = 1.0 - open;
        let week = Week { chance_by_then: by_then, chance_in_week: by_then - before, median, interval };
        before = by_then;
        week
    };
    let by_week: Vec<Week> = open.iter().zip(capacities).map(week).collect();
    let first_with =
        |chance: f64| (1..=weeks).zip(&by_week).find(|(_, w)| w.chance_by_then >= chance).map(|(n, _)| n);
    Line {
        assumption: story::assumption(rung, training, gain),
        sessions_per_week: training.sessions_per_week(),
        first_week: (first_with(TAIL).unwrap_or(weeks + 1), first_with(1.0 - TAIL).unwrap_or(weeks + 1)),
        median_week: first_with(0.5),
        weeks: by_week,
    }
}

/// Median and central 80 % interval of a fresh set at the end of each week, exactly: the state is moved from session to
/// session as the filter would, hearing nothing.
fn capacities(
    at: &Situation<'_>,
    (task, weeks): (&Task, u16),
    training: &Training,
    gain: Option<&Gain>,
) -> Vec<(f64, (f64, f64))> {
    let parameters = &at.model.parameters;
    let mut state = at.state.clone();
    let mut found = Vec::new();
    for week in 1..=i32::from(weeks) {
        for day in at.day() + WEEK * (week - 1) + 1..=at.day() + WEEK * week {
            for block in state.blocks.iter_mut().filter(|block| training.works(block.ability, at.day(), day))
            {
                block.enter(parameters, day, 1);
                block.last_work = day;
            }
        }
        let mut end = state.on(parameters, at.day() + WEEK * week);
        if let Some(gain) = gain {
            add(&mut end, gain, f64::from(week));
        }
        let outlook = end.outlook(at.model, task);
        let quantile = |p: f64| most(at.rung(task.rung), outlook.quantile(p));
        found.push((quantile(0.5), (quantile(TAIL), quantile(1.0 - TAIL))));
    }
    found
}

/// Adds what a gain comes to after some weeks, and the doubt about it.
fn add(state: &mut nextrung_capacity::state::AthleteState, gain: &Gain, weeks: f64) {
    let block = state.blocks.iter_mut().find(|block: &&mut _| block.ability == gain.ability);
    if let Some(block) = block {
        block.mean[LEVEL] += weeks * gain.per_week;
        let sd = weeks * gain.error;
        block.covariance.add(LEVEL, LEVEL, sd * sd);
    }
}

/// Units held at the most that is taken for real.
fn most(rung: &Rung, units: f64) -> f64 {
    units.min(f64::from(rung.unit.most()))
}

/// The ability of a task that limits most on the day; nothing on a task without demands.
fn limiting(at: &Situation<'_>, task: &Task) -> Option<AbilityIx> {
    let outlook = at.state.outlook(at.model, task);
    outlook.demands().min_by(|a, b| a.belief.mean.total_cmp(&b.belief.mean)).map(|d| d.ability)
}
