//! Candidates: every rung of a ladder, plain, shaded or loaded, with its chances to land in a band.

use nextrung_capacity::load::loaded_units;
use nextrung_capacity::outlook::{Strain, TaskOutlook};
use nextrung_capacity::task::Task;
use nextrung_domain::band::Band;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::{LadderId, ShadingId};
use nextrung_domain::ladder::Ladder;
use nextrung_domain::measure::Unit;

use crate::hold_back::is_open;
use crate::situation::Situation;

/// Work of one planned set, in sets to the limit: planned sets stop a little short of it.
const PLANNED_WORK: f64 = 0.8;
/// Chance below which a candidate is not worth the average over its sets.
const HOPELESS: f64 = 0.02;
/// Loads are rounded to this, kilograms.
const LOAD_STEP: f64 = 1.25;
/// Most load that is proposed, as a share of the mass moved.
const MOST_LOAD: f64 = 0.5;

/// A rung with at most one shading or a load, before any score.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The rung.
    pub rung: RungIx,
    /// Its shading.
    pub shading: Option<ShadingId>,
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
    /// What candidates are ranked by: `p_band` less the cost of a shading or load.
    pub score: f64,
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
/// too, marked, so that the answer can say what they would have been.
pub fn of_ladder(at: &Situation<'_>, ladder: &LadderId) -> Vec<Candidate> {
    let mut found = Vec::new();
    let Some(content) = at.catalog().ladder(ladder) else { return found };
    for rung in at.catalog().rungs_of(ladder) {
        let is_open = is_open(at, rung);
        let make = |shading: Option<&ShadingId>, load_kg: f64, ratio: f64| Candidate {
            rung,
            shading: shading.cloned(),
            load_kg,
            task: Task::new(at.catalog(), rung, shading.map_or(&[], std::slice::from_ref), ratio),
            is_open,
        };
        found.push(make(None, 0.0, 1.0));
        for shading in &at.rung(rung).shadings {
            if can_shade(at, content, shading) {
                found.push(make(Some(shading), 0.0, 1.0));
            }
        }
        if let Some((load_kg, ratio)) = fitting_load(at, rung) {
            found.push(make(None, load_kg, ratio));
        }
    }
    found
}

fn can_shade(at: &Situation<'_>, ladder: &Ladder, shading: &ShadingId) -> bool {
    ladder.shading(shading).is_some_and(|s| s.equipment.iter().all(|e| at.profile.equipment.contains(e)))
}

/// The load, in kilograms, that puts the middle of the working band at the athlete's median on a rung that is too easy
/// without, and the mass ratio it makes. Nothing when weights are not at hand or no load from one step up fits.
fn fitting_load(at: &Situation<'_>, rung: RungIx) -> Option<(f64, f64)> {
    let r = at.rung(rung);
    let has_weight = at.profile.equipment.iter().any(|e| e.as_str() == "weight");
    let (share, _) = r.load_share.as_ref().filter(|_| has_weight && r.unit == Unit::Reps)?;
    let moved = share * at.profile.body_mass?.kg();
    let band = at.policy.working_band(r);
    let middle = (f64::from(band.low) * (f64::from(band.high) + 1.0)).sqrt();
    let plain = at.state.outlook(at.model, &Task::new(at.catalog(), rung, &[], 1.0));
    let limiting = plain.demands().map(|d| d.belief.mean).fold(f64::INFINITY, f64::min);
    let units = libm::exp(limiting.min(5.0));
    // loaded_units(units, ratio) = middle, solved for the ratio.
    let ratio = loaded_units(units, 1.0).max(0.0).mul_add(0.025, 1.0) / middle.mul_add(0.025, 1.0);
    let load_kg = libm::floor((ratio - 1.0) * moved / LOAD_STEP) * LOAD_STEP;
    (load_kg >= LOAD_STEP && load_kg <= MOST_LOAD * moved).then(|| (load_kg, (moved + load_kg) / moved))
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
    candidates.into_iter().map(|c| score_one(at, c, aim, plan, margin)).collect()
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
    let is_plain = candidate.shading.is_none() && candidate.load_kg == 0.0;
    let cost = if is_plain { 0.0 } else { at.policy.shading_cost };
    Scored {
        candidate,
        outlook,
        band,
        p_band,
        p_easy,
        p_hard: (1.0 - p_band - p_easy).max(0.0),
        score: p_band - cost,
    }
}
