//! Days: sides, rest, weekdays.

use nextrung_domain::draft::SetDraft;
use nextrung_domain::ids::RungRef;
use nextrung_domain::ladder::Side;
use nextrung_domain::profile::Weekdays;
use nextrung_prescribe::hold_back::HoldBackKind;
use nextrung_prescribe::prescription::{Block, Direction, Kind, Prescription};
use nextrung_prescribe::reason::ReasonCode;

use crate::ask::{assert_sound, direction, figure, held, says, why};
use crate::gym::{Athlete, did, tested};

fn both_sides() -> Athlete {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up", "front-lever/full"]);
    for day in [-14, -10, -6] {
        wren.log(day, pulls());
        wren.log(day + 2, levers());
    }
    wren
}

fn pulls() -> Vec<SetDraft> {
    vec![
        tested("pull/hollow-hang", 60),
        tested("pull/pull-up", 8),
        did("pull/pull-up", 5),
        did("pull/pull-up", 5),
    ]
}

fn levers() -> Vec<SetDraft> {
    vec![tested("front-lever/tuck", 12), did("front-lever/tuck", 10), did("front-lever/tuck", 10)]
}

/// Sides of the strength work of a day.
fn sides(wren: &Athlete, p: &Prescription) -> Vec<Side> {
    let mut found: Vec<Side> = p
        .items
        .iter()
        .filter(|i| i.block != Block::BalancePractice)
        .map(|i| wren.model.catalog.ladder(&i.rung.ladder).expect("a ladder").side)
        .collect();
    found.sort();
    found.dedup();
    found
}

#[test]
fn bent_and_straight_arms_alternate_over_two_weeks() {
    let mut wren = both_sides();
    let mut trained: Vec<Side> = Vec::new();
    for day in 0..14 {
        let p = wren.prescription(day);
        assert_sound(&wren, day, &p);
        let today = sides(&wren, &p);
        assert!(today.len() <= 1, "one arm side a day: {p:#?}");
        if let Some(side) = today.first() {
            trained.push(*side);
            wren.log(day, if *side == Side::BentArm { pulls() } else { levers() });
        }
    }
    assert!(trained.len() >= 9, "{trained:?}");
    assert!(trained.windows(2).all(|w| w[0] != w[1]), "{trained:?}");
}

#[test]
fn the_side_of_the_day_is_explained() {
    let mut wren = both_sides();
    wren.log(-1, levers());
    let p = wren.prescription(0);
    let why = why(&p.reasons, ReasonCode::SideAlternation);
    assert_eq!(why.sentence, "Bent-arm day: the straight-arm side was trained yesterday.");
    assert_eq!(figure(why, "days-since-other"), 1.0);
}

#[test]
fn a_side_that_hurts_altogether_gives_its_day_to_the_other() {
    let mut wren = both_sides();
    wren.log_on([-1], &[SetDraft { pain: Some(6), ..did("front-lever/tuck", 6) }]);
    // The straight-arm side has waited longest on day 4, and pain still holds it back.
    wren.log(2, pulls());
    let p = wren.prescription(4);
    assert_sound(&wren, 4, &p);
    assert_eq!((p.kind, sides(&wren, &p)), (Kind::Training, vec![Side::BentArm]), "{p:#?}");
    let reason = why(&p.reasons, ReasonCode::SideAlternation);
    assert_eq!(reason.sentence, "Bent-arm day: pain holds the straight-arm side back.");
    let pain: Vec<&str> = held(&p, HoldBackKind::Pain).iter().map(|h| h.detail.as_str()).collect();
    assert_eq!(pain.len(), 1, "what pain keeps out of the day is said: {pain:?}");
    assert!(pain[0].starts_with("Pain 6 of 10"), "{pain:?}");
}

#[test]
fn three_days_in_a_row_ask_for_rest() {
    let mut wren = both_sides();
    wren.log(1, pulls()).log(2, levers()).log(3, pulls());
    let p = wren.prescription(4);
    assert_sound(&wren, 4, &p);
    assert_eq!(p.kind, Kind::Rest);
    let rest = why(&p.reasons, ReasonCode::RestAfterRecentWork);
    assert_eq!(rest.sentence, "3 training days in a row: rest now.");
    assert_eq!(figure(rest, "days-in-row"), 3.0);
    assert_eq!(p.headline, "Rest. 3 training days in a row: rest now.");
    assert_eq!(wren.prescription(5).kind, Kind::Training);
}

#[test]
fn a_side_worked_hard_yesterday_rests() {
    let mut wren = both_sides();
    wren.profile.goals.truncate(1);
    wren.log(1, pulls());
    let p = wren.prescription(2);
    assert_sound(&wren, 2, &p);
    assert_eq!(p.kind, Kind::Rest);
    let rest = why(&p.reasons, ReasonCode::RestAfterRecentWork);
    assert_eq!(rest.sentence, "What the goals load was worked hard yesterday: rest, so that it can grow.");
    assert_eq!(figure(rest, "days-since"), 1.0);
}

#[test]
fn days_the_athlete_does_not_train_are_kept_free() {
    let mut wren = both_sides();
    wren.profile.days = Weekdays::from_days([0, 2, 4]);
    for day in 0..7 {
        let p = wren.prescription(day);
        assert_sound(&wren, day, &p);
        let is_free = ![0, 2, 4].contains(&day);
        assert_eq!(says(&p.reasons, ReasonCode::WeekdayNotAvailable), is_free, "day {day}");
        assert_eq!(p.kind == Kind::Rest, is_free);
    }
    assert_eq!(wren.prescription(1).headline, "Rest. The athlete does not train on Tuesdays.");
}

#[test]
fn legs_join_either_side_every_other_day() {
    let mut wren = both_sides();
    wren.profile.goals.extend(Athlete::new(&["one-leg-squat/one-leg-squat"]).profile.goals);
    wren.log(
        -1,
        [
            tested("one-leg-squat/box-high", 8),
            did("one-leg-squat/box-high", 5),
            did("one-leg-squat/box-high", 5),
        ],
    );
    assert!(!sides(&wren, &wren.prescription(0)).contains(&Side::Legs));
    assert!(sides(&wren, &wren.prescription(1)).contains(&Side::Legs));
}

#[test]
fn a_return_after_thirty_days_keeps_something_in_hand() {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 8)]);
    wren.log_on([3, 6, 9, 12], &[tested("pull/chest-to-bar", 5), did("pull/chest-to-bar", 4)]);
    let before = wren.prescription(15);
    let p = wren.prescription(42);
    assert_sound(&wren, 42, &p);
    let back = direction(&p, "pull");
    assert_eq!((back.direction, back.reason.code), (Direction::Return, ReasonCode::ReturnAfterTimeOff));
    assert_eq!(figure(&back.reason, "days-since"), 30.0);
    let work = crate::ask::only(&p, Block::Working);
    let off = why(&work.reasons, ReasonCode::ReturnAfterTimeOff);
    assert_eq!(off.sentence, "30 days off this ladder: the first session back keeps something in hand.");
    assert_eq!(figure(off, "days-off"), 30.0);
    assert_eq!(work.sets, 3);
    assert!(!crate::ask::has(&p, Block::Attempt));
    let place = |p: &Prescription| {
        let work = crate::ask::only(p, Block::Working);
        (wren.model.catalog.find(&work.rung), work.target_high)
    };
    assert!(place(&p) <= place(&before), "no harder than before the break");
    assert!(work.expected.interval.1 - work.expected.interval.0 > 0.0);
}

#[test]
fn after_a_long_time_off_the_test_is_on_something_easy() {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(-40, [tested("pull/hollow-hang", 60), tested("pull/pull-up", 15)]);
    wren.log(-36, [tested("pull/chest-to-bar", 8), did("pull/uneven-grip", 5)]);
    let p = wren.prescription(600);
    assert_sound(&wren, 600, &p);
    assert_eq!(p.kind, Kind::Test, "{p:#?}");
    let chosen = wren.model.catalog.find(&p.items[0].rung).expect("a rung");
    let last = wren.model.catalog.find(&RungRef::parse("pull/uneven-grip").expect("a rung")).expect("a rung");
    assert!(chosen < last, "{p:#?}");
    let chance = figure(why(&p.items[0].reasons, ReasonCode::BestInWorkingBand), "p-band-low");
    assert!(chance >= 0.95, "{chance}");
}
