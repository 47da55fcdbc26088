//! Candidates: every rung of a ladder, plain, shaded or loaded, with its chances to land in a band.

use nextrung_capacity::load::loaded_units;
use nextrung_capacity::outlook::{Strain, TaskOutlook};
use nextrung_capacity::task::Task;
use nextrung_domain::band::Band;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::{LadderId, ShadingId};
use nextrung_domain::ladder::Shading;
use nextrung_domain::measure::Unit;

use crate::hold_back::{has, is_open};
use crate::situation::Situation;

/// Work of one planned set, in sets to the limit: planned sets stop a little short of it.
const PLANNED_WORK: f64 = 0.8;
/// Chance below which a candidate is not worth the average over its sets.
const HOPELESS: f64 = 0.02;
/// Loads are rounded to this, kilograms.
const LOAD_STEP: f64 = 1.25;
/// Least load that is worth the trouble, kilograms.
const LEAST_LOAD: f64 = 2.5;
/// Most load that is proposed, as a share of the mass moved.
const MOST_LOAD: f64 = 0.5;

/// A rung with at most one shading or a load, before any score.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The rung.
    pub rung: RungIx,
    /// Its shading.
    pub shading: Option<ShadingId>,
    /// What the shading adds to the difficulty over all abilities, ln units; 0 without one.
    pub change: f64,
    /// Kilograms added.
    pub load_kg: f64,
    /// The task it makes.
    pub task: Task,
    /// True when nothing holds the rung back.
    pub is_open: bool,
}

/// A candidate with its chances.
#[derive(Debug, Clone)]
pub struct Scored {
    /// The candidate.
    pub candidate: Candidate,
    /// What is expected of a fresh set.
    pub outlook: TaskOutlook,
    /// The band it was scored against.
    pub band: Band,
    /// Chance to land in the band, averaged over the planned sets.
    pub p_band: f64,
    /// Chance to be above it.
    pub p_easy: f64,
    /// Chance to be below it.
    pub p_hard: f64,
    /// What candidates are ranked by: `p_band` less the cost of a shading, a load or another unit than the goal's.
    pub score: f64,
}

impl Candidate {
    /// True without shading and load.
    pub fn is_plain(&self) -> bool {
        self.shading.is_none() && self.load_kg == 0.0
    }
}

impl Scored {
    /// Mean of ln units on the ability that limits most, as if without load.
    pub fn limiting_mean(&self) -> f64 {
        self.outlook.demands().map(|d| d.belief.mean).fold(f64::INFINITY, f64::min)
    }
}

/// Which band of a rung is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aim {
    /// The working band.
    Working,
    /// The attempt band.
    Attempt,
}

/// Every candidate of a ladder that the athlete has the equipment to shade, easy rungs first; held-back rungs are there
/// too, marked, so that the answer can say what they would have been. Rungs that belong to another side of the training
/// than their ladder are left to the other day, unless they are the goal.
pub fn of_ladder(at: &Situation<'_>, ladder: &LadderId) -> Vec<Candidate> {
    let mut found = Vec::new();
    let Some(content) = at.catalog().ladder(ladder) else { return found };
    for rung in at.catalog().rungs_of(ladder) {
        if at.rung(rung).side != content.side && !at.is_goal(rung) {
            continue;
        }
        let is_open = is_open(at, rung);
        let make = |shading: Option<&Shading>, load_kg: f64, ratio: f64| Candidate {
            rung,
            shading: shading.map(|s| s.id.clone()),
            change: shading.map_or(0.0, |s| s.change.iter().map(|(_, change)| change).sum()),
            load_kg,
            task: Task::new(at.catalog(), rung, shading.map_or(&[], |s| std::slice::from_ref(&s.id)), ratio),
            is_open,
        };
        found.push(make(None, 0.0, 1.0));
        let shadings = at.rung(rung).shadings.iter().filter_map(|id| content.shading(id));
        for shading in shadings.filter(|s| has(at, &s.equipment)) {
            found.push(make(Some(shading), 0.0, 1.0));
        }
        if let Some((load_kg, ratio)) = fitting_load(at, rung) {
            found.push(make(None, load_kg, ratio));
        }
    }
    found
}

/// The load, in kilograms, that puts the middle of the working band at the athlete's median on a rung that is too easy
/// without, and the mass ratio it makes. Nothing when weights are not at hand (and a belt to hang them from, where the
/// body hangs or is propped up), the body mass is not known, or no sensible load fits.
fn fitting_load(at: &Situation<'_>, rung: RungIx) -> Option<(f64, f64)> {
    let r = at.rung(rung);
    let owns = |word: &str| at.profile.equipment.iter().any(|e| e.as_str() == word);
    let hangs = r.equipment.iter().any(|e| ["bar", "rings", "parallel-bars"].contains(&e.as_str()));
    let can_load = owns("weight") && (!hangs || owns("dip-belt")) && r.unit == Unit::Reps;
    let (share, _) = r.load_share.as_ref().filter(|_| can_load)?;
    let moved = share * at.profile.body_mass?.kg();
    let band = at.policy.working_band(r);
    let middle = (f64::from(band.low) * (f64::from(band.high) + 1.0)).sqrt();
    let plain = at.state.outlook(at.model, &Task::new(at.catalog(), rung, &[], 1.0));
    let limiting = plain.demands().map(|d| d.belief.mean).fold(f64::INFINITY, f64::min);
    let units = libm::exp(limiting.min(5.0));
    // loaded_units(units, ratio) = middle, solved for the ratio.
    let ratio = loaded_units(units, 1.0).max(0.0).mul_add(0.025, 1.0) / middle.mul_add(0.025, 1.0);
    let load_kg = libm::floor((ratio - 1.0) * moved / LOAD_STEP) * LOAD_STEP;
    (load_kg >= LEAST_LOAD && load_kg <= MOST_LOAD * moved).then(|| (load_kg, (moved + load_kg) / moved))
}

/// The work carried into each of `sets` planned sets, on average over them by `f`.
pub fn mean_over_sets<const N: usize>(
    at: &Situation<'_>,
    (sets, rest_seconds): (u16, u16),
    mut f: impl FnMut(f64) -> [f64; N],
) -> [f64; N] {
    let fade = libm::exp(-f64::from(rest_seconds) / at.model.parameters.recovery_seconds);
    let mut total = [0.0; N];
    let mut work = 0.0;
    for _ in 0..sets {
        for (sum, value) in total.iter_mut().zip(f(work)) {
            *sum += value;
        }
        work = (work + PLANNED_WORK) * fade;
    }
    total.map(|sum| sum / f64::from(sets.max(1)))
}

/// Scores candidates against a band over the planned sets with their fatigue, holding `margin` in hand.
pub fn score(
    at: &Situation<'_>,
    candidates: Vec<Candidate>,
    aim: Aim,
    plan: (u16, u16),
    margin: f64,
) -> Vec<Scored> {
    let unit = candidates.first().and_then(|c| wanted_unit(at, c.rung));
    let one = |c: Candidate| {
        let cost = cost(at, &c, unit);
        let mut scored = score_one(at, c, aim, plan, margin);
        scored.score -= cost;
        scored
    };
    candidates.into_iter().map(one).collect()
}

/// Takes another number of planned sets into a candidate's chances and score.
pub(crate) fn rescore(at: &Situation<'_>, scored: &mut Scored, plan: (u16, u16), margin: f64) {
    let cost = scored.p_band - scored.score;
    let again = score_one(at, scored.candidate.clone(), Aim::Working, plan, margin);
    *scored = Scored { score: again.p_band - cost, ..again };
}

/// Scores one candidate against its working band, with nothing held in hand and no cost.
pub(crate) fn score_plainly(at: &Situation<'_>, candidate: Candidate, plan: (u16, u16)) -> Scored {
    score_one(at, candidate, Aim::Working, plan, 0.0)
}

/// The unit of the hardest goal on a rung's ladder, else of its last working rung.
fn wanted_unit(at: &Situation<'_>, rung: RungIx) -> Option<Unit> {
    let ladder = at.catalog().ladder_number(rung);
    let goals = at.profile.goals.iter().filter_map(|g| at.catalog().find(&g.rung));
    let goal = goals.filter(|g| at.catalog().ladder_number(*g) == ladder).max();
    goal.or_else(|| at.history.ladders.get(&ladder).map(|n| n.rung)).map(|ix| at.rung(ix).unit)
}

fn cost(at: &Situation<'_>, candidate: &Candidate, unit: Option<Unit>) -> f64 {
    let shading = if candidate.shading.is_some() { at.policy.shading_cost } else { 0.0 };
    let load = if candidate.load_kg > 0.0 { at.policy.load_cost } else { 0.0 };
    let is_other = unit.is_some_and(|u| u != at.rung(candidate.rung).unit);
    shading + load + if is_other { at.policy.unit_cost } else { 0.0 }
}

fn score_one(at: &Situation<'_>, candidate: Candidate, aim: Aim, plan: (u16, u16), margin: f64) -> Scored {
    let rung = at.rung(candidate.rung);
    let band = match aim {
        Aim::Working => at.policy.working_band(rung),
        Aim::Attempt => at.policy.attempt_band(rung),
    };
    let outlook = at.state.outlook(at.model, &candidate.task);
    let chances = |work: f64| {
        let (inside, above) = outlook.in_and_above(band, Strain { work, margin });
        [inside, above]
    };
    let fresh = chances(0.0);
    let [p_band, p_easy] =
        if fresh[0] < HOPELESS && fresh[1] < 0.5 { fresh } else { mean_over_sets(at, plan, chances) };
    Scored {
        candidate,
        outlook,
        band,
        p_band,
        p_easy,
        p_hard: (1.0 - p_band - p_easy).max(0.0),
        score: p_band,
    }
}
