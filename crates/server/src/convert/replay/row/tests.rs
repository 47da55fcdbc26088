//! Rows of a replay, tested.

use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::Unit;

use super::*;

fn row() -> Row {
    Row {
        athlete: "wren".to_owned(),
        set: "s-1".to_owned(),
        date: CivilDate::from_parts(2026, 3, 2).unwrap(),
        session: 2,
        number: 3,
        arrived_at_ms: -1,
        rung: "pull/pull-up".to_owned(),
        unit: Unit::HoldSeconds,
        purpose: Purpose::Test,
        target: Some(12),
        done: 7,
        stop: Stop::Balance,
        forecaster: 1,
        top: 12,
        log_ending: 1.5,
        log_count: 1.25,
        failed: [0.1, 0.2, 0.3],
        whole: None,
    }
}

#[test]
fn a_row_is_told_with_full_names() {
    let told = of_row(&RosterId::new("hall").unwrap(), &["service", "climatology"], &row());
    let wanted = v1::ReplayRow {
        set: "rosters/hall/athletes/wren/sets/s-1".to_owned(),
        training_date: Some(v1::Date { year: 2026, month: 3, day: 2 }),
        session: 2,
        set_number: 3,
        arrival_time: Some(prost_types::Timestamp { seconds: -1, nanos: 999_000_000 }),
        rung: "ladders/pull/rungs/pull-up".to_owned(),
        unit: v1::Unit::HoldSeconds.into(),
        purpose: v1::Purpose::Test.into(),
        planned_target: Some(12),
        done: 7,
        stop: v1::Stop::Balance.into(),
        forecaster: "climatology".to_owned(),
        top: 12,
        log_score: 1.5,
        log_score_of_count: 1.25,
        probability_strength: 0.1,
        probability_balance: 0.2,
        probability_line: 0.3,
        whole: None,
    };
    assert_eq!(told, wanted);
}

#[test]
fn what_only_a_whole_set_shows_keeps_its_order() {
    let whole = WholeScore {
        ranked: 0.4,
        rank: 0.6,
        edges: [Some((0.9, true)), None],
        intervals: [(0.51, false), (0.82, true), (0.97, true)],
        middle: (3, 9),
    };
    let told = of_whole(&whole);
    assert_eq!((told.ranked, told.rank, told.high), (0.4, 0.6, None));
    assert_eq!(told.low, Some(v1::ForetoldEvent { probability: 0.9, came: true }));
    let intervals: Vec<_> = told.intervals.iter().map(|i| (i.level, i.probability, i.held)).collect();
    assert_eq!(intervals, [(0.5, 0.51, false), (0.8, 0.82, true), (0.95, 0.97, true)]);
    assert_eq!(told.middle, Some(v1::Interval { level: 0.8, low: 3.0, high: 9.0 }));
}
