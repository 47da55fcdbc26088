//! Policies: the same athletes with the same luck under several ways of choosing, on every kind of truth.
//!
//! Of each way is told, over the athletes with a 99 % interval by drawing them anew:
//!
//! - *in band*: the share of working sets whose true capacity lay inside the working band of their rung;
//! - *regret*: as a session begins, the true chance of the goal's ladder's best candidate to land in band, less that of the one
//!   chosen for the first working sets there (both on average over four fresh sets, rest as prescribed). Sessions without
//!   working sets on that ladder count for nothing. Whoever may use neither shadings nor loads is held against those who may;
//! - *weeks to the goal*: the goal is the easiest plain rung of the goal's ladder, in the goal's unit, on which one clean unit
//!   is less likely than not on a usual day as training begins. It is reached in the first week in which a session begins
//!   with a true median of a unit or more there. A unit shown counts for nothing: who tries often is lucky sooner, not strong
//!   sooner. Who does not reach it counts with one week more than there were; athletes for whom no such rung is left do not
//!   count;
//! - *failures* by strength, balance and line, and sets ended by *pain*, in 100 sets of any purpose.

use std::sync::Arc;

use nextrung_capacity::task::Task;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::ids::LadderId;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::policy::Policy;

use crate::dice::Dice;
use crate::simulate::bootstrap::{Estimate, Part, weighted_mean_interval};
use crate::simulate::chooser::{Chooser, Look};
use crate::simulate::family::Family;
use crate::simulate::oracle;
use crate::simulate::rule::RuleKind;
use crate::simulate::scene::SimulationError;
use crate::simulate::season::{Season, Watcher};
use crate::simulate::trainee::{Setup, Trainee};
use crate::simulate::truth::Truth;
use crate::simulate::who::Who;
use crate::simulate::world::World;

pub mod table;

/// A way of choosing.
#[derive(Debug, Clone, PartialEq)]
pub struct Arm {
    /// Its name in tables.
    pub name: &'static str,
    /// Who chooses.
    pub chooser: Chooser,
    /// By which rules, where the service has a part in it.
    pub policy: Policy,
}

/// The ways that are compared, the service as it stands first: two variants of it, the rules of thumb, athletes by temper
/// and those who know the truth.
pub fn arms() -> Vec<Arm> {
    let policy = Policy::default;
    let arm = |name, chooser, policy| Arm { name, chooser, policy };
    vec![
        arm("service", Chooser::Service, policy()),
        arm("service, no keep margin", Chooser::Service, Policy { keep_margin: 0.0, ..policy() }),
        arm(
            "service, nothing in hand after misses",
            Chooser::Service,
            Policy { miss_margin: 0.0, ..policy() },
        ),
        arm("two-for-two rule", Chooser::Thumb(RuleKind::TwoForTwo), policy()),
        arm("rep-band rule", Chooser::Thumb(RuleKind::RepBand), policy()),
        arm("own choice", Chooser::Own, policy()),
        arm("oracle, plain rungs only", Chooser::PlainOracle, policy()),
        arm("oracle", Chooser::Oracle, policy()),
    ]
}

/// One experiment: a kind of truth in a world.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Experiment {
    /// The kind of truth.
    pub family: Family,
    /// The world.
    pub world: World,
    /// How many athletes.
    pub athletes: u64,
    /// Weeks of training.
    pub weeks: u16,
    /// The master seed.
    pub seed: u64,
}

/// What became of one athlete under one way of choosing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Outcome {
    /// Working sets, and those in band.
    pub working: (u32, u32),
    /// Regret summed over sessions, and how many there were.
    pub regret: Part,
    /// The week in which the goal was reached, from 1, or one more than there were; nothing without a goal.
    pub goal_week: Option<u16>,
    /// Whether it was reached.
    pub is_reached: bool,
    /// Sets of any purpose.
    pub sets: u32,
    /// Those that failed by strength, balance, line.
    pub failed: [u32; 3],
    /// Those ended by pain.
    pub pain: u32,
}

/// Figures of one way of choosing, each over the athletes with its 99 % interval; nothing where nobody has one.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// The way of choosing.
    pub arm: &'static str,
    /// Each athlete's, by number.
    pub outcomes: Vec<Outcome>,
    /// Share of working sets in band.
    pub in_band: Option<Estimate>,
    /// The same less that of the first way, over athletes with working sets under both: mean of each athlete's difference.
    pub gain: Option<Estimate>,
    /// Mean regret of a session.
    pub regret: Option<Estimate>,
    /// Weeks to the goal.
    pub weeks: Option<Estimate>,
    /// The same less those of the first way, athlete by athlete.
    pub weeks_saved: Option<Estimate>,
    /// Share who reached it.
    pub reached: Option<Estimate>,
    /// Failures in 100 sets by strength, balance, line.
    pub failed: [Option<Estimate>; 3],
    /// Pain stops in 100 sets.
    pub pain: Option<Estimate>,
}

/// Runs the ways of choosing on the same athletes; the first is the one that the others are held against.
///
/// # Errors
///
/// [`SimulationError`] when the ladders lack what the world needs, or a set was not sound.
pub fn run(
    catalog: &Arc<Catalog>,
    experiment: &Experiment,
    arms: &[Arm],
) -> Result<Vec<Comparison>, SimulationError> {
    let mut setup = experiment.family.setup(catalog, &experiment.world)?;
    let mut found: Vec<Comparison> = Vec::new();
    for arm in arms {
        setup.policy = arm.policy.clone();
        let outcomes: Result<Vec<Outcome>, SimulationError> =
            (0..experiment.athletes).map(|number| follow(&setup, experiment, (arm, number))).collect();
        let outcomes = outcomes?;
        let first = found.first().map_or(outcomes.clone(), |first| first.outcomes.clone());
        found.push(Comparison::of(arm.name, outcomes, &first, &mut Dice::new(experiment.seed, u64::MAX)));
    }
    Ok(found)
}

fn follow(
    setup: &Setup,
    experiment: &Experiment,
    (arm, number): (&Arm, u64),
) -> Result<Outcome, SimulationError> {
    let who = Who { seed: experiment.seed, number };
    let no_rung = SimulationError::NoRung { rung: experiment.world.goal };
    let ladder = experiment.world.ladder();
    let season = Season::new(setup, who, (arm.chooser, experiment.family.habit)).ok_or(no_rung)?;
    let mut counter = Counter { ladder, ..Counter::default() };
    let refused = |problems| SimulationError::Refused { what: "a set", problems };
    season.train(i32::from(experiment.weeks), &mut counter).map_err(refused)?;
    let mut outcome = counter.outcome;
    if counter.goal.is_some() && !outcome.is_reached {
        outcome.goal_week = Some(experiment.weeks + 1);
    }
    Ok(outcome)
}

/// Looks on at one athlete.
#[derive(Default)]
struct Counter {
    outcome: Outcome,
    ladder: Option<LadderId>,
    goal: Option<Task>,
    has_begun: bool,
    /// The truth as the session began and the best chance then, until the first working set on the goal's ladder.
    fresh: Option<(Truth, f64)>,
}

impl Watcher for Counter {
    fn begin(&mut self, trainee: &Trainee<'_>) {
        if !self.has_begun {
            self.goal = goal(trainee);
            self.has_begun = true;
        }
        let is_there = self.goal.as_ref().is_some_and(|task| is_in_reach(&trainee.truth, task));
        if is_there && !self.outcome.is_reached {
            let week = trainee.date.days_since(trainee.setup.start) / 7 + 1;
            self.outcome.goal_week = u16::try_from(week).ok();
            self.outcome.is_reached = true;
        }
        let best = self.ladder.as_ref().and_then(|ladder| oracle::best(trainee, ladder, |_| true));
        self.fresh = best.map(|(chance, _)| (trainee.truth.clone(), chance));
    }

    fn set(&mut self, look: &Look<'_, '_>) {
        let outcome = &mut self.outcome;
        outcome.sets += 1;
        match look.performed.stop {
            Stop::Strength => outcome.failed[0] += 1,
            Stop::Balance => outcome.failed[1] += 1,
            Stop::Line => outcome.failed[2] += 1,
            Stop::Pain => outcome.pain += 1,
            Stop::Target | Stop::Failed | Stop::Chosen | Stop::Interrupted | Stop::Other => {}
        }
        if look.work.purpose == Purpose::Working {
            self.working(look);
        }
    }
}

impl Counter {
    fn working(&mut self, look: &Look<'_, '_>) {
        let (low, high) = (f64::from(look.band.low), f64::from(look.band.high) + 1.0);
        self.outcome.working.0 += 1;
        self.outcome.working.1 += u32::from((low..high).contains(&look.performed.capacity));
        let setup = look.trainee.setup;
        if Some(&setup.model.catalog.ladder_of(look.work.rung).id) != self.ladder.as_ref() {
            return;
        }
        if let Some((truth, best)) = self.fresh.take() {
            let chosen = oracle::chance(&truth, (look.task, look.band), &setup.policy);
            self.outcome.regret.sum += best - chosen;
            self.outcome.regret.weight += 1.0;
        }
    }
}

/// The easiest plain rung of the goal's ladder, in the goal's unit, that is out of reach today.
fn goal(trainee: &Trainee<'_>) -> Option<Task> {
    let catalog = &trainee.setup.model.catalog;
    let name = &trainee.setup.profile.goals.first()?.rung;
    let unit = catalog.rung(catalog.find(name)?).unit;
    let rungs = catalog.rungs_of(&name.ladder).filter(|rung| catalog.rung(*rung).unit == unit);
    rungs.map(|rung| Task::new(catalog, rung, &[], 1.0)).find(|task| !is_in_reach(&trainee.truth, task))
}

/// True when one clean unit is likelier than not on a day of usual form: the median of every ability is a unit or more.
fn is_in_reach(truth: &Truth, task: &Task) -> bool {
    task.demands().iter().all(|demand| truth.usual(demand) >= 0.0)
}

impl Comparison {
    fn of(arm: &'static str, outcomes: Vec<Outcome>, first: &[Outcome], dice: &mut Dice) -> Self {
        let mut mean = |part: &dyn Fn(&Outcome) -> Option<Part>| {
            let parts: Vec<Part> = outcomes.iter().filter_map(part).collect();
            weighted_mean_interval(&parts, dice)
        };
        let share = |part: u32, whole: u32, times: f64| {
            (whole > 0).then(|| Part { sum: times * f64::from(part), weight: f64::from(whole) })
        };
        let in_band = mean(&|o| share(o.working.1, o.working.0, 1.0));
        let regret = mean(&|o| (o.regret.weight > 0.0).then_some(o.regret));
        let weeks = mean(&|o| o.goal_week.map(|week| Part { sum: f64::from(week), weight: 1.0 }));
        let reached = mean(&|o| o.goal_week.and(share(u32::from(o.is_reached), 1, 1.0)));
        let failed = [0, 1, 2].map(|cause| mean(&|o| share(o.failed[cause], o.sets, 100.0)));
        let pain = mean(&|o| share(o.pain, o.sets, 100.0));
        let mut paired = |value: &dyn Fn(&Outcome) -> Option<f64>| {
            let both = outcomes.iter().zip(first).filter_map(|(o, f)| value(o).zip(value(f)));
            let parts: Vec<Part> = both.map(|(o, f)| Part { sum: o - f, weight: 1.0 }).collect();
            weighted_mean_interval(&parts, dice)
        };
        let gain = paired(&|o| share(o.working.1, o.working.0, 1.0).map(|part| part.sum / part.weight));
        let weeks_saved = paired(&|o| o.goal_week.map(f64::from));
        Self { arm, in_band, gain, regret, weeks, weeks_saved, reached, failed, pain, outcomes }
    }
}
