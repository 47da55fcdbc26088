//! Filter: folds one set after another into an athlete's state (F-02 to F-06).

use nextrung_domain::ability::{AbilityIx, AbilityKind};
use nextrung_domain::stop::Stop;

use crate::done::Done;
use crate::evidence::{self, Evidence, Standing, observe_either};
use crate::linear::{absorb, absorb_pair, dot};
use crate::logistic::{self, Pair, Report};
use crate::model::Model;
use crate::params::Parameters;
use crate::state::{AbilityState, AthleteState, BIAS, Row};
use crate::task::{MOST_DEMANDS, Task};
use crate::truncated::{Gaussian, Update};

/// Space the filter works in, kept between sets so that folding a log does not allocate.
#[derive(Debug, Clone, Default)]
pub struct Scratch {
    along: [Vec<f64>; MOST_DEMANDS],
    bias: Vec<f64>,
}

/// What one set told about one ability, for smoothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    /// The ability.
    pub ability: AbilityIx,
    /// What was told.
    pub evidence: Evidence,
    /// Difficulty and fatigue at the time: what was subtracted from the predictor, ln units.
    pub shift: f64,
}

/// What came of reading one set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Logarithm of the probability the model gave to what happened.
    pub log_mass: f64,
    /// True when a person should look at the set.
    pub flagged: bool,
    told: [Told; MOST_DEMANDS],
    told_count: usize,
}

impl Reading {
    /// What was told, by demand of the task.
    pub fn told(&self) -> &[Told] {
        &self.told[..self.told_count]
    }
}

/// One demand while its set is being read.
#[derive(Debug, Clone, Copy)]
struct Look {
    place: usize,
    row: Row,
    shift: f64,
    standing: Standing,
    /// How much sets on the rung told before, 0 to 1.
    told: f64,
}

impl AthleteState {
    /// Reads one set. Sets must come in training order; a set dated before the state's day is read as of that day.
    pub fn observe(&mut self, model: &Model, scratch: &mut Scratch, set: (&Task, &Done)) -> Reading {
        self.observe_foretold(model, scratch, set, |_| {})
    }

    /// The same; `foretell` first sees how the athlete stands before the set, one entry per demand, fatigue reckoned in. Of
    /// the outcome only when, after which rest and whether anything was tried is known by then.
    pub fn observe_foretold(
        &mut self,
        model: &Model,
        scratch: &mut Scratch,
        (task, done): (&Task, &Done),
        foretell: impl FnOnce(&[Standing]),
    ) -> Reading {
        let parameters = &model.parameters;
        self.rest(parameters, done);
        let mut looks = [None; MOST_DEMANDS];
        for (at, slot) in looks.iter_mut().enumerate().take(task.demands().len()) {
            *slot = Some(self.look(model, scratch, (task, done), at));
        }
        let mut standings = [Standing {
            belief: Gaussian { mean: 0.0, variance: 1.0 },
            noise: logistic::Noise::Logistic { scale: 1.0 },
        }; MOST_DEMANDS];
        for (standing, look) in standings.iter_mut().zip(looks.iter().flatten()) {
            *standing = look.standing;
        }
        let standings = &standings[..task.demands().len()];
        foretell(standings);
        let verdict = evidence::read(parameters, task, done, standings, self.chosen_near());
        let mut reading = Reading {
            log_mass: 0.0,
            flagged: verdict.flagged,
            told: [Told { ability: AbilityIx(0), evidence: Evidence::Nothing, shift: 0.0 }; MOST_DEMANDS],
            told_count: task.demands().len(),
        };
        let mut shared_counted = false;
        for (at, look) in looks.iter().flatten().enumerate() {
            let told = verdict.by_demand[at];
            let by_choice = done.stop == Stop::Chosen;
            let log_mass = self.hear(parameters, scratch, (at, look), (&told, by_choice));
            let is_shared = matches!(told, Evidence::Either(either) if either.shared);
            if !(is_shared && shared_counted) {
                reading.log_mass += log_mass;
            }
            shared_counted |= is_shared;
            reading.told[at] =
                Told { ability: task.demands()[at].ability, evidence: told, shift: look.shift };
            tire(&mut self.blocks[look.place], done, task, (look.standing.belief.mean, told));
        }
        self.sets = self.sets.saturating_add(1);
        reading
    }

    /// Every ability that carries work into the set has rested, also those that this set does not ask for.
    fn rest(&mut self, parameters: &Parameters, done: &Done) {
        let carries = |b: &&mut AbilityState| b.session == done.session && b.day >= done.day;
        self.blocks.iter_mut().filter(carries).for_each(|block| block.rest(parameters, done.rest_seconds));
    }

    fn look(
        &mut self,
        model: &Model,
        scratch: &mut Scratch,
        (task, done): (&Task, &Done),
        at: usize,
    ) -> Look {
        let parameters = &model.parameters;
        let demand = &task.demands()[at];
        let place = self.place_of(model, demand.ability, done.day);
        let p = parameters.of(demand.kind);
        let block = &mut self.blocks[place];
        block.enter(parameters, done.day, done.session);
        if done.is_effort() {
            block.last_work = block.day;
        }
        let row = block.row_mut(p, demand);
        let told = block.told(&row);
        let along = &mut scratch.along[at];
        along.resize(block.mean.len(), 0.0);
        block.covariance.mul_sparse(row.entries(), along);
        let shift = demand.difficulty + p.fatigue * block.work;
        let belief =
            Gaussian { mean: dot(row.entries(), &block.mean) - shift, variance: dot(row.entries(), along) };
        Look { place, row, shift, standing: Standing { belief, noise: p.noise() }, told }
    }

    /// Takes in what was told about one ability; returns its log mass.
    fn hear(
        &mut self,
        parameters: &Parameters,
        scratch: &mut Scratch,
        (at, look): (usize, &Look),
        (told, by_choice): (&Evidence, bool),
    ) -> f64 {
        let Standing { belief, noise } = look.standing;
        let mut update = match told {
            Evidence::Nothing => return 0.0,
            Evidence::Within(interval) => logistic::observe(belief, noise, *interval),
            Evidence::Either(either) => {
                let (update, share) = observe_either(belief, noise, either);
                if by_choice {
                    self.chosen_counts.0 += share;
                    self.chosen_counts.1 += 1.0 - share;
                }
                update
            }
            Evidence::Reported { ln_done, report } => {
                let block = &mut self.blocks[look.place];
                return hear_report(block, scratch, (at, look), (*ln_done, *report));
            }
        };
        if is_bound(told) {
            let narrowed = belief.variance - update.posterior.variance;
            let heard = 1.0 - look.told * (1.0 - parameters.repeated_bound);
            update.posterior.variance = belief.variance - heard * narrowed;
        }
        let block = &mut self.blocks[look.place];
        apply(block, &scratch.along[at], belief, &update)
    }
}

/// True for what may leave the limit open: a bound, or one of two things. A belief after several of these has a long tail
/// that its mean and variance do not show, and the next one says in part what the last one said.
fn is_bound(told: &Evidence) -> bool {
    !matches!(told, Evidence::Within(interval) if interval.upper.is_finite())
}

fn apply(block: &mut AbilityState, along: &[f64], belief: Gaussian, update: &Update) -> f64 {
    absorb(&mut block.mean, &mut block.covariance, along, (belief, update.posterior));
    update.log_mass
}

fn hear_report(
    block: &mut AbilityState,
    scratch: &mut Scratch,
    (at, look): (usize, &Look),
    (ln_done, report): (f64, Report),
) -> f64 {
    let bias_row = [(BIAS, 1.0)];
    scratch.bias.resize(block.mean.len(), 0.0);
    block.covariance.mul_sparse(&bias_row, &mut scratch.bias);
    let Standing { belief, noise } = look.standing;
    let before = Pair {
        mean: [belief.mean, block.mean[BIAS]],
        covariance: [belief.variance, dot(look.row.entries(), &scratch.bias), scratch.bias[BIAS]],
    };
    let update = logistic::observe_report(&before, noise, ln_done, report);
    let along = [scratch.along[at].as_slice(), scratch.bias.as_slice()];
    absorb_pair(&mut block.mean, &mut block.covariance, along, (&before, &update.posterior));
    update.log_mass
}

/// Adds the set's work to what the ability carries: the square of how close it came to the limit (F-02). A failure of
/// this ability is the limit itself; otherwise the units done are held against the capacity expected, or reported.
fn tire(block: &mut AbilityState, done: &Done, task: &Task, (expected_ln, told): (f64, Evidence)) {
    if !done.is_effort() {
        return;
    }
    let ln_done = crate::load::ln_threshold(f64::from(done.units) + 0.5, task.mass_ratio);
    let close = match told {
        Evidence::Within(interval) if interval.upper.is_finite() => 1.0,
        Evidence::Reported { report, .. } => libm::exp((ln_done - report.ln_units).min(0.0)),
        Evidence::Within(_) | Evidence::Nothing | Evidence::Either(_) => {
            if ln_done.is_finite() {
                libm::exp((ln_done - expected_ln).min(0.0))
            } else {
                0.0
            }
        }
    };
    // A report is about strength; a balance or line block never gets one.
    debug_assert!(block.kind == AbilityKind::Strength || !matches!(told, Evidence::Reported { .. }));
    block.work += close * close;
}
