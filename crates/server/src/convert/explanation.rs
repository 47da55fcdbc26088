//! Explanations to their messages.

use nextrung_api::v1;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::stop::Stop;
use nextrung_engine::why::Why;
use nextrung_prescribe::explain::{Considered, ItemExplanation};
use nextrung_prescribe::hold_back::{HoldBack, HoldBackKind};
use nextrung_prescribe::influence::Influence;
use nextrung_prescribe::reason::{Reason, ReasonCode};
use nextrung_prescribe::turn::{Turn, TurnSession};

use super::prescription::{of_endings, of_hold_back, of_issued, of_reason, of_way};
use super::{capacity, words};
use crate::names;

/// An explanation's message.
pub fn of_why(catalog: &Catalog, why: &Why) -> v1::Explanation {
    let earlier = why.since.as_ref().map(|(id, _)| format!("{}/prescriptions/{id}", why.issued.athlete));
    let items = why.explanation.items.iter().enumerate();
    v1::Explanation {
        prescription: Some(of_issued(&why.issued)),
        items: items.map(|(at, item)| of_item(at, item)).collect(),
        state: Some(v1::StateSummary {
            abilities: why.known.abilities.iter().map(|a| capacity::of_ability(catalog, a)).collect(),
            capacities: why.known.rungs.iter().map(|r| capacity::of_rung(catalog, r)).collect(),
        }),
        log_position: words::of_position(why.issued.log_position),
        sentences: why.explanation.sentences.clone(),
        turns: why.turns.iter().map(of_turn).collect(),
        earlier: earlier.unwrap_or_default(),
        since: why.since.as_ref().map(|(_, sentence)| sentence.clone()).unwrap_or_default(),
        influences: why.influences.iter().map(|one| of_influence(&why.issued.athlete, one)).collect(),
    }
}

fn of_influence(athlete: &AthleteRef, one: &Influence) -> v1::Influence {
    v1::Influence {
        set: format!("{athlete}/sets/{}", one.set),
        training_date: Some(words::of_date(one.date)),
        rung: names::of_rung(&one.rung),
        otherwise: one.otherwise.clone().unwrap_or_default(),
        compared_rung: one.compared.as_ref().map(names::of_rung).unwrap_or_default(),
        median_with: one.medians.0,
        median_without: one.medians.1,
        sentence: one.sentence.clone(),
    }
}

fn of_item(at: usize, item: &ItemExplanation) -> v1::ItemExplanation {
    v1::ItemExplanation {
        item_index: i32::try_from(at).unwrap_or(i32::MAX),
        candidates: item.candidates.iter().map(of_candidate).collect(),
        sentences: item.sentences.clone(),
    }
}

/// A candidate's message, with its chances whether it could be taken or not.
fn of_candidate(c: &Considered) -> v1::Candidate {
    v1::Candidate {
        rung: names::of_rung(&c.rung),
        shadings: c.shading.iter().map(ToString::to_string).collect(),
        load_kg: c.load_kg,
        p_band: c.p_band,
        p_easy: c.p_easy,
        p_hard: c.p_hard,
        stops: of_endings(c.reached, c.failed),
        score: c.score,
        chosen: c.is_chosen,
        excluded_by: c.held_by.first().map(|hold| of_reason(&excluded(hold))),
        hold_backs: c.held_by.iter().map(of_hold_back).collect(),
    }
}

fn of_turn(turn: &Turn) -> v1::Turn {
    let empty = v1::Turn {
        ladder: names::of_ladder(&turn.ladder),
        direction: of_way(turn.direction).into(),
        sentence: turn.sentence.clone(),
        ..v1::Turn::default()
    };
    let Some(TurnSession { sets, step, chance, next_date, next_rung, next_shading, next_load_kg }) =
        &turn.session
    else {
        return empty;
    };
    v1::Turn {
        sets: i32::from(*sets),
        done: i32::from(step.done),
        stop: words::number(&Stop::ALL, &step.stop),
        reps_in_reserve: step.reserve.map(i32::from),
        probability_per_set: *chance,
        next_date: Some(words::of_date(*next_date)),
        next_rung: names::of_rung(next_rung),
        next_shadings: next_shading.iter().map(ToString::to_string).collect(),
        next_load_kg: *next_load_kg,
        ..empty
    }
}

fn excluded(hold: &HoldBack) -> Reason {
    let code = match hold.kind {
        HoldBackKind::Pain => ReasonCode::PainAtOrOverLimit,
        HoldBackKind::Gate => ReasonCode::GateUnmet,
        HoldBackKind::Clearance => ReasonCode::ClearanceUnconfirmed,
        HoldBackKind::Equipment => ReasonCode::EquipmentMissing,
        HoldBackKind::Banned => ReasonCode::BannedByCoach,
        HoldBackKind::Capped => ReasonCode::CappedByCoach,
    };
    Reason::new(code, format!("{} {}", hold.detail, hold.opened_by), hold.figures.clone())
}
