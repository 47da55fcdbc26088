//! Coverage: how often the model's intervals hold the truth, after a few sets and after many.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_capacity::normal;
use nextrung_capacity::task::{Task, TaskDemand};
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::ids::RungRef;
use nextrung_domain::problem::Problem;
use nextrung_prescribe::session::prescribe;

use crate::simulate::binomial::central_band;
use crate::simulate::bootstrap::count;
use crate::simulate::chooser::{Chooser, Course, Look};
use crate::simulate::noise::Noise;
use crate::simulate::scene::SimulationError;
use crate::simulate::trainee::{Setup, Telling, Trainee};
use crate::simulate::who::Who;
use crate::simulate::world::World;

/// Sets after which the intervals are looked at.
pub const CHECKPOINTS: [u32; 4] = [1, 5, 15, 60];
/// Nominal shares of the intervals, and the normal quantiles of their half widths.
pub const LEVELS: [(f64, f64); 3] =
    [(0.5, 0.674_489_750_196_081_7), (0.8, 1.281_551_565_544_600_4), (0.95, 1.959_963_984_540_054)];
/// Weeks after which an athlete who has not come to the last checkpoint is given up.
const WEEKS: i32 = 30;

/// The rung and the moment at which the predictor is compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Whose {
    /// The rung prescribed for the next session, as it begins.
    Prescribed,
    /// The world's reference rung, as the next session begins.
    Reference,
    /// The rung just trained, straight after the set: where the belief is least like a normal curve.
    JustDone,
}

impl Whose {
    /// Its name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::Prescribed => "prescribed next",
            Self::Reference => "reference, next session",
            Self::JustDone => "just done",
        }
    }
}

/// Where the truth fell within what was believed, over the athletes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tally {
    /// For each athlete the truth's place in the belief, from 0 to 1.
    pub ranks: Vec<f64>,
    /// How many lay inside each of [`LEVELS`].
    pub inside: [u32; 3],
    /// Sum of standardised errors, and of their squares.
    pub errors: (f64, f64),
}

impl Tally {
    fn add(&mut self, z: f64) {
        self.ranks.push(normal::distribution(z));
        for (inside, (_, half)) in self.inside.iter_mut().zip(LEVELS) {
            *inside += u32::from(z.abs() <= half);
        }
        self.errors.0 += z;
        self.errors.1 += z * z;
    }

    /// Athletes.
    pub fn athletes(&self) -> u32 {
        u32::try_from(self.ranks.len()).unwrap_or(u32::MAX)
    }

    /// Share inside the interval of a level.
    pub fn share(&self, level: usize) -> f64 {
        f64::from(self.inside[level]) / f64::from(self.athletes().max(1))
    }

    /// True when the count inside the interval of a level lies in the 99.9 % binomial band of its nominal share.
    pub fn is_in_band(&self, level: usize) -> bool {
        let (low, high) = central_band(self.athletes(), LEVELS[level].0, 0.999);
        (low..=high).contains(&self.inside[level])
    }

    /// The largest distance between the ranks' distribution function and the uniform (Kolmogorov and Smirnov).
    pub fn ks_distance(&self) -> f64 {
        let mut ranks = self.ranks.clone();
        ranks.sort_by(f64::total_cmp);
        let n = count(ranks.len().max(1));
        let gap = |(i, u): (usize, &f64)| (u - count(i) / n).abs().max((count(i + 1) / n - u).abs());
        ranks.iter().enumerate().map(gap).fold(0.0, f64::max)
    }

    /// The distance that uniform ranks pass in one of a thousand runs: 1.95 over the root of the count.
    pub fn ks_limit(&self) -> f64 {
        1.95 / f64::from(self.athletes().max(1)).sqrt()
    }

    /// Mean and standard deviation of the standardised errors: 0 and 1 when all is right.
    pub fn error_moments(&self) -> (f64, f64) {
        let n = f64::from(self.athletes().max(1));
        let mean = self.errors.0 / n;
        (mean, (self.errors.1 / n - mean * mean).max(0.0).sqrt())
    }
}

/// What is tallied apart.
pub type Key = (u32, AbilityKind, Whose);

/// One experiment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Experiment {
    /// The world.
    pub world: World,
    /// The truth's noise; the model's is logistic.
    pub noise: Noise,
    /// What athletes tell.
    pub telling: Telling,
    /// How many athletes.
    pub athletes: u64,
    /// The master seed.
    pub seed: u64,
}

/// Runs an experiment: athletes drawn from the prior, rungs chosen by the service, intervals held against the truth.
pub fn run(catalog: &Arc<Catalog>, experiment: &Experiment) -> Result<BTreeMap<Key, Tally>, SimulationError> {
    run_in(&Setup::of_world(catalog, &experiment.world, experiment.noise, experiment.telling)?, experiment)
}

/// The same in a setup of one's own, whose truth may depart from the model.
pub fn run_in(setup: &Setup, experiment: &Experiment) -> Result<BTreeMap<Key, Tally>, SimulationError> {
    let catalog = &setup.model.catalog;
    let rung = experiment.world.reference;
    let name = RungRef::parse(rung).ok().and_then(|name| catalog.find(&name));
    let reference = Task::new(catalog, name.ok_or(SimulationError::NoRung { rung })?, &[], 1.0);
    let mut tallies = BTreeMap::new();
    for number in 0..experiment.athletes {
        let trainee = Trainee::new(setup, Who { seed: experiment.seed, number });
        let Some(course) = Course::new(trainee, Chooser::Service) else { continue };
        let refused = |problems| SimulationError::Refused { what: "a set", problems };
        follow(course, &reference, &mut tallies).map_err(refused)?;
    }
    Ok(tallies)
}

/// Trains one athlete to the last checkpoint. A session ends at a checkpoint, so that the next one begins just after it.
fn follow(
    mut course: Course<'_>,
    reference: &Task,
    tallies: &mut BTreeMap<Key, Tally>,
) -> Result<(), Vec<Problem>> {
    let setup = course.trainee().setup;
    let mut due = None;
    for date in setup.training_days(WEEKS) {
        course.enter(date);
        if let (Some(sets), Some(next)) = (due, next_task(course.trainee())) {
            compare(tallies, course.trainee(), (&next, (sets, Whose::Prescribed)));
            compare(tallies, course.trainee(), (reference, (sets, Whose::Reference)));
            due = None;
            if sets == CHECKPOINTS[CHECKPOINTS.len() - 1] {
                break;
            }
        }
        let mut watch = |look: &Look<'_, '_>| {
            let sets = look.trainee.sets;
            let is_checkpoint = CHECKPOINTS.contains(&sets);
            if is_checkpoint {
                compare(tallies, look.trainee, (look.task, (sets, Whose::JustDone)));
                due = Some(sets);
            }
            !is_checkpoint
        };
        course.session(&mut watch)?;
    }
    Ok(())
}

/// The task of the last item prescribed for today, which is working sets on most days; nothing on a day of rest.
fn next_task(trainee: &Trainee<'_>) -> Option<Task> {
    let given = trainee.ask(prescribe);
    let item = given.items.last()?;
    let catalog = &trainee.setup.model.catalog;
    Some(Task::new(catalog, catalog.find(&item.rung)?, &item.shadings, 1.0))
}

/// Holds the belief about the first demand of each kind against the truth.
fn compare(
    tallies: &mut BTreeMap<Key, Tally>,
    trainee: &Trainee<'_>,
    (task, (sets, whose)): (&Task, (u32, Whose)),
) {
    for kind in AbilityKind::ALL {
        if let Some(demand) = task.demands().iter().find(|d| d.kind == kind)
            && let Some(z) = standard_error(trainee, demand)
        {
            tallies.entry((sets, kind, whose)).or_default().add(z);
        }
    }
}

/// The truth less the belief's mean over its standard deviation, fatigue left out on both sides; nothing for an ability
/// that no set has touched.
fn standard_error(trainee: &Trainee<'_>, demand: &TaskDemand) -> Option<f64> {
    let parameters = &trainee.setup.model.parameters;
    let p = parameters.of(demand.kind);
    let today = trainee.date.day_number();
    let mut block = trainee.state.block(demand.ability)?.clone();
    block.enter(parameters, today, 1);
    let belief = block.belief(p, demand);
    let mean = belief.mean + p.fatigue * block.work;
    Some((trainee.truth.eta(demand) - mean) / belief.variance.sqrt())
}
