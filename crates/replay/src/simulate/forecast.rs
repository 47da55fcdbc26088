//! Forecast: how often what is forecast for the weeks ahead comes true, on athletes whose truth is known.
//!
//! The service trains an athlete for twelve weeks. Then it forecasts the first clean unit on the next rung ahead, and trains
//! the athlete for twelve weeks more, as before. In each session that works what the rung asks for, one fresh try is drawn
//! from the truth, beside the training; at the end of some weeks so is one fresh set.

use std::sync::Arc;

use nextrung_capacity::done::Done;
use nextrung_capacity::outlook::Strain;
use nextrung_capacity::task::Task;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::problem::Problem;
use nextrung_prescribe::forecast::{Forecast, Line, forecast};
use nextrung_prescribe::situation::Situation;

use crate::dice::Dice;
use crate::simulate::chooser::{Chooser, Course, Look};
use crate::simulate::noise::Noise;
use crate::simulate::scene::SimulationError;
use crate::simulate::trainee::{Setup, Telling, Trainee};
use crate::simulate::who::Who;
use crate::simulate::world::World;

/// Weeks of training before the forecast.
pub const BEFORE: i32 = 12;
/// Weeks ahead.
pub const AHEAD: u16 = 12;
/// Weeks at the end of which a fresh set is drawn.
pub const LOOKS: [u16; 3] = [4, 8, 12];
/// The next rung ahead is the easiest whose first clean unit is less likely than this today.
const AHEAD_CHANCE: f64 = 0.3;
/// Days of a week.
const WEEK: i32 = 7;
/// Streams of an athlete's random numbers for tries and for ranks.
const STREAM: u64 = 6;

/// One experiment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Experiment {
    /// The world.
    pub world: World,
    /// How many athletes.
    pub athletes: u64,
    /// The master seed.
    pub seed: u64,
}

/// A forecast and what became of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// The chance by the end of each week.
    pub chances: Vec<f64>,
    /// The interval of the first week as told.
    pub interval: (u16, u16),
    /// The week in which it came; the one after the last when it did not.
    pub came: u16,
    /// Where that lies in the distribution forecast, a week's own share broken at random: uniform when all is right.
    pub rank: f64,
    /// Sessions assumed for the weeks ahead, and sessions there were.
    pub sessions: (f64, u32),
    /// For each of [`LOOKS`]: whether the set drawn lay below, in or above the 80 % interval.
    pub looks: [Place; 3],
}

/// Where a set lay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Below the interval.
    Below,
    /// In it.
    Inside,
    /// Above it.
    Above,
}

impl Outcome {
    /// The chance the forecast itself gave to its interval; what lies beyond the horizon counts to an end there.
    pub fn stated(&self) -> f64 {
        let by = |week: u16| self.by(week);
        by(self.interval.1) - by(self.interval.0 - 1)
    }

    /// True when the week in which it came lies in the interval.
    pub fn is_inside(&self) -> bool {
        (self.interval.0..=self.interval.1).contains(&self.came)
    }

    /// Chance by the end of a week; nothing before the first, all after the last.
    fn by(&self, week: u16) -> f64 {
        by(&self.chances, week)
    }
}

fn by(chances: &[f64], week: u16) -> f64 {
    match week.checked_sub(1) {
        None => 0.0,
        Some(at) => chances.get(usize::from(at)).copied().unwrap_or(1.0),
    }
}

/// Runs an experiment: athletes drawn from the prior, trained by the service before and after the forecast.
pub fn run(catalog: &Arc<Catalog>, experiment: &Experiment) -> Result<Vec<Outcome>, SimulationError> {
    run_in(&Setup::of_world(catalog, &experiment.world, Noise::Logistic, Telling::PLAIN)?, experiment)
}

/// The same in a setup of one's own, whose truth may depart from the model.
pub fn run_in(setup: &Setup, experiment: &Experiment) -> Result<Vec<Outcome>, SimulationError> {
    let catalog = &setup.model.catalog;
    let ladder = experiment.world.ladder().ok_or(SimulationError::NoRung { rung: experiment.world.goal })?;
    let rungs: Vec<RungIx> = catalog.rungs_of(&ladder).collect();
    let mut outcomes = Vec::new();
    for number in 0..experiment.athletes {
        let who = Who { seed: experiment.seed, number };
        let Some(course) = Course::new(Trainee::new(setup, who), Chooser::Service) else { continue };
        let refused = |problems| SimulationError::Refused { what: "a set", problems };
        outcomes.push(follow(course, &rungs, who.dice(STREAM)).map_err(refused)?);
    }
    Ok(outcomes)
}

fn follow(mut course: Course<'_>, rungs: &[RungIx], mut dice: Dice) -> Result<Outcome, Vec<Problem>> {
    let setup = course.trainee().setup;
    let mut sets: Vec<(Task, Done)> = Vec::new();
    for date in setup.training_days(BEFORE) {
        course.enter(date);
        course.session(&mut |look| {
            sets.push((look.task.clone(), told(look)));
            true
        })?;
    }
    let eve = setup.start.plus_days(WEEK * BEFORE - 1);
    course.enter(eve);
    let made = course.trainee().ask(|at| forecast(at, &sets, next_rung(at, rungs), AHEAD));
    let Forecast { rung, lines, .. } = made;
    let [Line { weeks, first_week, sessions_per_week, .. }, ..] = lines.as_slice() else {
        return Err(Vec::new());
    };
    let task = Task::new(&setup.model.catalog, rung, &[], 1.0);
    let mut came = AHEAD + 1;
    let mut sessions = 0;
    let mut looks = [Place::Inside; 3];
    for week in 1..=AHEAD {
        let first = eve.plus_days(WEEK * i32::from(week - 1) + 1);
        for date in (0..WEEK).map(|day| first.plus_days(day)).filter(|d| setup.profile.days.has(d.weekday()))
        {
            course.enter(date);
            let shown = dice.unit() < course.trainee().truth.at_least(&task, 1.0, (0.0, 0.0));
            let mut is_worked = false;
            course.session(&mut |look| {
                is_worked |= shares(look.task, &task) && told(look).is_effort();
                true
            })?;
            sessions += u32::from(is_worked);
            if shown && is_worked {
                came = came.min(week);
            }
        }
        course.enter(eve.plus_days(WEEK * i32::from(week)));
        if let Some(at) = LOOKS.iter().position(|look| *look == week) {
            // A copy of the truth does the set, so that the training does not feel it.
            let drawn = course.trainee().truth.clone().perform(&task, None, 0).capacity;
            let (low, high) = weeks[usize::from(week - 1)].interval;
            looks[at] = if drawn < low {
                Place::Below
            } else if drawn > high {
                Place::Above
            } else {
                Place::Inside
            };
        }
    }
    let chances: Vec<f64> = weeks.iter().map(|week| week.chance_by_then).collect();
    let (before, after) = (by(&chances, came - 1), by(&chances, came));
    let rank = before + dice.unit() * (after - before);
    let sessions = (f64::from(AHEAD) * sessions_per_week, sessions);
    Ok(Outcome { chances, interval: *first_week, came, rank, sessions, looks })
}

/// The easiest rung of a ladder whose first clean unit is unlikely today, else its last.
fn next_rung(at: &Situation<'_>, rungs: &[RungIx]) -> RungIx {
    let chance = |rung: RungIx| {
        at.state.outlook(at.model, &Task::new(at.catalog(), rung, &[], 1.0)).at_least(1.0, Strain::NONE)
    };
    let ahead = rungs.iter().find(|rung| chance(**rung) < AHEAD_CHANCE);
    ahead.or(rungs.last()).copied().unwrap_or(RungIx(0))
}

fn shares(one: &Task, other: &Task) -> bool {
    one.demands().iter().any(|d| other.demands().iter().any(|own| own.ability == d.ability))
}

/// A set as the athlete told it, where targets and causes are all that is told.
fn told(look: &Look<'_, '_>) -> Done {
    Done {
        day: look.trainee.date.day_number(),
        session: 1,
        units: look.performed.units,
        target: look.work.target,
        stop: look.performed.stop,
        reserve: None,
        rest_seconds: Some(look.work.rest_seconds),
    }
}

/// What many forecasts came to.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tally {
    /// Forecasts.
    pub athletes: u32,
    /// For each of [`LOOKS`]: sets below, in and above the 80 % interval.
    pub looks: [[u32; 3]; 3],
    /// First weeks in the interval told.
    pub inside: u32,
    /// The share that the forecasts themselves gave to their intervals, summed.
    pub stated: f64,
    /// First weeks in the central 80 % of the distribution, a week's own share broken at random.
    pub central: u32,
    /// First weeks beyond the horizon.
    pub beyond: u32,
    /// Sessions assumed, and sessions there were, summed.
    pub sessions: (f64, u32),
    /// By tenth of the chance told at each of [`LOOKS`]: how many, the sum of the chances, how many came true.
    pub bins: [(u32, f64, u32); 10],
}

/// Counts what became of forecasts.
pub fn tally(outcomes: &[Outcome]) -> Tally {
    let mut tally = Tally::default();
    for one in outcomes {
        tally.athletes += 1;
        for (slot, place) in tally.looks.iter_mut().zip(one.looks) {
            let at = match place {
                Place::Below => 0,
                Place::Inside => 1,
                Place::Above => 2,
            };
            slot[at] += 1;
        }
        tally.inside += u32::from(one.is_inside());
        tally.stated += one.stated();
        tally.central += u32::from((0.1..=0.9).contains(&one.rank));
        tally.beyond += u32::from(one.came > AHEAD);
        tally.sessions.0 += one.sessions.0;
        tally.sessions.1 += one.sessions.1;
        for week in LOOKS {
            let chance = one.by(week);
            let limits = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9];
            let bin = &mut tally.bins[limits.iter().filter(|limit| chance >= **limit).count()];
            bin.0 += 1;
            bin.1 += chance;
            bin.2 += u32::from(one.came <= week);
        }
    }
    tally
}

impl Tally {
    /// A count as a share of the forecasts.
    pub fn share(&self, count: u32) -> f64 {
        f64::from(count) / f64::from(self.athletes.max(1))
    }

    /// The mean chance that the forecasts gave to their intervals.
    pub fn mean_stated(&self) -> f64 {
        self.stated / f64::from(self.athletes.max(1))
    }
}
