//! Tests of the pages of prescriptions.

use super::*;

fn reason(sentence: &str) -> v1::Reason {
    v1::Reason { sentence: sentence.to_owned(), ..v1::Reason::default() }
}

fn made() -> v1::Prescription {
    let rung = "ladders/pull/rungs/pull-up".to_owned();
    let item = v1::PrescribedItem {
        block: i32::from(v1::Block::Working),
        rung: rung.clone(),
        shadings: vec!["light-band".to_owned()],
        sets: 4,
        target_low: 3,
        target_high: 5,
        unit: i32::from(v1::Unit::Reps),
        rest_seconds: 180,
        stop_rule: Some(v1::StopRule {
            sentence: "Stop after two misses in a row.".to_owned(),
            ..v1::StopRule::default()
        }),
        expected: Some(v1::Expectation {
            p_band: 0.72,
            median_units: 4.12,
            interval: Some(v1::Interval { level: 0.8, low: 3.2, high: 5.3 }),
            ..v1::Expectation::default()
        }),
        reasons: vec![reason("Pull-up is the likeliest.")],
        cues: vec!["Chin over the bar.".to_owned(), "No swing.".to_owned()],
        ..v1::PrescribedItem::default()
    };
    v1::Prescription {
        name: "rosters/hall/athletes/wren/prescriptions/p-1".to_owned(),
        date: Some(v1::Date { year: 2026, month: 11, day: 23 }),
        log_position: 42,
        policy_version: "policy-1".to_owned(),
        model_version: "model-1".to_owned(),
        kind: i32::from(v1::PrescriptionKind::Training),
        headline: "Train: pull-up.".to_owned(),
        items: vec![item],
        goal_statuses: vec![v1::GoalStatus {
            rung,
            sentence: "Nearly there.".to_owned(),
            ..v1::GoalStatus::default()
        }],
        cautions: vec!["Not medical advice.".to_owned()],
        reasons: vec![reason("Bent arms today.")],
        ..v1::Prescription::default()
    }
}

#[test]
fn a_page_goes_from_the_headline_to_the_cautions() {
    let expected = "\
hall/wren, Monday 23 November 2026: training
Train: pull-up.

     part     what                              dose   rest   could do (80 %)  chance
  1  working  pull/pull-up, light-band  4 x 3-5 reps  3 min  4.1 (3.2 to 5.3)    72 %

1  pull/pull-up, light-band
   why   Pull-up is the likeliest.
   stop  Stop after two misses in a row.
   cues  Chin over the bar. No swing.

Goals
  - Nearly there.

The day
  - Bent arms today.

Cautions
  - Not medical advice.

hall/wren/p-1; from log position 42, policy-1, model-1
";
    assert_eq!(page(&made(), "hall/wren", &Lexicon::default(), Layout::PLAIN), expected);
}

#[test]
fn a_rest_day_has_no_table() {
    let rest = v1::Prescription {
        items: Vec::new(),
        kind: i32::from(v1::PrescriptionKind::Rest),
        headline: "Rest.".to_owned(),
        ..made()
    };
    let page = page(&rest, "hall/wren", &Lexicon::default(), Layout::PLAIN);
    assert!(page.starts_with("hall/wren, Monday 23 November 2026: rest\nRest.\n\nGoals\n"), "{page}");
}

#[test]
fn a_list_has_the_newest_names() {
    let expected = "  day         kind      what             prescription\n  \
                    2026-11-23  training  Train: pull-up.  hall/wren/p-1\n";
    assert_eq!(list(&[made()], Layout::PLAIN), expected);
    assert!(list(&[], Layout::PLAIN).contains("nextrung prescribe"));
}
