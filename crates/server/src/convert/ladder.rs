//! Ladders to their messages.

use nextrung_api::v1;
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::ids::{EquipmentId, RungRef, ShadingId};
use nextrung_domain::ladder::{Demand, Gate, GateNeed, Ladder, Rung, Shading};
use nextrung_domain::ladder_file::LadderProblem;
use nextrung_domain::profile::Clearance;
use nextrung_prescribe::policy::Policy;

use super::{band, words};
use crate::names;

/// A ladder's message.
pub fn of_ladder(catalog: &Catalog, policy: &Policy, ladder: &Ladder) -> v1::Ladder {
    v1::Ladder {
        name: names::of_ladder(&ladder.id),
        display_name: ladder.name.clone(),
        version: i32::try_from(ladder.version).unwrap_or(i32::MAX),
        side: words::of_side(ladder.side),
        about: ladder.about.clone(),
        cautions: ladder.cautions.clone(),
        shadings: ladder.shadings.iter().map(|s| of_shading(catalog, s)).collect(),
        rungs: ladder.rungs.iter().map(|r| of_rung(catalog, policy, ladder, r)).collect(),
    }
}

fn ability(catalog: &Catalog, ix: AbilityIx) -> String {
    catalog.ability(ix).id.to_string()
}

fn equipment(ids: &[EquipmentId]) -> Vec<String> {
    ids.iter().map(EquipmentId::to_string).collect()
}

fn of_shading(catalog: &Catalog, shading: &Shading) -> v1::Shading {
    v1::Shading {
        shading_id: shading.id.to_string(),
        display_name: shading.name.clone(),
        changes: shading
            .change
            .iter()
            .map(|(ix, change)| v1::DifficultyChange { ability: ability(catalog, *ix), change: *change })
            .collect(),
        change_sd: shading.sd,
        source: shading.source.clone(),
        equipment: equipment(&shading.equipment),
    }
}

fn of_rung(catalog: &Catalog, policy: &Policy, ladder: &Ladder, rung: &Rung) -> v1::Rung {
    let name = RungRef { ladder: ladder.id.clone(), rung: rung.id.clone() };
    v1::Rung {
        name: names::of_rung(&name),
        display_name: rung.name.clone(),
        unit: words::of_unit(rung.unit),
        side: words::of_side(rung.side),
        cues: rung.cues.clone(),
        cautions: rung.cautions.clone(),
        equipment: equipment(&rung.equipment),
        shadings: rung.shadings.iter().map(ShadingId::to_string).collect(),
        inverted: rung.inverted,
        load_share: rung.load_share.as_ref().map(|(share, _)| *share),
        load_source: rung.load_share.as_ref().map(|(_, source)| source.clone()).unwrap_or_default(),
        working_band: Some(band::of_band(policy.working_band(rung))),
        attempt_band: Some(band::of_band(policy.attempt_band(rung))),
        demands: rung.demands.iter().map(|d| of_demand(catalog, d)).collect(),
        gates: rung.gates.iter().map(|g| of_gate(catalog, g)).collect(),
    }
}

fn of_demand(catalog: &Catalog, demand: &Demand) -> v1::Demand {
    v1::Demand {
        ability: ability(catalog, demand.ability),
        difficulty: demand.difficulty,
        difficulty_sd: demand.sd,
        basis: words::of_basis(demand.basis),
        source: demand.source.clone(),
    }
}

fn of_gate(catalog: &Catalog, gate: &Gate) -> v1::Gate {
    let condition = match &gate.need {
        GateNeed::Units { rung, at_least } => v1::gate::Condition::Rung(v1::RungGate {
            rung: names::of_rung(rung),
            at_least: i32::from(*at_least),
            unit: catalog.find(rung).map_or(0, |ix| words::of_unit(catalog.rung(ix).unit)),
        }),
        GateNeed::Clearance(clearance) => {
            v1::gate::Condition::Clearance(words::number(&Clearance::ALL, clearance))
        }
    };
    v1::Gate { condition: Some(condition), why: gate.why.clone() }
}

/// A problem's message.
pub fn of_problem(problem: LadderProblem) -> v1::LadderProblem {
    let LadderProblem { file, line, key, found, expected, suggestion } = problem;
    v1::LadderProblem {
        file_name: file,
        line: i32::try_from(line).unwrap_or(i32::MAX),
        key,
        found,
        expected,
        suggestion,
    }
}
