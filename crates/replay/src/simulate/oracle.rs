//! Oracle: chooses working sets by the truth. It keeps to the equipment and asks no gates: it knows what would be shown.
//! Beside working sets it leaves the service's session as it is, tests excepted.

use nextrung_capacity::task::Task;
use nextrung_domain::band::Band;
use nextrung_domain::ids::LadderId;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::Purpose;
use nextrung_prescribe::candidate::{Candidate, of_ladder};
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::prescription::{Block, Item};
use nextrung_prescribe::situation::Situation;

use crate::simulate::band_chance::in_band;
use crate::simulate::chooser::Plan;
use crate::simulate::trainee::{Trainee, Work};
use crate::simulate::truth::Truth;

/// Sets the oracle gives: as the service on a usual day.
const SETS: u16 = 4;

/// What an oracle may be kept to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trait {
    /// No shading and no load.
    pub is_plain: bool,
    /// The rung's unit.
    pub unit: Unit,
}

/// In place of a working or test item: the candidate of its ladder that truly lands in band most often, among those the
/// athlete has the equipment for and that pass. Nothing for other items, and when none passes.
pub fn replace(trainee: &Trainee<'_>, item: &Item, pass: impl Fn(Trait) -> bool) -> Option<Plan> {
    if !matches!(item.block, Block::Working | Block::Test) {
        return None;
    }
    let (_, candidate) = best(trainee, &item.rung.ladder, pass)?;
    let policy = &trainee.setup.policy;
    let band = policy.working_band(trainee.setup.model.catalog.rung(candidate.rung));
    let work = Work {
        purpose: Purpose::Working,
        rung: candidate.rung,
        shadings: candidate.shading.into_iter().collect(),
        load_kg: candidate.load_kg,
        target: Some(band.high),
        rest_seconds: policy.strength_rest,
    };
    Some(Plan { work, sets: SETS, misses: None })
}

/// The candidate of a ladder that truly lands in band most often, with its chance, among those the athlete has the equipment
/// for and that pass; the first of equals. Nothing when none passes.
pub fn best(
    trainee: &Trainee<'_>,
    ladder: &LadderId,
    pass: impl Fn(Trait) -> bool,
) -> Option<(f64, Candidate)> {
    trainee.ask(|at| {
        let mut best: Option<(f64, Candidate)> = None;
        for candidate in of_ladder(at, ladder) {
            let is_plain = candidate.shading.is_none() && candidate.load_kg == 0.0;
            let unit = at.rung(candidate.rung).unit;
            if !pass(Trait { is_plain, unit }) || !has_equipment(at, &candidate) {
                continue;
            }
            let band = at.policy.working_band(at.rung(candidate.rung));
            let chance = chance(&trainee.truth, (&candidate.task, band), at.policy);
            if best.as_ref().is_none_or(|(top, _)| chance > *top) {
                best = Some((chance, candidate));
            }
        }
        best
    })
}

/// The true chance that a working set of a task lands in its band now, on average over the sets of a session.
pub fn chance(truth: &Truth, (task, band): (&Task, Band), policy: &Policy) -> f64 {
    in_band(truth, task, band, (SETS, policy.strength_rest))
}

fn has_equipment(at: &Situation<'_>, candidate: &Candidate) -> bool {
    at.rung(candidate.rung).equipment.iter().all(|e| at.profile.equipment.contains(e))
}
