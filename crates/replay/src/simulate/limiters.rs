//! Limiters: how often the review finds what truly holds an athlete back.

pub mod athlete;

use std::collections::BTreeSet;
use std::sync::Arc;

use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::RungRef;
use nextrung_domain::profile::Weekdays;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Purpose;
use nextrung_prescribe::limiter::{Limiter, Review, Span, review};

use crate::simulate::limiters::athlete::Athlete;
use crate::simulate::noise::Noise;
use crate::simulate::scene::SimulationError;
use crate::simulate::trainee::{Setup, Telling};
use crate::simulate::who::Who;
use crate::simulate::world::PRESS;

/// Weeks of log.
pub const WEEKS: i32 = 12;
/// Planned days of training: Monday, Wednesday, Friday, Saturday.
const DAYS: [u8; 4] = [0, 2, 4, 5];
/// ln units by which the limiting ability must still be the lowest at the goal when the log ends.
const MARGIN: f64 = 0.5;
/// ln units at the goal above which nothing holds back: just short of the three reps wanted.
const REACHED: f64 = 0.95;
/// Share of working sets that must truly have been outside the band for the rung to be the limiter.
const OUTSIDE: f64 = 0.7;
/// Athletes tried for each that is taken, at most.
const TRIES: u64 = 20;

/// One experiment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Experiment {
    /// How many athletes, a fifth of each limiter.
    pub athletes: u64,
    /// The master seed.
    pub seed: u64,
}

/// One athlete's truth and what the review said.
#[derive(Debug, Clone)]
pub struct Case {
    /// What truly holds back.
    pub truth: Limiter,
    /// ln units at the goal by kind of ability, when the log ended.
    pub at_goal: [f64; 3],
    /// Every set of the twelve weeks, as it was told.
    pub log: Vec<SetEntry>,
    /// What the review said.
    pub review: Review,
}

impl Case {
    /// ln units by which the limiting ability is lower at the goal than the others; nothing for a habit.
    pub fn margin(&self) -> Option<f64> {
        Some(below(&self.at_goal, self.truth.kind()?))
    }
}

/// How often each limiter was found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Confusion {
    /// By true limiter: how often each was called the first, and last how often none was.
    pub counts: [[u32; 6]; 5],
}

impl Confusion {
    /// Counts cases.
    pub fn of(cases: &[Case]) -> Self {
        let mut confusion = Self::default();
        for case in cases {
            let said = case.review.first.map_or(Limiter::ALL.len(), Limiter::index);
            confusion.counts[case.truth.index()][said] += 1;
        }
        confusion
    }

    /// Athletes.
    pub fn all(&self) -> u32 {
        self.counts.iter().flatten().sum()
    }

    /// Athletes whose limiter was found.
    pub fn right(&self) -> u32 {
        Limiter::ALL.iter().map(|l| self.counts[l.index()][l.index()]).sum()
    }

    /// Athletes of whom the log could not tell.
    pub fn untold(&self) -> u32 {
        self.counts.iter().map(|row| row[Limiter::ALL.len()]).sum()
    }

    /// Athletes of whom something else was said.
    pub fn wrong(&self) -> u32 {
        self.all() - self.right() - self.untold()
    }
}

/// Athletes held back by each limiter in turn, twelve weeks of log of each, and the review of it. Noise of the three
/// shapes in turn; causes, reserve and stops told as people do ([`Telling::MIXED`]).
pub fn run(catalog: &Arc<Catalog>, experiment: &Experiment) -> Result<Vec<Case>, SimulationError> {
    let setups: Vec<Setup> =
        Noise::ALL.into_iter().map(|noise| setup(catalog, noise)).collect::<Result<_, _>>()?;
    let goal = RungRef::parse(PRESS.goal).ok().and_then(|name| catalog.find(&name));
    let goal = goal.ok_or(SimulationError::NoRung { rung: PRESS.goal })?;
    let mut cases = Vec::new();
    for limiter in Limiter::ALL {
        let wanted = experiment.athletes / 5;
        let kind = u64::try_from(limiter.index()).unwrap_or(0);
        let mut taken = 0;
        for (number, setup) in (0..TRIES * wanted).zip(setups.iter().cycle()) {
            if taken == wanted {
                break;
            }
            let who = Who { seed: experiment.seed, number: kind * 1_000_000 + number };
            if let Some(case) = case(setup, goal, (limiter, who))? {
                cases.push(case);
                taken += 1;
            }
        }
    }
    Ok(cases)
}

fn setup(catalog: &Arc<Catalog>, noise: Noise) -> Result<Setup, SimulationError> {
    let mut setup = Setup::of_world(catalog, &PRESS, noise, Telling::MIXED)?;
    setup.profile.days = Weekdays::from_days(DAYS);
    Ok(setup)
}

/// One athlete's log and its review; nothing when the truth at its end is another than was meant.
pub fn case(
    setup: &Setup,
    goal: RungIx,
    (limiter, who): (Limiter, Who),
) -> Result<Option<Case>, SimulationError> {
    let mut athlete = Athlete::new(setup, goal, limiter, who);
    let refused = |problems| SimulationError::Refused { what: "a set", problems };
    for date in setup.training_days(WEEKS) {
        athlete.day(date).map_err(refused)?;
    }
    let end = setup.start.plus_days(7 * WEEKS - 1);
    athlete.trainee.enter(end);
    let at_goal = athlete.at_goal();
    if !is_meant(&athlete, limiter) {
        return Ok(None);
    }
    let review = reviewed(&athlete, goal, end);
    Ok(Some(Case { truth: limiter, at_goal, log: athlete.trainee.log, review }))
}

fn reviewed(athlete: &Athlete<'_>, goal: RungIx, end: CivilDate) -> Review {
    let sets: Vec<&SetEntry> = athlete.trainee.log.iter().collect();
    let span = Span { start: athlete.trainee.setup.start, end, sets: &sets };
    athlete.trainee.ask(|at| review(at, goal, &span))
}

/// ln units by which a kind of ability is lower at the goal than the lowest other.
fn below(at_goal: &[f64; 3], kind: AbilityKind) -> f64 {
    let others = at_goal.iter().enumerate().filter(|(at, _)| *at != kind.index()).map(|(_, eta)| *eta);
    others.fold(f64::INFINITY, f64::min) - at_goal[kind.index()]
}

/// Whether the limiter holds by the truth alone when the log ends.
fn is_meant(athlete: &Athlete<'_>, limiter: Limiter) -> bool {
    let etas = athlete.at_goal();
    let least = etas.iter().copied().fold(f64::INFINITY, f64::min);
    if least > REACHED {
        return false;
    }
    match limiter.kind() {
        Some(kind) => below(&etas, kind) >= MARGIN,
        None if limiter == Limiter::WrongRung => athlete.outside().is_some_and(|share| share >= OUTSIDE),
        None => {
            let log = &athlete.trainee.log;
            let days: BTreeSet<CivilDate> = log.iter().map(|s| s.date).collect();
            let of = |purpose: Purpose| log.iter().filter(|s| s.purpose == purpose).count();
            let play = of(Purpose::Attempt) + of(Purpose::Free);
            days.len() < 20 || play > 2 * of(Purpose::Working)
        }
    }
}
