//! Starts: newcomers, tests and doubt.

use nextrung_prescribe::hold_back::HoldBackKind;
use nextrung_prescribe::prescription::{Block, Direction, Kind};
use nextrung_prescribe::reason::ReasonCode;

use crate::ask::{assert_sound, direction, figure, has, held, held_figure, on, only, rung, says, why};
use crate::gym::{Athlete, did, tested};

#[test]
fn a_newcomer_hangs_before_pulling() {
    let wren = Athlete::new(&["pull/one-arm-pull-up"]);
    let p = wren.prescription(0);
    assert_sound(&wren, 0, &p);
    assert_eq!(p.kind, Kind::Test);
    let test = only(&p, Block::Test);
    assert_eq!(rung(test), "pull/hollow-hang");
    assert!(test.target_low <= 15 && test.target_high >= 30, "{test:#?}");
    let nothing = why(&test.reasons, ReasonCode::NothingKnown);
    assert_eq!(nothing.sentence, "Nothing is known about vertical pull yet: a short test comes first.");
    assert!(figure(nothing, "doubt") > 0.8);
    let gate = held(&p, HoldBackKind::Gate);
    assert_eq!(gate[0].rung.to_string(), "pull/pull-up");
    assert_eq!(held_figure(gate[0], "asked"), 15.0);
    assert_eq!(held_figure(gate[0], "shown"), 0.0);
    assert_eq!(p.headline, format!("Test: hollow hang, 2 x 15 to {} s.", test.target_high));
    assert!(p.directions.is_empty());
}

#[test]
fn after_the_hang_the_pull_up_is_tested() {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45)]);
    let p = wren.prescription(1);
    assert_sound(&wren, 1, &p);
    assert_eq!(p.kind, Kind::Test);
    let test = only(&p, Block::Test);
    assert!(["pull/pull-up", "pull/one-foot-supported"].contains(&rung(test).as_str()), "{test:#?}");
    assert!(says(&test.reasons, ReasonCode::DoubtTooWide));
    assert!(figure(why(&test.reasons, ReasonCode::DoubtTooWide), "doubt") > wren.policy.test_doubt);
}

#[test]
fn after_eight_pull_ups_training_starts_near_the_uneven_grip() {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 8)]);
    let p = wren.prescription(2);
    assert_sound(&wren, 2, &p);
    assert_eq!(p.kind, Kind::Training);
    let work = only(&p, Block::Working);
    assert!(["pull/chest-to-bar", "pull/uneven-grip"].contains(&rung(work).as_str()), "{work:#?}");
    assert!(work.shadings.is_empty() && work.load_kg == 0.0);
    assert_eq!(work.sets, 3);
    let best = why(&work.reasons, ReasonCode::BestInWorkingBand);
    assert_eq!(figure(best, "p-band"), work.expected.p_band);
    assert!(work.expected.p_band > 0.5);
    assert!(best.sentence.contains("3 to 5 clean reps"), "{}", best.sentence);
    let first = direction(&p, "pull");
    assert_eq!(first.direction, Direction::FirstTime);
    assert_eq!(first.reason.code, ReasonCode::FirstTime);
    let one_arm = |r: &str| r.contains("one-arm");
    assert!(p.items.iter().all(|i| !one_arm(&rung(i))), "{p:#?}");
}

#[test]
fn attempts_are_harder_than_work_and_land_at_one_or_two() {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 9)]);
    wren.log_on([3, 6, 9], &[did("pull/chest-to-bar", 5), tested("pull/chest-to-bar", 5)]);
    let p = wren.prescription(12);
    assert_sound(&wren, 12, &p);
    let (work, attempt) = (only(&p, Block::Working), only(&p, Block::Attempt));
    let find = |i: &nextrung_prescribe::prescription::Item| wren.model.catalog.find(&i.rung).expect("a rung");
    assert!(find(attempt) > find(work));
    assert!(attempt.expected.median >= 1.0 && attempt.expected.median < 4.0, "{attempt:#?}");
    assert!(attempt.target_high <= 2 && attempt.sets <= 4);
    assert_eq!(attempt.stop_rule.misses_in_a_row, Some(2));
    assert!(says(&attempt.reasons, ReasonCode::BestInAttemptBand));
}

#[test]
fn a_wide_doubt_after_a_long_time_asks_for_a_test() {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 8)]);
    wren.log(3, [did("pull/chest-to-bar", 4), did("pull/chest-to-bar", 4)]);
    assert_eq!(wren.prescription(10).kind, Kind::Training);
    let later = wren.prescription(3 + 400);
    assert_sound(&wren, 403, &later);
    let test = only(&later, Block::Test);
    let doubt = figure(why(&test.reasons, ReasonCode::DoubtTooWide), "doubt");
    assert!(doubt > wren.policy.test_doubt, "{doubt}");
}

#[test]
fn tests_end_after_a_few_sessions_even_when_they_tell_little() {
    let mut wren = Athlete::new(&["row/archer-row"]);
    for day in 0..3 {
        wren.log(
            day,
            [nextrung_domain::draft::SetDraft { planned_target: Some(2), ..tested("row/row-30", 1) }],
        );
    }
    let p = wren.prescription(4);
    assert_sound(&wren, 4, &p);
    assert!(!p.items.iter().any(|i| says(&i.reasons, ReasonCode::DoubtTooWide)), "{p:#?}");
    assert!(has(&p, Block::Working));
}

#[test]
fn without_goals_there_is_a_plain_start() {
    let wren = Athlete::new(&[]);
    let p = wren.prescription(0);
    assert_sound(&wren, 0, &p);
    let reason = why(&p.reasons, ReasonCode::LeadsToGoal);
    assert!(reason.sentence.starts_with("No goal is set: a plain start"), "{}", reason.sentence);
    for ladder in ["pull", "push-up", "one-leg-squat"] {
        assert_eq!(on(&p, Block::Test, ladder).block, Block::Test);
    }
}

#[test]
fn without_goals_what_was_trained_lately_goes_on() {
    let mut wren = Athlete::new(&[]);
    wren.log_on([0, 3, 6, 9], &[tested("row/row-67", 5), did("row/row-67", 4), did("row/row-67", 4)]);
    let p = wren.prescription(12);
    assert_sound(&wren, 12, &p);
    assert!(p.items.iter().all(|i| i.rung.ladder.as_str() == "row"), "{p:#?}");
    assert!(why(&p.reasons, ReasonCode::LeadsToGoal).sentence.contains("trained lately"));
}
