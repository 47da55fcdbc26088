//! Prescriptions to their messages.

use nextrung_api::v1;
use nextrung_engine::issued::Issued;
use nextrung_prescribe::hold_back::{HoldBack, HoldBackKind};
use nextrung_prescribe::prescription::{
    Block, Direction, Expectation, GoalState, GoalStatus, Item, Kind, LadderDirection, StopRule,
};
use nextrung_prescribe::reason::{Figure, Reason};

use super::words;
use crate::names;

mod code;

/// A prescription's message.
pub fn of_issued(issued: &Issued) -> v1::Prescription {
    let p = &issued.prescription;
    let name = issued.id.as_ref().map(|id| format!("{}/prescriptions/{id}", issued.athlete));
    v1::Prescription {
        name: name.unwrap_or_default(),
        date: Some(words::of_date(p.date)),
        issue_time: Some(words::of_moment(issued.issued_at_ms)),
        log_position: words::of_position(issued.log_position),
        ladder_versions: p
            .ladder_versions
            .iter()
            .map(|(id, version)| v1::LadderVersion {
                ladder: names::of_ladder(id),
                version: i32::try_from(*version).unwrap_or(i32::MAX),
            })
            .collect(),
        policy_version: p.policy_version.clone(),
        model_version: p.model_version.clone(),
        kind: of_kind(p.kind).into(),
        headline: p.headline.clone(),
        items: p.items.iter().map(of_item).collect(),
        hold_backs: p.hold_backs.iter().map(of_hold_back).collect(),
        directions: p.directions.iter().map(of_direction).collect(),
        goal_statuses: p.goals.iter().map(of_goal).collect(),
        cautions: p.cautions.clone(),
        reasons: p.reasons.iter().map(of_reason).collect(),
    }
}

pub(super) fn of_kind(kind: Kind) -> v1::PrescriptionKind {
    match kind {
        Kind::Training => v1::PrescriptionKind::Training,
        Kind::Test => v1::PrescriptionKind::Test,
        Kind::Rest => v1::PrescriptionKind::Rest,
        Kind::HeldBack => v1::PrescriptionKind::HeldBack,
    }
}

pub(super) fn of_block(block: Block) -> v1::Block {
    match block {
        Block::BalancePractice => v1::Block::BalancePractice,
        Block::Attempt => v1::Block::Attempt,
        Block::Working => v1::Block::Working,
        Block::Test => v1::Block::Test,
    }
}

fn of_item(item: &Item) -> v1::PrescribedItem {
    v1::PrescribedItem {
        block: of_block(item.block).into(),
        rung: names::of_rung(&item.rung),
        shadings: item.shadings.iter().map(ToString::to_string).collect(),
        load_kg: item.load_kg,
        sets: i32::from(item.sets),
        target_low: i32::from(item.target_low),
        target_high: i32::from(item.target_high),
        unit: words::of_unit(item.unit),
        rest_seconds: i32::from(item.rest_seconds),
        stop_rule: Some(of_stop_rule(&item.stop_rule)),
        expected: Some(of_expectation(&item.expected)),
        reasons: item.reasons.iter().map(of_reason).collect(),
        cues: item.cues.clone(),
    }
}

fn of_stop_rule(rule: &StopRule) -> v1::StopRule {
    v1::StopRule {
        sentence: rule.sentence.clone(),
        misses_in_a_row: rule.misses_in_a_row.map(i32::from),
        pain_at_or_over: i32::from(rule.pain_at_or_over),
    }
}

fn of_expectation(e: &Expectation) -> v1::Expectation {
    v1::Expectation {
        p_band: e.p_band,
        p_easy: e.p_easy,
        p_hard: e.p_hard,
        median_units: e.median,
        interval: Some(v1::Interval { level: 0.8, low: e.interval.0, high: e.interval.1 }),
        stops: of_endings(e.reached, e.failed),
    }
}

/// How a set is expected to end, in the order of the stops.
pub fn of_endings(reached: f64, failed: [f64; 3]) -> Vec<v1::StopProbability> {
    let stops = [v1::Stop::Target, v1::Stop::Strength, v1::Stop::Balance, v1::Stop::Line];
    let chances = [reached, failed[0], failed[1], failed[2]];
    let pairs = stops.into_iter().zip(chances);
    pairs.map(|(stop, probability)| v1::StopProbability { stop: stop.into(), probability }).collect()
}

/// A hold-back's message.
pub fn of_hold_back(hold: &HoldBack) -> v1::HoldBack {
    let kind = match hold.kind {
        HoldBackKind::Pain => v1::HoldBackKind::Pain,
        HoldBackKind::Gate => v1::HoldBackKind::Gate,
        HoldBackKind::Clearance => v1::HoldBackKind::Clearance,
        HoldBackKind::Equipment => v1::HoldBackKind::Equipment,
        HoldBackKind::Banned => v1::HoldBackKind::Banned,
        HoldBackKind::Capped => v1::HoldBackKind::Capped,
    };
    v1::HoldBack {
        rung: names::of_rung(&hold.rung),
        kind: kind.into(),
        opened_by: hold.opened_by.clone(),
        detail: hold.detail.clone(),
        figures: hold.figures.iter().map(of_figure).collect(),
    }
}

/// Where a ladder goes, as the contract has it.
pub fn of_way(direction: Direction) -> v1::Direction {
    match direction {
        Direction::MoveUp => v1::Direction::MoveUp,
        Direction::Hold => v1::Direction::Hold,
        Direction::StepBack => v1::Direction::StepBack,
        Direction::FirstTime => v1::Direction::FirstTime,
        Direction::Return => v1::Direction::Return,
    }
}

fn of_direction(d: &LadderDirection) -> v1::LadderDirection {
    v1::LadderDirection {
        ladder: names::of_ladder(&d.ladder),
        direction: of_way(d.direction).into(),
        previous_rung: d.previous.as_ref().map(names::of_rung).unwrap_or_default(),
        rung: d.rung.as_ref().map(names::of_rung).unwrap_or_default(),
        reason: Some(of_reason(&d.reason)),
    }
}

fn of_goal(goal: &GoalStatus) -> v1::GoalStatus {
    let state = match goal.state {
        GoalState::Ahead => v1::GoalState::Ahead,
        GoalState::InAttempts => v1::GoalState::InAttempts,
        GoalState::Reached => v1::GoalState::Reached,
        GoalState::HeldBack => v1::GoalState::HeldBack,
    };
    v1::GoalStatus {
        rung: names::of_rung(&goal.rung),
        by_date: goal.by.map(words::of_date),
        state: state.into(),
        median_units: goal.median,
        p_one_unit: goal.p_one,
        p_band_low: goal.p_band,
        next_goal_rung: goal.next.as_ref().map(names::of_rung).unwrap_or_default(),
        sentence: goal.sentence.clone(),
    }
}

/// A reason's message.
pub fn of_reason(reason: &Reason) -> v1::Reason {
    v1::Reason {
        code: code::of_code(reason.code).into(),
        sentence: reason.sentence.clone(),
        figures: reason.figures.iter().map(of_figure).collect(),
    }
}

pub(super) fn of_figure(figure: &Figure) -> v1::Figure {
    v1::Figure { name: figure.name.to_string(), value: figure.value, unit: figure.unit.to_string() }
}

#[cfg(test)]
mod tests;
