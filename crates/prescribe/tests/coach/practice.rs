//! Practice: balance first, on what leads on.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::prescription::{Block, GoalState, Kind};
use nextrung_prescribe::reason::ReasonCode;

use crate::ask::{assert_sound, figure, goal, has, on, only, rung, says, why};
use crate::gym::{Athlete, did, tested};

fn held(rung: &str, seconds: i64) -> SetDraft {
    SetDraft {
        purpose: Choice::Known(Purpose::Practice),
        planned_target: None,
        stop: Choice::Known(Stop::Balance),
        ..did(rung, seconds)
    }
}

fn wall(rung: &str, seconds: i64) -> SetDraft {
    SetDraft { purpose: Choice::Known(Purpose::Practice), ..did(rung, seconds) }
}

fn balancer() -> Athlete {
    let mut wren = Athlete::new(&["hand-balance/free-straight"]);
    for day in [0, 2, 4, 7, 9, 11] {
        wren.log(
            day,
            [
                wall("hand-balance/back-to-wall-hold", 40),
                wall("hand-balance/chest-to-wall-hold", 40),
                held("hand-balance/toe-pull", 6),
                held("hand-balance/free-straight", 4),
            ],
        );
    }
    wren
}

/// On paper balance is just as near to the limit of this goal as counts; the sum of its parts is off in the last bit.
#[test]
fn balance_that_is_just_near_enough_is_practised_from_the_first_day() {
    let wren = Athlete::new(&["press-to-handstand/l-sit-press"]);
    let p = wren.prescription(0);
    let practised = p.items.iter().filter(|i| i.block == Block::BalancePractice);
    let ladders: Vec<&str> = practised.map(|i| i.rung.ladder.as_str()).collect();
    assert_eq!(ladders, ["hand-balance"], "{p:#?}");
}

#[test]
fn balance_comes_first_for_a_free_press() {
    let mut wren = balancer();
    wren.profile.goals = Athlete::new(&["press/free-press"]).profile.goals;
    for day in [12, 14] {
        wren.log(
            day,
            [tested("press/wall-lowering", 9), tested("press/wall-press", 4), did("press/wall-press", 3)],
        );
    }
    let p = wren.prescription(17);
    assert_sound(&wren, 17, &p);
    assert_eq!(p.items[0].block, Block::BalancePractice);
    let first = why(&p.items[0].reasons, ReasonCode::BalancePracticeFirst);
    assert_eq!(first.sentence, "Balance practice comes first, while fresh.");
    assert!(has(&p, Block::Working));
    assert!(p.cautions.iter().any(|c| c.starts_with("Head-down: eye pressure about doubles")));
    assert!(p.cautions.iter().any(|c| c.contains("way out")));
}

#[test]
fn a_pull_goal_asks_for_no_balance() {
    let mut wren = balancer();
    wren.profile.goals = Athlete::new(&["pull/one-arm-pull-up", "one-leg-squat/one-leg-squat"]).profile.goals;
    let p = wren.prescription(14);
    assert_sound(&wren, 14, &p);
    assert!(!has(&p, Block::BalancePractice), "{p:#?}");
}

#[test]
fn a_balance_goal_is_practised_and_attempted() {
    let wren = balancer();
    let p = wren.prescription(14);
    assert_sound(&wren, 14, &p);
    assert_eq!(p.kind, Kind::Training);
    let practice = on(&p, Block::BalancePractice, "hand-balance");
    assert_eq!(rung(practice), "hand-balance/toe-pull");
    assert_eq!((practice.sets, practice.rest_seconds), (5, 90));
    let attempt = only(&p, Block::Attempt);
    assert_eq!((rung(attempt).as_str(), attempt.rest_seconds), ("hand-balance/free-straight", 90));
    assert_eq!(goal(&p, "hand-balance/free-straight").state, GoalState::InAttempts);
    assert!(p.headline.starts_with("Practise: toe pull"), "{}", p.headline);
}

#[test]
fn practice_leaves_the_wall_as_soon_as_the_wall_is_shown() {
    let mut wren = Athlete::new(&["hand-balance/free-straight"]);
    assert_eq!(rung(&wren.prescription(0).items[0]), "hand-balance/box-pike-hold");
    wren.log(0, [wall("hand-balance/box-pike-hold", 30)]);
    assert_eq!(rung(&wren.prescription(2).items[0]), "hand-balance/back-to-wall-hold");
    wren.log(2, [wall("hand-balance/back-to-wall-hold", 30)]);
    let p = wren.prescription(4);
    assert_sound(&wren, 4, &p);
    assert_eq!(rung(&p.items[0]), "hand-balance/heel-pull");
    assert!(p.items.iter().any(|i| rung(i) == "hand-balance/chest-to-wall-hold"), "{p:#?}");
}

#[test]
fn what_the_next_rung_lacks_is_built() {
    let mut wren = Athlete::new(&["hand-balance/free-straight"]);
    wren.log(0, [wall("hand-balance/box-pike-hold", 30), wall("hand-balance/back-to-wall-hold", 40)]);
    let line = SetDraft { stop: Choice::Known(Stop::Line), ..held("hand-balance/chest-to-wall-hold", 14) };
    wren.log_on([2, 4, 6], &[line, held("hand-balance/heel-pull", 6)]);
    let p = wren.prescription(8);
    assert_sound(&wren, 8, &p);
    let built =
        p.items.iter().find(|i| rung(i) == "hand-balance/chest-to-wall-hold").expect("work on the line");
    assert_eq!((built.block, built.sets), (Block::BalancePractice, 3));
    let asked = why(&built.reasons, ReasonCode::GateUnmet);
    assert!(figure(asked, "asked") >= 20.0);
    assert!(asked.sentence.ends_with("seconds of chest-to-wall hold: build it here."), "{}", asked.sentence);
}

#[test]
fn practice_has_no_shadings() {
    let wren = balancer();
    for day in 12..26 {
        let p = wren.prescription(day);
        let practice = p.items.iter().filter(|i| i.block == Block::BalancePractice);
        assert!(practice.into_iter().all(|i| i.shadings.is_empty()), "{p:#?}");
    }
}

#[test]
fn a_balance_rung_stops_calm() {
    let p = balancer().prescription(14);
    let practice = on(&p, Block::BalancePractice, "hand-balance");
    assert_eq!(practice.stop_rule.sentence, "End each try while it is still calm. Stop at pain 3 of 10.");
    assert!(!says(&practice.reasons, ReasonCode::LoadChosen));
}
