//! Pain: what it holds back, what not, and for how long.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::ids::RungRef;
use nextrung_domain::measure::Pain;
use nextrung_domain::stop::Stop;
use nextrung_prescribe::hold_back::{HoldBackKind, of_rung};
use nextrung_prescribe::prescription::{Block, GoalState, Kind};
use nextrung_prescribe::reason::ReasonCode;

use crate::ask::{assert_sound, figure, goal, has, held, held_figure, rung, says, why};
use crate::gym::{Athlete, did, tested};

fn puller() -> Athlete {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up", "push-up/one-arm-push-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 8), tested("push-up/push-up", 20)]);
    for day in [3, 6, 9] {
        wren.log(
            day,
            [
                tested("pull/chest-to-bar", 5),
                did("pull/chest-to-bar", 4),
                tested("push-up/feet-raised-30", 8),
            ],
        );
    }
    wren
}

fn hurt(rung: &str, pain: i64) -> SetDraft {
    SetDraft { pain: Some(pain), ..did(rung, 3) }
}

/// Rungs held back for pain, and those that load the ability.
fn painful(wren: &Athlete, day: i32, ability: &str) -> (Vec<RungRef>, Vec<RungRef>) {
    let catalog = &wren.model.catalog;
    let rungs =
        (0..catalog.rung_count()).map(|i| nextrung_domain::catalog::RungIx(u16::try_from(i).expect("few")));
    let (mut held, mut loaded) = (Vec::new(), Vec::new());
    for ix in rungs {
        if wren.at(day, |at| of_rung(at, ix)).iter().any(|h| h.kind == HoldBackKind::Pain) {
            held.push(catalog.name(ix));
        }
        if catalog.rung(ix).demands.iter().any(|d| catalog.ability(d.ability).id.as_str() == ability) {
            loaded.push(catalog.name(ix));
        }
    }
    (held, loaded)
}

#[test]
fn pain_at_the_limit_holds_back_all_that_loads_the_ability_and_nothing_else() {
    let mut wren = puller();
    wren.log(12, [hurt("pull/chest-to-bar", 3)]);
    let (held_rungs, loaded) = painful(&wren, 13, "vertical-pull");
    assert_eq!(held_rungs, loaded);
    assert!(held_rungs.iter().any(|r| r.ladder.as_str() == "muscle-up"), "across ladders");
    let p = wren.prescription(14);
    assert_sound(&wren, 14, &p);
    let pain = held(&p, HoldBackKind::Pain);
    assert_eq!(pain.len(), 1);
    assert_eq!(pain[0].detail, "Pain 3 of 10 was logged 2 days ago on chest-to-bar pull-up (limit 3).");
    assert_eq!((held_figure(pain[0], "pain"), held_figure(pain[0], "limit")), (3.0, 3.0));
    assert_eq!((held_figure(pain[0], "days-since"), held_figure(pain[0], "days-left")), (2.0, 5.0));
    assert!(pain[0].opened_by.contains("see a professional"));
    assert!(p.items.iter().all(|i| i.rung.ladder.as_str() == "push-up"), "{p:#?}");
    assert!(has(&p, Block::Working));
    assert_eq!(goal(&p, "pull/one-arm-pull-up").state, GoalState::HeldBack);
}

#[test]
fn pain_below_the_limit_holds_nothing_back() {
    let mut wren = puller();
    wren.log(12, [hurt("pull/chest-to-bar", 2)]);
    assert_eq!(painful(&wren, 13, "vertical-pull").0, []);
    wren.profile.limits.max_pain = Pain::new(2).expect("a pain");
    assert!(!painful(&wren, 13, "vertical-pull").0.is_empty(), "the coach's limit counts");
}

#[test]
fn a_stop_for_pain_without_a_figure_counts_as_over_the_limit() {
    let mut wren = puller();
    wren.log(
        12,
        [SetDraft { stop: Choice::Known(Stop::Pain), planned_target: None, ..did("pull/chest-to-bar", 2) }],
    );
    let p = wren.prescription(14);
    assert_sound(&wren, 14, &p);
    let pain = held(&p, HoldBackKind::Pain);
    assert!(pain[0].detail.starts_with("A set stopped for pain was logged 2 days ago"), "{}", pain[0].detail);
}

#[test]
fn after_the_hold_work_comes_back_easy_and_then_as_before() {
    let mut wren = puller();
    wren.log(12, [hurt("pull/chest-to-bar", 5)]);
    for day in [13, 18] {
        assert!(wren.prescription(day).items.iter().all(|i| i.rung.ladder.as_str() != "pull"), "day {day}");
    }
    let p = wren.prescription(19);
    assert_sound(&wren, 19, &p);
    let work = p.items.iter().find(|i| i.rung.ladder.as_str() == "pull").expect("pulling again");
    let easy = why(&work.reasons, ReasonCode::PainAtOrOverLimit);
    assert_eq!(figure(easy, "held-in-hand"), wren.policy.pain_margin);
    assert_eq!(work.sets, 3);
    assert!(!p.items.iter().any(|i| i.block == Block::Attempt && i.rung.ladder.as_str() == "pull"));
    let later = wren.prescription(12 + 40);
    assert!(!later.items.iter().any(|i| says(&i.reasons, ReasonCode::PainAtOrOverLimit)));
}

#[test]
fn a_painless_day_lifts_the_hold() {
    let mut wren = puller();
    wren.log(12, [hurt("pull/chest-to-bar", 4)]);
    assert!(!painful(&wren, 14, "vertical-pull").0.is_empty());
    wren.log(14, [SetDraft { pain: Some(0), ..did("pull/shoulder-pull", 5) }]);
    assert_eq!(painful(&wren, 15, "vertical-pull").0, []);
}

#[test]
fn strong_pain_is_held_back_for_longer_and_one_painless_set_does_not_lift_it() {
    let mut wren = puller();
    wren.log(12, [hurt("pull/chest-to-bar", 8)]);
    wren.log(14, [SetDraft { pain: Some(0), ..did("pull/shoulder-pull", 5) }]);
    assert!(!painful(&wren, 15, "vertical-pull").0.is_empty());
    assert!(!painful(&wren, 25, "vertical-pull").0.is_empty());
    assert_eq!(painful(&wren, 26, "vertical-pull").0, []);
}

#[test]
fn the_worst_pain_of_a_day_counts() {
    let mut wren = puller();
    wren.log(12, [hurt("pull/chest-to-bar", 6), hurt("pull/chest-to-bar", 1)]);
    let p = wren.prescription(14);
    assert_eq!(held_figure(held(&p, HoldBackKind::Pain)[0], "pain"), 6.0);
}

#[test]
fn wrists_that_hurt_in_a_handstand_hold_back_all_hand_balance() {
    let mut wren = Athlete::new(&["hand-balance/free-straight"]);
    for day in [0, 2, 4] {
        wren.log(
            day,
            [
                tested("hand-balance/chest-to-wall-hold", 60),
                tested("hand-balance/toe-pull", 6),
                tested("hand-balance/free-straight", 9),
            ],
        );
    }
    wren.log(5, [SetDraft { pain: Some(5), ..did("hand-balance/free-straight", 4) }]);
    let (held_rungs, loaded) = painful(&wren, 6, "hand-balance");
    assert_eq!(held_rungs, loaded);
    let p = wren.prescription(6);
    assert_sound(&wren, 6, &p);
    assert!(p.items.iter().all(|i| !rung(i).contains("free")), "{p:#?}");
}

#[test]
fn when_pain_holds_the_only_ladder_the_day_is_held_back() {
    let mut wren = puller();
    wren.profile.goals.truncate(1);
    wren.log(12, [hurt("pull/chest-to-bar", 4)]);
    let p = wren.prescription(14);
    assert_sound(&wren, 14, &p);
    assert_eq!(p.kind, Kind::HeldBack);
    assert!(p.headline.starts_with("Held back. Pain 4 of 10"), "{}", p.headline);
}

#[test]
fn pain_ends_every_item_at_the_athletes_limit() {
    let mut wren = puller();
    wren.profile.limits.max_pain = Pain::new(2).expect("a pain");
    let p = wren.prescription(12);
    assert_sound(&wren, 12, &p);
    assert!(p.items.iter().all(|i| i.stop_rule.pain_at_or_over == 2));
    let work = p.items.iter().find(|i| i.block == Block::Working).expect("work");
    assert!(work.stop_rule.sentence.contains("at pain 2 of 10"), "{}", work.stop_rule.sentence);
}

#[test]
fn the_other_arm_side_stays_easy_while_pain_is_near() {
    let mut wren = Athlete::new(&["front-lever/full"]);
    let levers = [tested("front-lever/tuck", 13), did("front-lever/tuck", 11), did("front-lever/tuck", 11)];
    wren.log_on([0, 4, 8], &levers);
    let fresh = wren.prescription(12);
    wren.log(11, [hurt("pull/pull-up", 6)]);
    let p = wren.prescription(12);
    assert_sound(&wren, 12, &p);
    let lever = |p: &nextrung_prescribe::prescription::Prescription| {
        p.items.iter().find(|i| i.block == Block::Working).expect("work").clone()
    };
    let eased = lever(&p);
    assert!(eased.target_high < lever(&fresh).target_high || eased.rung != lever(&fresh).rung, "{eased:#?}");
    assert!(!has(&p, Block::Attempt) && eased.sets == 3, "{p:#?}");
    let reason = why(&eased.reasons, ReasonCode::PainAtOrOverLimit);
    assert!(reason.sentence.starts_with("Pain was logged yesterday on pull-up:"), "{}", reason.sentence);
    // Legs hang from nothing.
    let mut legs = Athlete::new(&["one-leg-squat/one-leg-squat"]);
    legs.log(11, [hurt("pull/pull-up", 6)]);
    assert!(!says(&legs.prescription(12).reasons, ReasonCode::PainAtOrOverLimit));
}

#[test]
fn sets_that_only_pain_ended_reach_no_goal() {
    let mut wren = Athlete::new(&["pull/pull-up"]);
    let ended = |done: i64| SetDraft {
        stop: Choice::Known(Stop::Pain),
        planned_target: None,
        pain: Some(8),
        ..did("pull/pull-up", done)
    };
    wren.log(0, [ended(2), ended(1)]);
    let p = wren.prescription(1);
    assert_eq!((p.kind, goal(&p, "pull/pull-up").state), (Kind::HeldBack, GoalState::HeldBack), "{p:#?}");
}
