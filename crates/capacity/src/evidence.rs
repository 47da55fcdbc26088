//! Evidence: what the end of a set says about each ability (F-05).

use nextrung_domain::ability::AbilityKind;
use nextrung_domain::stop::Stop;

use crate::done::Done;
use crate::load::ln_threshold;
use crate::logistic::{self, Noise, Report};
use crate::params::{Parameters, ReserveParameters};
use crate::task::{MOST_DEMANDS, Task};
use crate::truncated::{Gaussian, Interval, Update};

/// ln of the least units that a failure or a report may speak of, half a unit without load. With much help they would stand for
/// next to none, or for fewer than none, of which the logarithm has no bound: a failure there says less than half a unit.
const LEAST_LN_UNITS: f64 = -core::f64::consts::LN_2;

/// What one set says about one ability; ends of intervals are ln units without load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Evidence {
    /// Nothing at all.
    Nothing,
    /// The capacity of the set lay in the interval.
    Within(Interval),
    /// One of two things happened.
    Either(Either),
    /// At least the units done, and a report of what was left.
    Reported {
        /// ln units done.
        ln_done: f64,
        /// The report.
        report: Report,
    },
}

/// Two ways in which a set may have ended, with the logarithm of the weight each has from elsewhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Either {
    /// One interval and its log weight.
    pub first: (Interval, f64),
    /// The other.
    pub second: (Interval, f64),
    /// True when the same total probability is told by every ability among the possible causes.
    pub shared: bool,
}

/// The evidence of one set, by demand of its task.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Verdict {
    /// One per demand.
    pub by_demand: [Evidence; MOST_DEMANDS],
    /// True when the set should be shown to a person: pain, an interruption, or a cause the rung does not know.
    pub flagged: bool,
}

/// Belief before the set and noise of one demand.
#[derive(Debug, Clone, Copy)]
pub struct Standing {
    /// Belief about the predictor.
    pub belief: Gaussian,
    /// The set's noise.
    pub noise: Noise,
}

/// What the end of a set says. `standing` holds one entry per demand; it decides only how an unsaid cause is shared and
/// which strength a report of reserve speaks of. `near` is the share of the athlete's stops by choice made near the limit.
pub fn read(parameters: &Parameters, task: &Task, done: &Done, standing: &[Standing], near: f64) -> Verdict {
    let mut verdict = Verdict { by_demand: [Evidence::Nothing; MOST_DEMANDS], flagged: false };
    let limit = |units: f64| ln_threshold(units, task.mass_ratio);
    let units = f64::from(done.units);
    let reached = at_least(limit(units));
    for slot in verdict.by_demand.iter_mut().take(task.demands().len()) {
        *slot = reached;
    }
    match done.stop {
        Stop::Pain | Stop::Interrupted | Stop::Other => verdict.flagged = true,
        Stop::Target => {}
        Stop::Chosen => {
            if let Some(at) = limiting_strength(task, standing) {
                verdict.by_demand[at] = chosen(parameters, done, near, limit);
            }
        }
        Stop::Strength | Stop::Balance | Stop::Line | Stop::Failed => {
            verdict.flagged = !failed(&mut verdict.by_demand, task, done, standing);
        }
    }
    // With nothing done nothing was felt: at 0 the error in ln units has no bound.
    if let (Some(reserve), true) = (done.reserve, done.units > 0 && !done.stop.is_failure())
        && let Some(at) = limiting_strength(task, standing)
    {
        let heard = report(&parameters.reserve, units, f64::from(reserve), limit);
        verdict.by_demand[at] = heard.unwrap_or(verdict.by_demand[at]);
    }
    verdict
}

/// At least this much; nothing when the bound is no bound.
fn at_least(ln_units: f64) -> Evidence {
    if ln_units.is_finite() { Evidence::Within(Interval::at_least(ln_units)) } else { Evidence::Nothing }
}

/// The strength demand that is expected to give out first.
fn limiting_strength(task: &Task, standing: &[Standing]) -> Option<usize> {
    let mut best: Option<usize> = None;
    for (at, demand) in task.demands().iter().enumerate() {
        let lower = |b: usize| standing[at].belief.mean < standing[b].belief.mean;
        if demand.kind == AbilityKind::Strength && best.is_none_or(lower) {
            best = Some(at);
        }
    }
    best
}

/// A stop by choice below the target: far from the limit, or within a few units of it. The weights are the chances of
/// stopping just here: far from the limit any unit below the target will do, near it any unit of the window.
fn chosen(parameters: &Parameters, done: &Done, near: f64, limit: impl Fn(f64) -> f64) -> Evidence {
    if done.units == 0 {
        return Evidence::Nothing;
    }
    let window = parameters.chosen.window;
    let places = done.target.unwrap_or(done.units.saturating_add(window)).max(1);
    let units = f64::from(done.units);
    let (low, high) = (limit(units), limit(units + f64::from(window)));
    if !high.is_finite() {
        return Evidence::Nothing;
    }
    Evidence::Either(Either {
        first: (Interval::between(low, high), libm::log(near / f64::from(window))),
        second: (Interval::at_least(low), libm::log((1.0 - near) / f64::from(places))),
        shared: false,
    })
}

/// A report of reps in reserve: its error grows with distance, and is never so small that one report would say more than
/// one observed failure does.
fn report(
    parameters: &ReserveParameters,
    units: f64,
    reserve: f64,
    limit: impl Fn(f64) -> f64,
) -> Option<Evidence> {
    let claimed = units + reserve + 0.5;
    let ln_units = limit(claimed);
    // A failure at k leaves ln C uniform between the ends of its interval: variance of that width over twelve.
    let (low, high) = (claimed - 0.5, claimed + 0.5);
    let width = limit(high) - limit(low);
    if ln_units < LEAST_LN_UNITS || !width.is_finite() {
        return None;
    }
    // The error is one of the units done; with help they stand for fewer, and it for more of these.
    let stretch = width / libm::log(high / low);
    let sd = stretch * (parameters.error + parameters.growth * reserve) / claimed;
    let variance = (sd * sd).max(width * width / 12.0);
    Some(Evidence::Reported { ln_done: limit(units), report: Report { ln_units, variance } })
}

/// True when a stop of this kind can come from a demand of this kind.
fn may_cause(stop: Stop, kind: AbilityKind) -> bool {
    match stop {
        Stop::Strength => kind == AbilityKind::Strength,
        Stop::Balance => kind == AbilityKind::Balance,
        Stop::Line => kind == AbilityKind::Line,
        Stop::Failed => true,
        Stop::Target | Stop::Chosen | Stop::Pain | Stop::Interrupted | Stop::Other => false,
    }
}

/// The next unit failed. False when no demand of the rung can have been the cause; then only the units done count.
fn failed(by_demand: &mut [Evidence; MOST_DEMANDS], task: &Task, done: &Done, standing: &[Standing]) -> bool {
    let demands = task.demands();
    let suspects = demands.iter().filter(|d| may_cause(done.stop, d.kind)).count();
    let limit = |units: f64| ln_threshold(units, task.mass_ratio);
    let units = f64::from(done.units);
    let (low, middle) = (limit(units), limit(units + 0.5));
    let high = limit(units + 1.0).max(LEAST_LN_UNITS);
    if suspects == 0 {
        return false;
    }
    let broke = Interval::between(low, high);
    let held = Interval::at_least(middle);
    for (slot, demand) in by_demand.iter_mut().zip(demands) {
        *slot = match may_cause(done.stop, demand.kind) {
            true if suspects == 1 => Evidence::Within(broke),
            _ => at_least(middle),
        };
    }
    if suspects > 1 {
        share_blame(by_demand, demands.iter().map(|d| may_cause(done.stop, d.kind)), standing, (broke, held));
    }
    true
}

/// Several abilities may have failed: each gets the mixture of having failed and of having held while another failed,
/// weighted by how likely the others make either. These are the exact marginals of "exactly one of them failed".
fn share_blame(
    by_demand: &mut [Evidence; MOST_DEMANDS],
    suspects: impl Iterator<Item = bool>,
    standing: &[Standing],
    (broke, held): (Interval, Interval),
) {
    let mut places = [0; MOST_DEMANDS];
    let mut count = 0;
    for (at, suspect) in suspects.enumerate() {
        if suspect {
            places[count] = at;
            count += 1;
        }
    }
    let places = &places[..count];
    let mut breaks = [0.0; MOST_DEMANDS];
    let mut holds = [0.0; MOST_DEMANDS];
    for &at in places {
        let Standing { belief, noise } = standing[at];
        breaks[at] = logistic::observe(belief, noise, broke).log_mass;
        let is_bound = held.lower.is_finite();
        holds[at] = if is_bound { logistic::observe(belief, noise, held).log_mass } else { 0.0 };
    }
    for &at in places {
        let others = || places.iter().filter(move |other| **other != at);
        let all_held: f64 = others().map(|&o| holds[o]).sum();
        // ln of the sum over one other that broke while the rest held.
        let another: [f64; MOST_DEMANDS] = std::array::from_fn(|o| breaks[o] - holds[o] + all_held);
        let most = others().map(|&o| another[o]).fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = others().map(|&o| libm::exp(another[o] - most)).sum();
        by_demand[at] = Evidence::Either(Either {
            first: (broke, all_held),
            second: (held, most + libm::log(sum)),
            shared: true,
        });
    }
}

/// Belief after one of two things happened, and the chance that it was the first.
pub fn observe_either(belief: Gaussian, noise: Noise, either: &Either) -> (Update, f64) {
    let one = |(interval, log_weight): (Interval, f64)| {
        let mut update = if interval.lower.is_finite() || interval.upper.is_finite() {
            logistic::observe(belief, noise, interval)
        } else {
            Update { log_mass: 0.0, posterior: belief }
        };
        update.log_mass += log_weight;
        update
    };
    let (first, second) = (one(either.first), one(either.second));
    let top = first.log_mass.max(second.log_mass);
    let (a, b) = (libm::exp(first.log_mass - top), libm::exp(second.log_mass - top));
    let share = a / (a + b);
    let apart = first.posterior.mean - second.posterior.mean;
    let mean = second.posterior.mean + share * apart;
    let variance = share * first.posterior.variance
        + (1.0 - share) * second.posterior.variance
        + share * (1.0 - share) * apart * apart;
    (Update { log_mass: top + libm::log(a + b), posterior: Gaussian { mean, variance } }, share)
}
