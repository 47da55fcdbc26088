//! Explanations to their messages.

use nextrung_api::v1;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::ids::AthleteRef;
use nextrung_engine::why::Why;
use nextrung_prescribe::explain::{Considered, ItemExplanation};
use nextrung_prescribe::hold_back::{HoldBack, HoldBackKind};
use nextrung_prescribe::influence::Influence;
use nextrung_prescribe::reason::{Reason, ReasonCode};

use super::prescription::{of_endings, of_issued, of_reason};
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
        turns: Vec::new(),
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

/// A candidate's message; one that was excluded has no scores.
fn of_candidate(c: &Considered) -> v1::Candidate {
    let mut message = v1::Candidate {
        rung: names::of_rung(&c.rung),
        shadings: c.shading.iter().map(ToString::to_string).collect(),
        load_kg: c.load_kg,
        excluded_by: c.held_by.as_ref().map(|hold| of_reason(&excluded(hold))),
        ..v1::Candidate::default()
    };
    if c.held_by.is_none() {
        message.p_band = c.p_band;
        message.p_easy = c.p_easy;
        message.p_hard = c.p_hard;
        message.stops = of_endings(c.reached, c.failed);
        message.score = c.score;
        message.chosen = c.is_chosen;
    }
    message
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
