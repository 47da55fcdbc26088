//! Outlook: what an athlete is expected to do on a task (F-07).

use std::array::from_fn;
use std::f64::consts::PI;

use nextrung_domain::ability::{AbilityIx, AbilityKind};
use nextrung_domain::band::Band;

use crate::evidence::Standing;
use crate::load::{ln_threshold, ln_threshold_whole, loaded_units};
use crate::logistic::Outlook;
use crate::model::Model;
use crate::state::{AbilityState, AthleteState};
use crate::task::{MOST_DEMANDS, Task, TaskDemand};
use crate::truncated::Gaussian;

/// Expectation on one demand.
#[derive(Debug, Clone)]
pub struct DemandOutlook {
    /// The ability.
    pub ability: AbilityIx,
    /// Its kind.
    pub kind: AbilityKind,
    /// Belief about the predictor.
    pub belief: Gaussian,
    /// Fall of the predictor per set's worth of work carried.
    pub fatigue: f64,
    noise_variance: f64,
    outlook: Outlook,
}

/// Expectation on a task: capacity is the smallest over its abilities (F-01), which are independent given the state.
#[derive(Debug, Clone)]
pub struct TaskOutlook {
    parts: [Option<DemandOutlook>; MOST_DEMANDS],
    mass_ratio: f64,
}

/// Units looked at together.
const BLOCK: usize = 8;
/// A number for each demand.
type ByDemand = [f64; MOST_DEMANDS];

/// What makes a set harder than a fresh one.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Strain {
    /// Work carried into the set, in sets to the limit (F-02).
    pub work: f64,
    /// Held in hand by the one who asks, ln units: the predictor is lowered by it on every ability.
    pub margin: f64,
}

impl Strain {
    /// A fresh set, nothing held in hand.
    pub const NONE: Self = Self { work: 0.0, margin: 0.0 };
}

/// Chances of a set with a target: reach it, or fail before it by the kind of ability that gives out first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Endings {
    /// The target is reached.
    pub reached: f64,
    /// Failure by strength, balance, line.
    pub failed: [f64; 3],
}

impl DemandOutlook {
    /// Standard deviation of ln units on this demand alone: of the belief and of one set's noise together.
    pub fn spread(&self) -> f64 {
        (self.belief.variance + self.noise_variance).sqrt()
    }

    /// Fall of the predictor under a strain, ln units.
    fn lowered(&self, strain: Strain) -> f64 {
        self.fatigue * strain.work + strain.margin
    }
}

impl DemandOutlook {
    fn new(model: &Model, demand: &TaskDemand, belief: Gaussian) -> Self {
        let p = model.parameters.of(demand.kind);
        Self {
            ability: demand.ability,
            kind: demand.kind,
            belief,
            fatigue: p.fatigue,
            // The variance of a logistic is its squared scale times pi squared over three.
            noise_variance: p.scale * p.scale * (PI * PI / 3.0),
            outlook: Outlook::new(belief, p.noise()),
        }
    }
}

impl AthleteState {
    /// Expectation on a task now; use [`AthleteState::on`] first for a later day. Abilities not met yet stand at their prior.
    pub fn outlook(&self, model: &Model, task: &Task) -> TaskOutlook {
        let mut parts = [const { None }; MOST_DEMANDS];
        for (slot, demand) in parts.iter_mut().zip(task.demands()) {
            let p = model.parameters.of(demand.kind);
            let belief = match self.block(demand.ability) {
                Some(block) => block.belief(p, demand),
                None => AbilityState::prior(model, demand.ability, 0).belief(p, demand),
            };
            *slot = Some(DemandOutlook::new(model, demand, belief));
        }
        TaskOutlook { parts, mass_ratio: task.mass_ratio }
    }
}

impl TaskOutlook {
    /// Expectation on a task of an athlete who stands so, one entry per demand.
    pub fn of(model: &Model, task: &Task, standings: &[Standing]) -> Self {
        let mut parts = [const { None }; MOST_DEMANDS];
        for ((slot, demand), standing) in parts.iter_mut().zip(task.demands()).zip(standings) {
            *slot = Some(DemandOutlook::new(model, demand, standing.belief));
        }
        Self { parts, mass_ratio: task.mass_ratio }
    }

    /// Expectations by demand.
    pub fn demands(&self) -> impl Iterator<Item = &DemandOutlook> {
        self.parts.iter().flatten()
    }

    /// Chance of at least `units` under `strain`.
    pub fn at_least(&self, units: f64, strain: Strain) -> f64 {
        let ln_units = ln_threshold(units, self.mass_ratio);
        if ln_units == f64::NEG_INFINITY {
            return 1.0;
        }
        self.demands().map(|d| d.outlook.survival(ln_units + d.lowered(strain))).product()
    }

    /// Chances that the capacity lies in a band and above it, under `strain`.
    pub fn in_and_above(&self, band: Band, strain: Strain) -> (f64, f64) {
        let above = self.at_least(f64::from(band.high) + 1.0, strain);
        ((self.at_least(f64::from(band.low), strain) - above).max(0.0), above)
    }

    /// Chances of a set's endings with a target of `target` units, under `strain`. They sum to one: the drop at each unit
    /// is shared by the causes in proportion to their cumulative hazards there.
    pub fn endings(&self, target: u16, strain: Strain) -> Endings {
        let mut kinds = self.demands().map(|d| d.kind.index());
        if let Some(kind) = kinds.next()
            && kinds.all(|other| other == kind)
        {
            return self.endings_of_one(kind, target, strain);
        }
        self.endings_of_many(target, strain)
    }

    /// With one kind of cause there is nothing to share.
    fn endings_of_one(&self, kind: usize, target: u16, strain: Strain) -> Endings {
        let reached = self.at_least(f64::from(target), strain);
        let mut failed = [0.0; 3];
        failed[kind] = 1.0 - reached;
        Endings { reached, failed }
    }

    fn endings_of_many(&self, target: u16, strain: Strain) -> Endings {
        let mut failed = [0.0_f64; 3];
        let reached = self.drops(target, strain, |_, kind, drop| {
            failed[kind] = (failed[kind] + drop).clamp(0.0, 1.0);
        });
        Endings { reached, failed }
    }

    /// Goes through the units up to a target: `each` is told the unit that fails, from 1, the kind of ability (by
    /// [`AbilityKind::index`]) that ends the set there, and how likely that is. Returns the chance that none fails.
    pub fn drops(&self, target: u16, strain: Strain, mut each: impl FnMut(u16, usize, f64)) -> f64 {
        let mut still = 1.0;
        let mut before = [1.0; MOST_DEMANDS];
        for first in (1..=target).step_by(BLOCK) {
            let size = BLOCK.min(usize::from(target - first) + 1);
            let chances = self.survivals((first, size), strain);
            for (unit, place) in (first..).zip(0..size) {
                let after: [f64; MOST_DEMANDS] = from_fn(|demand| chances[demand][place]);
                let reached = after.iter().product::<f64>().min(still);
                self.share(still - reached, (&before, &after), |kind, drop| each(unit, kind, drop));
                still = reached;
                before = after;
            }
        }
        still
    }
    /// Chances of at least so many units, from `first` on, `size` of them, by demand; 1 where there is no demand.
    fn survivals(&self, (first, size): (u16, usize), strain: Strain) -> [[f64; BLOCK]; MOST_DEMANDS] {
        let mut limits = [0.0; BLOCK];
        for (limit, units) in limits[..size].iter_mut().zip(first..) {
            *limit = ln_threshold_whole(units, self.mass_ratio);
        }
        let mut chances = [[1.0; BLOCK]; MOST_DEMANDS];
        for (row, d) in chances.iter_mut().zip(self.demands()) {
            d.outlook.survivals((&limits[..size], d.lowered(strain)), row);
        }
        chances
    }

    /// Shares a drop among the kinds of abilities in proportion to the cumulative hazards they add between two units, given the
    /// chances there by demand.
    fn share(&self, drop: f64, (before, after): (&ByDemand, &ByDemand), mut each: impl FnMut(usize, f64)) {
        if let [Some(alone), None, ..] = &self.parts {
            return each(alone.kind.index(), drop);
        }
        let hazards: ByDemand =
            from_fn(|i| libm::log(before[i].max(f64::MIN_POSITIVE) / after[i].max(f64::MIN_POSITIVE)));
        let hazard: f64 = hazards.iter().sum();
        if hazard > 0.0 {
            for (own, d) in hazards.iter().zip(self.demands()) {
                each(d.kind.index(), drop * own / hazard);
            }
        }
    }

    /// Quantile of the capacity in units under load, `0 < p < 1`; found to 1e-7 in ln units. Never below 0.
    pub fn quantile(&self, p: f64) -> f64 {
        let excess = |ln: f64| self.demands().map(|d| d.outlook.survival(ln)).product::<f64>() - (1.0 - p);
        loaded_units(libm::exp(falling_root(excess, self.guess(p))), self.mass_ratio).max(0.0)
    }

    /// Where the quantile is likely, ln units, and how far it may be off: as if the limiting demand stood alone and its
    /// chances were logistic.
    fn guess(&self, p: f64) -> (f64, f64) {
        let limiting = self.demands().min_by(|a, b| a.belief.mean.total_cmp(&b.belief.mean));
        limiting.map_or((0.0, 1.0), |d| {
            (d.belief.mean + d.spread() * libm::log(p / (1.0 - p)) / 1.702, 0.1 * d.spread())
        })
    }

    /// Standard deviation of the belief about the demand that limits most, ln units: how wide the doubt is.
    pub fn doubt(&self) -> f64 {
        let limiting = self.demands().min_by(|a, b| a.belief.mean.total_cmp(&b.belief.mean));
        limiting.map_or(0.0, |d| d.belief.variance.sqrt())
    }
}

/// Width at which a root is found, ln units.
const ROOT_WIDTH: f64 = 1e-7;

/// The root of a falling function: steps out from the guess until it is between two points, then draws them together by
/// the secant with the Illinois correction (Dowell and Jarratt 1971, from memory), halving where that stalls.
fn falling_root(f: impl Fn(f64) -> f64, (guess, step): (f64, f64)) -> f64 {
    let (mut low, mut high) = (guess, guess);
    let (mut above, mut below) = (f(guess), f(guess));
    let mut reach = step;
    while above < 0.0 {
        (high, below) = (low, above);
        low -= reach;
        above = f(low);
        reach *= 2.0;
    }
    while below >= 0.0 {
        (low, above) = (high, below);
        high += reach;
        below = f(high);
        reach *= 2.0;
    }
    let mut was_low = None;
    while high - low > ROOT_WIDTH {
        let secant = (low * below - high * above) / (below - above);
        let inside = low < secant && secant < high;
        let at = if inside {
            secant.clamp(low + 0.5 * ROOT_WIDTH, high - 0.5 * ROOT_WIDTH)
        } else {
            0.5 * (low + high)
        };
        let value = f(at);
        let is_low = value >= 0.0;
        if is_low {
            (low, above) = (at, value);
        } else {
            (high, below) = (at, value);
        }
        if was_low == Some(is_low) {
            if is_low { below *= 0.5 } else { above *= 0.5 }
        }
        was_low = Some(is_low);
    }
    0.5 * (low + high)
}
