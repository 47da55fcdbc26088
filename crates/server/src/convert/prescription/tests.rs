//! Prescriptions through the contract and back, tested.

use std::fmt::Debug;

use serde::de::DeserializeOwned;
use serde_json::Value;

use super::super::words::tests::words_of;
use super::*;

/// Each word of the contract is one of the domain's and comes back as the same number. That none of the domain's is left
/// out is what the exhaustive matches see to.
fn comes_back<E, T>(prefix: &str, name: fn(&E) -> &'static str, convert: impl Fn(T) -> i32)
where
    E: TryFrom<i32>,
    T: DeserializeOwned + Debug,
{
    let words = words_of(prefix, name);
    assert!(words.len() >= 4, "{words:?}");
    for (number, word) in words {
        let member: T = serde_json::from_value(Value::String(word)).unwrap();
        let text = format!("{member:?}");
        assert_eq!(convert(member), number, "{text}");
    }
}

#[test]
fn every_word_of_a_prescription_comes_back_as_its_number() {
    comes_back("PRESCRIPTION_KIND_", v1::PrescriptionKind::as_str_name, |kind| of_kind(kind).into());
    comes_back("BLOCK_", v1::Block::as_str_name, |block| of_block(block).into());
    comes_back("REASON_CODE_", v1::ReasonCode::as_str_name, |code| {
        of_reason(&Reason::new(code, "", Vec::new())).code
    });
    comes_back("DIRECTION_", v1::Direction::as_str_name, |direction| {
        let reason = Reason::new(nextrung_prescribe::reason::ReasonCode::Hold, "", Vec::new());
        let ladder = nextrung_domain::ids::LadderId::new("pull").unwrap();
        of_direction(&LadderDirection { ladder, direction, previous: None, rung: None, reason }).direction
    });
    let rung = || nextrung_domain::ids::RungRef::parse("pull/pull-up").unwrap();
    comes_back("HOLD_BACK_KIND_", v1::HoldBackKind::as_str_name, |kind| {
        let (detail, opened_by) = (String::new(), String::new());
        of_hold_back(&HoldBack { rung: rung(), kind, detail, opened_by, figures: Vec::new() }).kind
    });
    comes_back("GOAL_STATE_", v1::GoalState::as_str_name, |state| {
        let sentence = String::new();
        let (by, median, p_one, p_band, next) = (None, 0.0, 0.0, 0.0, None);
        of_goal(&GoalStatus { rung: rung(), by, state, median, p_one, p_band, next, sentence }).state
    });
}

#[test]
fn endings_stand_in_the_order_of_the_stops() {
    let found = of_endings(0.4, [0.3, 0.2, 0.1]);
    let stops: Vec<i32> = found.iter().map(|s| s.stop).collect();
    assert_eq!(stops, [1, 2, 3, 4]);
    assert_eq!(found.iter().map(|s| s.probability).collect::<Vec<_>>(), [0.4, 0.3, 0.2, 0.1]);
}
