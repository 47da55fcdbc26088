//! Truth: an athlete who follows the model's own family of formulas (F-01 to F-05), with every number known.
//!
//! Written from the design's formulas and stepped day by day, not from the filter's code, so that a fault there shows.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_capacity::load::loaded_units;
use nextrung_capacity::params::{KindParameters, Parameters};
use nextrung_capacity::task::{Offset, OffsetKey, Task, TaskDemand};
use nextrung_domain::ability::{AbilityIx, AbilityKind};
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::stop::Stop;

use crate::dice::Dice;
use crate::simulate::ache::Ache;
use crate::simulate::growth::Growth;
use crate::simulate::noise::Noise;
use crate::simulate::standing::{Demanded, Standing};
use crate::simulate::trainee::Setup;
use crate::simulate::who::{Side, Who};

/// Days without work that cost nothing (F-03).
const GRACE: f64 = 14.0;

/// One ability of the truth.
#[derive(Debug, Clone)]
struct Ability {
    kind: AbilityKind,
    level: f64,
    slope: f64,
    form: f64,
    bias: f64,
    first_day: Option<i32>,
    last_work: i32,
    work: f64,
    /// What the day's sets were worth so far, in full sets, and what was gained by such work in all, ln units.
    worth: f64,
    gained: f64,
}

/// An athlete whose every number is known.
#[derive(Debug, Clone)]
pub struct Truth {
    parameters: Parameters,
    noise: Noise,
    abilities: Vec<Ability>,
    offsets: BTreeMap<(AbilityIx, OffsetKey), f64>,
    catalog: Arc<Catalog>,
    growth: Growth,
    ache: Option<Ache>,
    /// How fast the athlete gains and how prone to pain they are, times the usual.
    own: (f64, f64),
    day: i32,
    days: Dice,
    sets: Dice,
    aches: Dice,
}

/// One set as it truly went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Performed {
    /// Units that were there, not cut to whole ones.
    pub capacity: f64,
    /// Clean units done.
    pub units: u16,
    /// The target, or the ability that gave out.
    pub stop: Stop,
    /// ln units of the strength that gives out first, without load; nothing on a rung without strength.
    pub strength: Option<(AbilityIx, f64)>,
    /// What was true as the set began.
    pub standing: Standing,
    /// Pain of 10, of a set that it ended.
    pub pain: Option<u8>,
}

impl Truth {
    /// Draws an athlete from the prior of the truth's parameters, as of the first day.
    pub fn new(setup: &Setup, who: Who) -> Self {
        let mut start = who.dice(0);
        let (parameters, day) = (setup.truth.clone(), setup.start.day_number());
        let abilities = setup
            .ladders
            .abilities()
            .iter()
            .map(|ability| {
                let p = parameters.of(ability.kind);
                Ability {
                    kind: ability.kind,
                    level: ability.start_level + ability.start_sd * start.normal(),
                    slope: p.slope_mean + p.slope_sd * start.normal(),
                    form: 0.0,
                    bias: parameters.reserve.bias_mean + parameters.reserve.bias_sd * start.normal(),
                    first_day: None,
                    last_work: day,
                    work: 0.0,
                    worth: 0.0,
                    gained: 0.0,
                }
            })
            .collect();
        let mut offsets = draw_offsets(&setup.ladders, &parameters, &mut who.dice(1));
        mend_steps(&mut offsets, &setup.model.catalog, &setup.ladders);
        Self {
            parameters,
            noise: setup.noise,
            abilities,
            offsets,
            catalog: Arc::clone(&setup.model.catalog),
            growth: setup.growth,
            ache: setup.ache,
            own: own_nature(setup, &mut who.side_dice(Side::Nature)),
            day,
            days: who.dice(2),
            sets: who.dice(3),
            aches: who.side_dice(Side::Ache),
        }
    }

    /// The same athlete at the same moment, with other luck in the sets to come.
    #[must_use]
    pub fn with_luck(&self, sets: Dice) -> Self {
        Self { sets, ..self.clone() }
    }

    /// Moves to the session of a later (or the same) day: the days in between, then the day's form.
    pub fn enter(&mut self, day: i32) {
        while self.day < day {
            for ability in &mut self.abilities {
                let draws = [self.days.normal(), self.days.normal()];
                let p = self.parameters.of(ability.kind);
                if let Some(first) = ability.first_day {
                    let (known, idle) = (self.day - first, self.day - ability.last_work);
                    match self.growth {
                        Growth::Trend => pass_day(ability, p, (known, idle), draws),
                        Growth::Dose(dose) => {
                            let gain = dose.gain(ability.worth, self.own.0, ability.gained);
                            move_level(ability, gain, loss_of_day(p, idle));
                        }
                        Growth::Jumps(jumps) => {
                            let gain = if idle == 0 { jumps.after_work(draws) } else { 0.0 };
                            move_level(ability, gain, loss_of_day(p, idle));
                        }
                    }
                }
                ability.worth = 0.0;
            }
            self.day += 1;
        }
        for ability in &mut self.abilities {
            ability.form = self.parameters.of(ability.kind).day_sd * self.days.normal();
            ability.work = 0.0;
        }
    }

    /// The predictor of one demand today, without fatigue.
    pub fn eta(&self, demand: &TaskDemand) -> f64 {
        let ability = &self.abilities[demand.ability.at()];
        let offset = |o: &Offset| self.offsets.get(&(demand.ability, o.key)).copied().unwrap_or(0.0);
        ability.level + ability.form + demand.offsets().iter().map(offset).sum::<f64>() - demand.difficulty
    }

    /// Moves the level of a demand's ability so that the predictor on it is `eta` on a day of usual form.
    pub fn place(&mut self, demand: &TaskDemand, eta: f64) {
        let change = eta - self.usual(demand);
        self.abilities[demand.ability.at()].level += change;
    }

    /// The predictor of one demand on a day of usual form.
    pub fn usual(&self, demand: &TaskDemand) -> f64 {
        self.eta(demand) - self.form(demand.ability)
    }

    /// The form of the day of an ability.
    pub fn form(&self, ability: AbilityIx) -> f64 {
        self.abilities[ability.at()].form
    }

    /// The bias with which the athlete reports reserve on an ability.
    pub fn bias(&self, ability: AbilityIx) -> f64 {
        self.abilities[ability.at()].bias
    }

    /// Chance of at least `units` after what was done today, of which `left` is left by then, and `more` work in sets to
    /// the limit.
    pub fn at_least(&self, task: &Task, units: f64, (left, more): (f64, f64)) -> f64 {
        let ln_units = nextrung_capacity::load::ln_threshold(units, task.mass_ratio);
        if ln_units == f64::NEG_INFINITY {
            return 1.0;
        }
        let one = |d: &TaskDemand| {
            let p = self.parameters.of(d.kind);
            let work = left * self.abilities[d.ability.at()].work + more;
            self.noise.survival(p.scale, ln_units - self.eta(d) + p.fatigue * work)
        };
        task.demands().iter().map(one).product()
    }

    /// Share of the work carried that is left after a rest.
    pub fn left_after(&self, rest_seconds: u16) -> f64 {
        libm::exp(-f64::from(rest_seconds) / self.parameters.recovery_seconds)
    }

    /// Does one set up to a target, after a rest.
    pub fn perform(&mut self, task: &Task, target: Option<u16>, rest_seconds: u16) -> Performed {
        let faded = self.left_after(rest_seconds);
        self.abilities.iter_mut().for_each(|ability| ability.work *= faded);
        let mut least = (f64::INFINITY, AbilityKind::Strength, AbilityIx(0));
        let mut strength: Option<(AbilityIx, f64)> = None;
        let mut etas = Vec::with_capacity(task.demands().len());
        let mut standing = Standing::new(self.noise, task.mass_ratio);
        for demand in task.demands() {
            let p = self.parameters.of(demand.kind);
            let eta = self.eta(demand) - p.fatigue * self.abilities[demand.ability.at()].work;
            let ln_capacity = eta + self.noise.draw(p.scale, &mut self.sets);
            etas.push((demand.ability, eta));
            standing.push(Demanded { kind: demand.kind, eta, scale: p.scale });
            if ln_capacity < least.0 {
                least = (ln_capacity, demand.kind, demand.ability);
            }
            if demand.kind == AbilityKind::Strength && strength.is_none_or(|(_, s)| ln_capacity < s) {
                strength = Some((demand.ability, ln_capacity));
            }
        }
        let capacity = loaded_units(libm::exp(least.0), task.mass_ratio).max(0.0);
        let there = whole(capacity);
        let mut units = target.map_or(there, |t| t.min(there));
        let mut stop = match (target.is_some_and(|t| there >= t), least.1) {
            (true, _) => Stop::Target,
            (false, AbilityKind::Strength) => Stop::Strength,
            (false, AbilityKind::Balance) => Stop::Balance,
            (false, AbilityKind::Line) => Stop::Line,
        };
        let hurt =
            self.onset(task, &standing).filter(|(at, _)| *at < units || *at == units && stop != Stop::Target);
        if let Some((at, _)) = hurt {
            (units, stop) = (at, Stop::Pain);
        }
        let failed = stop.is_failure().then_some(least.2);
        self.tire(task, &etas, (f64::from(units), failed));
        Performed { capacity, units, stop, strength, standing, pain: hurt.map(|(_, strength)| strength) }
    }

    /// The unit after which pain would come in this set, and how strong; nothing for who knows none.
    fn onset(&mut self, task: &Task, standing: &Standing) -> Option<(u16, u8)> {
        let ache = self.ache?;
        let expected = loaded_units(libm::exp(standing.least_eta()), task.mass_ratio).max(0.5);
        let carried = task.demands().iter().map(|d| self.abilities[d.ability.at()].work).fold(0.0, f64::max);
        let at = whole(ache.onset(self.own.1, (expected, carried), &mut self.aches));
        Some((at, Ache::strength(&mut self.aches)))
    }

    /// Work done by a set (F-02): the square of how close it came to the limit, and 1 for what gave out.
    fn tire(&mut self, task: &Task, etas: &[(AbilityIx, f64)], (units, failed): (f64, Option<AbilityIx>)) {
        let ln_done = nextrung_capacity::load::ln_threshold(units + 0.5, task.mass_ratio);
        let unit = self.catalog.rung(task.rung).unit;
        for (ability, eta) in etas {
            let close = if failed == Some(*ability) { 1.0 } else { libm::exp((ln_done - eta).min(0.0)) };
            let truth = &mut self.abilities[ability.at()];
            truth.work += close * close;
            truth.last_work = self.day;
            truth.first_day = truth.first_day.or(Some(self.day));
            if let Growth::Dose(dose) = self.growth {
                let there = loaded_units(libm::exp(*eta), task.mass_ratio).max(f64::MIN_POSITIVE);
                truth.worth += dose.worth(unit, libm::log(there), close);
            }
        }
    }
}

/// How fast somebody gains and how prone to pain they are, times the usual.
fn own_nature(setup: &Setup, dice: &mut Dice) -> (f64, f64) {
    let (gains, aches) = (dice.normal(), dice.normal());
    let spread = |spread: f64, normal: f64| libm::exp(spread * normal);
    let gain = if let Growth::Dose(dose) = setup.growth { spread(dose.spread, gains) } else { 1.0 };
    (gain, setup.ache.map_or(1.0, |ache| spread(ache.spread, aches)))
}

/// A day on which the level moves by what is gained and what time off costs, without noise.
fn move_level(ability: &mut Ability, gain: f64, loss: f64) {
    ability.level += gain - loss;
    ability.gained = (ability.gained + gain - loss).max(0.0);
}

/// What a day costs that ends `idle` days and one after the last work (F-03), ln units.
fn loss_of_day(p: &KindParameters, idle: i32) -> f64 {
    let past = |days: f64| (days - GRACE).max(0.0);
    let lost = |off: f64| p.idle_loss * p.idle_days * (1.0 - libm::exp(-off / p.idle_days));
    lost(past(f64::from(idle) + 1.0)) - lost(past(f64::from(idle)))
}

/// Own departures on every rung and shading of the catalog, in its order, so that they do not depend on what is trained.
fn draw_offsets(
    catalog: &Catalog,
    parameters: &Parameters,
    dice: &mut Dice,
) -> BTreeMap<(AbilityIx, OffsetKey), f64> {
    let mut offsets = BTreeMap::new();
    for number in 0..catalog.rung_count() {
        let rung = RungIx(u16::try_from(number).unwrap_or(u16::MAX));
        let plain = std::iter::once(Vec::new());
        let shaded = catalog.rung(rung).shadings.iter().map(|s| vec![s.clone()]);
        for shadings in plain.chain(shaded) {
            for demand in Task::new(catalog, rung, &shadings, 1.0).demands() {
                for offset in demand.offsets() {
                    let own = if offset.own { parameters.of(demand.kind).offset_sd } else { 0.0 };
                    let sd = (own * own + offset.file_variance).sqrt();
                    offsets.entry((demand.ability, offset.key)).or_insert_with(|| sd * dice.normal());
                }
            }
        }
    }
    offsets
}

/// Tasks carry the difficulties of the model's ladders. Where the true ones differ, the difference is part of everybody's
/// departure on the rung.
fn mend_steps(offsets: &mut BTreeMap<(AbilityIx, OffsetKey), f64>, told: &Catalog, truth: &Catalog) {
    for number in 0..told.rung_count() {
        let rung = RungIx(u16::try_from(number).unwrap_or(u16::MAX));
        let [told, truth] = [told, truth].map(|catalog| &catalog.rung(rung).demands);
        for (told, truth) in told.iter().zip(truth) {
            if let Some(offset) = offsets.get_mut(&(told.ability, OffsetKey::rung(rung))) {
                *offset -= truth.difficulty - told.difficulty;
            }
        }
    }
}

/// One day of the damped trend (F-03), with what getting used to it and time off add.
fn pass_day(ability: &mut Ability, p: &KindParameters, (known, idle): (i32, i32), draws: [f64; 2]) {
    let tau = p.slope_days;
    let a = libm::exp(-1.0 / tau);
    let q_slope = 2.0 * p.slope_sd * p.slope_sd / tau;
    let vv = q_slope * tau / 2.0 * (1.0 - a * a);
    let lv = q_slope * tau * tau / 2.0 * (1.0 - a) * (1.0 - a);
    let ll = p.level_sd * p.level_sd
        + q_slope * tau * tau * (1.0 - 2.0 * tau * (1.0 - a) + tau / 2.0 * (1.0 - a * a));
    let past = |days: f64| (days - GRACE).max(0.0);
    let (off_before, off_after) = (past(f64::from(idle)), past(f64::from(idle) + 1.0));
    let (t0, t1) = (f64::from(known) / p.familiar_days, (f64::from(known) + 1.0) / p.familiar_days);
    let strange = p.familiar_sd * p.familiar_sd * p.familiar_days * (libm::exp(-t0) - libm::exp(-t1));
    let doubt = strange + p.idle_sd * p.idle_sd * (off_after - off_before);
    let slope_noise = vv.sqrt() * draws[0];
    // Past the grace the slope no longer reaches the level.
    let (from_slope, shared, alone) = if f64::from(idle) < GRACE {
        (tau * (1.0 - a) * ability.slope, lv / vv * slope_noise, (ll - lv * lv / vv).max(0.0))
    } else {
        (0.0, 0.0, p.level_sd * p.level_sd)
    };
    ability.level += from_slope + shared + (alone + doubt).sqrt() * draws[1] - loss_of_day(p, idle);
    ability.slope = a * ability.slope + slope_noise;
}

/// Whole units of a capacity.
pub fn whole(capacity: f64) -> u16 {
    let floor = libm::floor(capacity.clamp(0.0, 1800.0));
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in 0..=1800 above")]
    let units = floor as u16;
    units
}

#[cfg(test)]
mod tests {
    use super::*;
    use nextrung_capacity::dynamics::{Familiarisation, Idleness};

    fn ability(p: &KindParameters, dice: &mut Dice) -> Ability {
        Ability {
            kind: AbilityKind::Strength,
            level: 0.0,
            slope: p.slope_mean + p.slope_sd * dice.normal(),
            form: 0.0,
            bias: 0.0,
            first_day: Some(0),
            last_work: 0,
            work: 0.0,
            worth: 0.0,
            gained: 0.0,
        }
    }

    #[test]
    fn a_month_day_by_day_has_the_moments_of_the_whole_gap() {
        let p = *Parameters::default().of(AbilityKind::Strength);
        let mut dice = Dice::new(17, 0);
        let n = 40_000;
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..n {
            let mut ability = ability(&p, &mut dice);
            for day in 0..30 {
                let draws = [dice.normal(), dice.normal()];
                pass_day(&mut ability, &p, (day, day), draws);
            }
            sum += ability.level;
            squares += ability.level * ability.level;
        }
        let mean = sum / f64::from(n);
        let variance = squares / f64::from(n) - mean * mean;
        // What the model makes of the same gap in one step.
        let gap = p.trend().transition(14.0).then(&p.trend().standstill(16.0));
        let (after, covariance) = gap.apply([0.0, p.slope_mean], [0.0, 0.0, p.slope_sd * p.slope_sd]);
        let (loss, doubt) = Idleness { ..p.idleness() }.over(0.0, 30.0);
        let strange = Familiarisation { ..p.familiarisation() }.over(0.0, 30.0);
        let expected = covariance[0] + doubt + strange;
        let error = (expected / f64::from(n)).sqrt();
        assert!((mean - after[0] - loss).abs() < 4.0 * error, "mean {mean} against {}", after[0] + loss);
        assert!(
            (variance / expected - 1.0).abs() < 4.0 * (2.0 / f64::from(n)).sqrt(),
            "{variance} {expected}"
        );
    }
}
