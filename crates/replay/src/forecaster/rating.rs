//! Rating: one number an ability and one a rung, moved by a fixed gain after every set.
//!
//! A set of a task with difficulties `d` reaches `k` units with chance `product over abilities of
//! 1 / (1 + exp((ln k - r_c - r_rung + d_c) / s))`, `r` the ratings. After it each rating moves by the gain times the
//! slope of the ln chance of what happened (Elo's rule for any likelihood, from memory), the rung's by half of that. Gain and
//! scale are weighed over a grid ([`Mixture`]). Ratings start where the ladder files start abilities.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_capacity::load::ln_threshold;
use nextrung_capacity::task::{MOST_DEMANDS, Task, TaskDemand};
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::catalog::{Catalog, RungIx};

use crate::evaluate::entry::Entry;
use crate::evaluate::outcome::kind_of;
use crate::forecaster::Forecaster;
use crate::forecaster::foretold::Foretold;
use crate::forecaster::lesson::Taught;
use crate::forecaster::mixture::{Mixture, chance_of};

/// Gains: how far a rating moves for a whole scale of surprise, in scales.
const GAINS: [f64; 5] = [0.05, 0.1, 0.2, 0.4, 0.8];
/// Scales, ln units.
const SCALES: [f64; 5] = [0.06, 0.1, 0.16, 0.25, 0.4];
const VARIANTS: usize = GAINS.len() * SCALES.len();
/// Share of the step that a rung's own rating takes.
const RUNG_STEP: f64 = 0.5;

type Ratings = [f64; VARIANTS];

/// The athlete's ratings.
#[derive(Debug, Clone)]
pub struct Rating {
    taught: Arc<Taught>,
    starts: Arc<[f64]>,
    abilities: BTreeMap<AbilityIx, Ratings>,
    rungs: BTreeMap<RungIx, Ratings>,
    mixture: Mixture<VARIANTS>,
}

fn scale(variant: usize) -> f64 {
    SCALES[variant % SCALES.len()]
}

fn gain(variant: usize) -> f64 {
    GAINS[variant / SCALES.len()]
}

/// Chance of one ability, and of all, to reach some units.
struct Reach {
    one: [f64; MOST_DEMANDS],
    all: f64,
}

/// One variant before a set: what is left of each ability's rating on the task, ln units.
struct Standing<'a> {
    task: &'a Task,
    etas: [f64; MOST_DEMANDS],
    scale: f64,
}

impl Standing<'_> {
    fn reach(&self, units: u16) -> Reach {
        let ln_units = ln_threshold(f64::from(units), self.task.mass_ratio);
        let mut reach = Reach { one: [1.0; MOST_DEMANDS], all: 1.0 };
        if ln_units > f64::NEG_INFINITY {
            for (one, eta) in reach.one.iter_mut().zip(self.etas).take(self.task.demands().len()) {
                *one = 1.0 / (1.0 + libm::exp((ln_units - eta) / self.scale));
                reach.all *= *one;
            }
        }
        reach
    }

    /// Slopes of the ln chance of what happened along each ability's eta, times the scale: from -1 to 1.
    fn slopes(&self, set: &Entry) -> [f64; MOST_DEMANDS] {
        let done = self.reach(set.done.units);
        let surely = |reach: &Reach, at: usize| reach.all * (1.0 - reach.one[at]);
        if !set.done.stop.is_failure() {
            return std::array::from_fn(|at| 1.0 - done.one[at]);
        }
        let more = self.reach(set.done.units.saturating_add(1));
        let chance = (done.all - more.all).max(1e-9);
        let blamed = kind_of(set.done.stop);
        std::array::from_fn(|at| {
            let is_free =
                self.task.demands().get(at).is_some_and(|d| blamed.is_some_and(|kind| kind != d.kind));
            if is_free {
                1.0 - done.one[at]
            } else {
                ((surely(&done, at) - surely(&more, at)) / chance).clamp(-1.0, 1.0)
            }
        })
    }
}

impl Rating {
    /// Ratings where the ladder files start.
    pub fn new(catalog: &Catalog, taught: Arc<Taught>) -> Self {
        let starts = catalog.abilities().iter().map(|ability| ability.start_level).collect();
        Self {
            taught,
            starts,
            abilities: BTreeMap::new(),
            rungs: BTreeMap::new(),
            mixture: Mixture::default(),
        }
    }

    fn of_ability(&self, ability: AbilityIx, variant: usize) -> f64 {
        self.abilities.get(&ability).map_or(self.starts[ability.at()], |ratings| ratings[variant])
    }

    fn standing<'a>(&self, task: &'a Task, variant: usize) -> Standing<'a> {
        let rung = self.rungs.get(&task.rung).map_or(0.0, |ratings| ratings[variant]);
        let eta = |demand: &TaskDemand| self.of_ability(demand.ability, variant) + rung - demand.difficulty;
        let mut etas = [0.0; MOST_DEMANDS];
        etas.iter_mut().zip(task.demands()).for_each(|(slot, demand)| *slot = eta(demand));
        Standing { task, etas, scale: scale(variant) }
    }

    fn learn(&mut self, set: &Entry) {
        let mut chances = [0.0; VARIANTS];
        for (variant, chance) in chances.iter_mut().enumerate() {
            let standing = self.standing(&set.task, variant);
            *chance = chance_of(|k| standing.reach(k).all, set.done.units, set.done.stop.is_failure());
            let step = gain(variant) * scale(variant);
            let slopes = standing.slopes(set);
            let mut along = 0.0;
            for (demand, slope) in set.task.demands().iter().zip(slopes) {
                let start = self.starts[demand.ability.at()];
                self.abilities.entry(demand.ability).or_insert([start; VARIANTS])[variant] += step * slope;
                along += slope;
            }
            self.rungs.entry(set.task.rung).or_insert([0.0; VARIANTS])[variant] +=
                RUNG_STEP * step * along.clamp(-1.0, 1.0);
        }
        self.mixture.learn(chances);
    }
}

impl Forecaster for Rating {
    fn take(&mut self, set: &Entry, foretell: Option<&mut Foretold>) {
        if let Some(foretell) = foretell {
            let weights = self.mixture.weights();
            let standings: [Standing<'_>; VARIANTS] = std::array::from_fn(|at| self.standing(&set.task, at));
            let chance = |units| Mixture::mean(&weights, |at| standings[at].reach(units).all);
            let usual = self.taught.at(set.block()).of(set.task.rung);
            foretell.by_survival((1..=set.top()).map(chance), usual.causes);
        }
        if set.done.is_effort() {
            self.learn(set);
        }
    }

    fn again(&self) -> Box<dyn Forecaster> {
        Box::new(self.clone())
    }
}
