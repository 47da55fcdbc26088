//! Gate reviews to their messages.

use nextrung_api::v1;
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::profile::{Clearance, Confirmation};
use nextrung_engine::gates::ReviewedGates;
use nextrung_prescribe::gate_review::confirmations::ConfirmationRecord;
use nextrung_prescribe::gate_review::{GateStatus, Means, Need, UnitsNeed};

use super::words;
use crate::names;

/// A gate review's message.
pub fn of_review(found: &ReviewedGates) -> v1::GateReview {
    v1::GateReview {
        rung: names::of_rung(&found.review.rung),
        date: Some(words::of_date(found.date)),
        log_position: words::of_position(found.position),
        gates: found.review.gates.iter().map(|gate| of_gate(&found.athlete, gate)).collect(),
        confirmations: found.confirmations.iter().map(of_record).collect(),
        sentences: found.review.sentences.clone(),
        cautions: found.review.cautions.clone(),
    }
}

fn of_gate(athlete: &AthleteRef, gate: &GateStatus) -> v1::GateStatus {
    let (need, confirmation) = match &gate.need {
        Need::Units(units) => (v1::gate_status::Need::Units(of_units(athlete, units)), None),
        Need::Clearance { clearance, confirmation } => (
            v1::gate_status::Need::Clearance(words::number(&Clearance::ALL, clearance)),
            confirmation.as_ref().map(of_confirmation),
        ),
    };
    v1::GateStatus {
        gated_rung: names::of_rung(&gate.gated),
        need: Some(need),
        why: gate.why.clone(),
        is_met: gate.met_by.is_some(),
        confirmation,
        sentence: gate.sentence.clone(),
        met_by: gate.met_by.map_or(0, |means| of_means(means).into()),
    }
}

fn of_means(means: Means) -> v1::GateMeans {
    match means {
        Means::Shown => v1::GateMeans::Shown,
        Means::Expected => v1::GateMeans::Expected,
        Means::Outgrown => v1::GateMeans::Outgrown,
        Means::Confirmed => v1::GateMeans::Confirmed,
    }
}

fn of_units(athlete: &AthleteRef, need: &UnitsNeed) -> v1::UnitsNeed {
    let shown = need.shown.as_ref();
    v1::UnitsNeed {
        rung: names::of_rung(&need.rung),
        at_least: i32::from(need.at_least),
        best: i32::from(need.best),
        shown_by: shown.map(|(set, _)| format!("{athlete}/sets/{set}")).unwrap_or_default(),
        shown_date: shown.map(|(_, date)| words::of_date(*date)),
        probability_now: need.chance,
    }
}

fn of_confirmation(given: &Confirmation) -> v1::Confirmation {
    v1::Confirmation {
        clearance: words::number(&Clearance::ALL, &given.clearance),
        confirmed_date: Some(words::of_date(given.on)),
        confirmed_by: given.by.clone(),
    }
}

fn of_record(record: &ConfirmationRecord) -> v1::ConfirmationRecord {
    v1::ConfirmationRecord {
        confirmation: Some(of_confirmation(&record.confirmation)),
        sequence: words::of_position(record.sequence),
        ended_sequence: record.ended.map(words::of_position).unwrap_or_default(),
    }
}
