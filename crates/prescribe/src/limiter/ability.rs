//! Abilities at the goal: which would end a set there before what is wanted is done, and how far each is from enough.

use nextrung_capacity::normal::log_distribution;
use nextrung_capacity::task::Task;
use nextrung_domain::ability::{AbilityIx, AbilityKind};
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::ClientSetId;
use nextrung_domain::stop::Stop;

use super::log::{Logged, SpanLog};
use super::nodes::{central, nodes};
use super::{LEVEL, MOST_EVIDENCE};
use crate::choice::ROUNDING;
use crate::reason::Figure;
use crate::situation::Situation;

/// Steps of the integral over ln units, and how far below the lowest ability it starts, in standard deviations of a set.
const STEPS: u8 = 40;
const REACH: f64 = 5.0;
/// A chance to fail of which no figure is left.
const NEXT_TO_NOTHING: f64 = 1e-300;
/// Doubt from which an ability counts as not seen, ln units: as of one that was hardly trained.
const UNSEEN: f64 = 0.7;

/// What is believed of one ability at the goal.
#[derive(Debug, Clone, Copy)]
struct Part {
    ability: AbilityIx,
    kind: AbilityKind,
    /// Mean of ln units it would give on the goal.
    mean: f64,
    /// Standard deviation of the belief about it, form of the day apart.
    doubt: f64,
    /// Standard deviation from set to set: the set's noise and the form of the day.
    noise: f64,
}

/// How the abilities stand at the goal.
#[derive(Debug, Clone)]
pub(super) struct Causes {
    parts: Vec<Part>,
    /// Units wanted: the low end of the goal's working band, from which on the goal counts as reached.
    pub(super) wanted: u16,
    /// Chance to fail before them.
    pub(super) failure: f64,
    /// Share of that by kind of ability.
    pub(super) shares: [f64; 3],
    /// Their central intervals.
    pub(super) intervals: [(f64, f64); 3],
    /// By node of the belief: the shares.
    pub(super) drawn: Vec<[f64; 3]>,
}

impl Causes {
    /// Weighs the abilities by the belief about each.
    pub(super) fn at_goal(at: &Situation<'_>, goal: RungIx) -> Self {
        let wanted = at.policy.working_band(at.rung(goal)).low;
        let ln_wanted = libm::log(f64::from(wanted));
        let parts = parts(at, goal);
        let mut sums = [0.0; 3];
        let mut drawn = Vec::new();
        for node in nodes() {
            let etas: Vec<f64> = parts.iter().zip(node).map(|(p, z)| p.mean + p.doubt * z).collect();
            let failed = failures(&parts, &etas, ln_wanted);
            let whole: f64 = failed.iter().sum();
            sums.iter_mut().zip(failed).for_each(|(sum, one)| *sum += one);
            drawn.push(failed.map(|one| one / whole));
        }
        let whole: f64 = sums.iter().sum();
        let interval = |kind: usize| central(drawn.iter().map(|d: &[f64; 3]| d[kind]).collect(), LEVEL);
        Self {
            wanted,
            failure: whole / f64::from(super::nodes::COUNT),
            shares: sums.map(|sum| sum / whole),
            intervals: [interval(0), interval(1), interval(2)],
            parts,
            drawn,
        }
    }

    /// The ability of a kind that gives least at the goal; nothing when the goal asks for none.
    fn least(&self, kind: AbilityKind) -> Option<&Part> {
        self.parts.iter().filter(|p| p.kind == kind).min_by(|a, b| a.mean.total_cmp(&b.mean))
    }

    /// True when the goal asks for an ability of the kind.
    pub(super) fn asks(&self, kind: AbilityKind) -> bool {
        self.least(kind).is_some()
    }

    /// The ability of a kind that gives least, and the units it would give alone.
    pub(super) fn alone(&self, kind: AbilityKind) -> Option<(AbilityIx, f64)> {
        self.least(kind).map(|p| (p.ability, libm::exp(p.mean)))
    }

    /// True when balance is near what limits most, or is it.
    pub(super) fn wants_balance(&self, near: f64) -> bool {
        let least = self.parts.iter().map(|p| p.mean).fold(f64::INFINITY, f64::min);
        self.least(AbilityKind::Balance).is_some_and(|p| p.mean <= least + near + ROUNDING)
    }

    /// True when the log says next to nothing of the ability of a kind that gives least.
    pub(super) fn is_unseen(&self, kind: AbilityKind) -> bool {
        self.least(kind).is_some_and(|p| p.doubt > UNSEEN)
    }

    pub(super) fn figures(&self, kind: AbilityKind) -> Vec<Figure> {
        let Some(part) = self.least(kind) else { return Vec::new() };
        let share = self.shares[kind.index()];
        vec![
            Figure::chance("share-of-failures", share),
            Figure::chance("p-failure", self.failure),
            Figure::new("units-alone", libm::exp(part.mean), "units"),
            Figure::count("units-wanted", self.wanted, "units"),
            Figure::new("short-by", libm::log(f64::from(self.wanted)) - part.mean, "ln-units"),
            Figure::new("doubt", part.doubt, "ln-units"),
        ]
    }

    /// Sets that an ability of the kind ended: on the goal first, then from the hardest rung down, the latest first.
    pub(super) fn evidence(
        &self,
        at: &Situation<'_>,
        log: &SpanLog<'_>,
        kind: AbilityKind,
    ) -> Vec<ClientSetId> {
        let told = match kind {
            AbilityKind::Strength => Stop::Strength,
            AbilityKind::Balance => Stop::Balance,
            AbilityKind::Line => Stop::Line,
        };
        let hardness = |logged: &Logged<'_>| {
            let asked = self.parts.iter().filter(|p| p.kind == kind);
            asked
                .filter_map(|p| at.rung(logged.rung).demand_on(p.ability))
                .map(|d| d.difficulty)
                .reduce(f64::max)
        };
        let mut found: Vec<(bool, f64, &Logged<'_>)> = log
            .all
            .iter()
            .filter(|l| l.set.stop == told)
            .filter_map(|l| hardness(l).map(|hard| (l.rung == log.goal, hard, l)))
            .collect();
        found.sort_by(|a, b| {
            b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)).then(b.2.set.place().cmp(&a.2.set.place()))
        });
        found.into_iter().take(MOST_EVIDENCE).map(|(.., l)| l.set.client_set_id.clone()).collect()
    }
}

fn parts(at: &Situation<'_>, goal: RungIx) -> Vec<Part> {
    let outlook = at.state.outlook(at.model, &Task::new(at.catalog(), goal, &[], 1.0));
    let part = |d: &nextrung_capacity::outlook::DemandOutlook| {
        let form = at.model.parameters.of(d.kind).day_sd;
        let of_set = d.spread() * d.spread() - d.belief.variance;
        Part {
            ability: d.ability,
            kind: d.kind,
            mean: d.belief.mean,
            doubt: (d.belief.variance - form * form).max(0.0).sqrt(),
            noise: (of_set + form * form).sqrt(),
        }
    };
    outlook.demands().map(part).collect()
}

/// Chances that an ability of each kind gives out before `ln_wanted`, for known levels. The whole drop of each small step
/// is shared by the abilities' hazards in it, as F-07 does unit by unit; noise of a set is taken for normal.
fn failures(parts: &[Part], etas: &[f64], ln_wanted: f64) -> [f64; 3] {
    let start = |(p, eta): (&Part, &f64)| eta - REACH * p.noise;
    let low = parts.iter().zip(etas).map(start).fold(ln_wanted - 1.0, f64::min);
    let logs = |x: f64| -> Vec<f64> {
        parts.iter().zip(etas).map(|(p, eta)| log_distribution((eta - x) / p.noise)).collect()
    };
    let mut failed = [0.0; 3];
    let mut before = vec![0.0; parts.len()];
    let mut held = 1.0;
    for step in 0..=STEPS {
        let after = logs(low + (ln_wanted - low) * f64::from(step) / f64::from(STEPS));
        let hold = libm::exp(after.iter().sum::<f64>());
        let hazard: f64 = before.iter().zip(&after).map(|(b, a)| b - a).sum();
        if hazard > 0.0 {
            for ((b, a), part) in before.iter().zip(&after).zip(parts) {
                failed[part.kind.index()] += (held - hold) * (b - a) / hazard;
            }
        }
        (before, held) = (after, hold);
    }
    if failed.iter().all(|f| *f <= 0.0) {
        // So sure that no figure is left of it: what little there is belongs to whatever has least to spare.
        let spare = |(p, eta): (&Part, &f64)| (p.kind, (eta - ln_wanted) / p.noise);
        let least = parts.iter().zip(etas).map(spare).min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((kind, _)) = least {
            failed[kind.index()] = NEXT_TO_NOTHING;
        }
    }
    failed
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(kind: AbilityKind, noise: f64) -> Part {
        Part { ability: AbilityIx(0), kind, mean: 0.0, doubt: 0.0, noise }
    }

    #[test]
    fn two_equal_abilities_share_the_failures() {
        let parts = [part(AbilityKind::Strength, 0.3), part(AbilityKind::Balance, 0.3)];
        let failed = failures(&parts, &[0.5, 0.5], libm::log(3.0));
        assert!((failed[0] - failed[1]).abs() < 1e-12 && failed[2] == 0.0, "{failed:?}");
    }

    #[test]
    fn the_lower_one_ends_most_sets_also_far_from_the_goal() {
        // The chance that X < Y for normals with means -0.5 and -0.2 and deviations 0.3 and 0.1 is the distribution
        // function at 0.3 / sqrt(0.1): 0.8286. Sets long out of reach fail all the same.
        let parts = [part(AbilityKind::Balance, 0.3), part(AbilityKind::Strength, 0.1)];
        let failed = failures(&parts, &[-0.5, -0.2], libm::log(3.0));
        assert!((failed.iter().sum::<f64>() - 1.0).abs() < 1e-6, "{failed:?}");
        assert!((failed[1] - 0.8286).abs() < 0.01, "{failed:?}");
    }

    #[test]
    fn what_is_all_but_sure_still_has_a_likeliest_cause() {
        let parts = [part(AbilityKind::Strength, 0.1), part(AbilityKind::Line, 0.2)];
        let failed = failures(&parts, &[6.0, 4.0], 0.0);
        assert!(failed.iter().sum::<f64>() > 0.0 && failed[2] > failed[0], "{failed:?}");
    }
}
