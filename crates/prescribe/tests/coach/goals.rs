//! Goals: ahead, in attempts, reached, gone.

use nextrung_domain::ids::RungRef;
use nextrung_domain::profile::Goal;
use nextrung_prescribe::prescription::{Block, GoalState};
use nextrung_prescribe::reason::ReasonCode;

use crate::ask::{assert_sound, figure, goal, only, rung, says, why};
use crate::gym::{Athlete, did, tested};

fn puller(goals: &[&str], reps: i64) -> Athlete {
    let mut wren = Athlete::new(goals);
    wren.log(0, [tested("pull/hollow-hang", 45)]);
    wren.log_on(
        [2, 5, 8],
        &[tested("pull/pull-up", reps), did("pull/pull-up", reps - 1), did("pull/pull-up", reps - 1)],
    );
    wren
}

#[test]
fn a_far_goal_is_ahead() {
    let wren = puller(&["pull/one-arm-pull-up"], 8);
    let p = wren.prescription(11);
    assert_sound(&wren, 11, &p);
    let status = goal(&p, "pull/one-arm-pull-up");
    assert_eq!(status.state, GoalState::Ahead);
    assert_eq!(status.sentence, "One-arm pull-up is still ahead: not yet a clean rep.");
    assert!(status.p_one < 0.05 && status.median < 1.0 && status.next.is_none());
}

#[test]
fn a_goal_in_the_attempt_band_is_said_to_be() {
    let wren = puller(&["pull/chest-to-bar"], 3);
    let p = wren.prescription(11);
    assert_sound(&wren, 11, &p);
    let status = goal(&p, "pull/chest-to-bar");
    assert_eq!(status.state, GoalState::InAttempts);
    assert!(
        status.sentence.starts_with("Chest-to-bar pull-up is in reach of attempts: 1 clean rep at"),
        "{}",
        status.sentence
    );
    assert_eq!(rung(only(&p, Block::Attempt)), "pull/chest-to-bar");
}

#[test]
fn attempts_never_go_beyond_the_goal_until_it_is_reached() {
    let wren = puller(&["pull/chest-to-bar"], 6);
    let limit = wren.model.catalog.find(&RungRef::parse("pull/chest-to-bar").expect("a rung"));
    for day in 9..20 {
        let p = wren.prescription(day);
        let attempts = p.items.iter().filter(|i| i.block == Block::Attempt);
        assert!(attempts.into_iter().all(|i| wren.model.catalog.find(&i.rung) <= limit), "{p:#?}");
    }
}

#[test]
fn a_reached_goal_offers_the_next() {
    let mut wren = puller(&["pull/pull-up"], 8);
    wren.log_on([11, 14], &[tested("pull/pull-up", 8), tested("pull/pull-up", 8)]);
    let p = wren.prescription(17);
    assert_sound(&wren, 17, &p);
    let status = goal(&p, "pull/pull-up");
    assert_eq!(status.state, GoalState::Reached);
    assert_eq!(status.next, RungRef::parse("pull/chest-to-bar").ok());
    let reached = why(&p.reasons, ReasonCode::GoalReached);
    assert_eq!(
        reached.sentence,
        "Pull-up is reached. The next goal on this ladder could be: chest-to-bar pull-up."
    );
    assert!(figure(reached, "p-band-low") >= 0.8);
    assert!(p.items.iter().any(|i| i.block == Block::Attempt), "attempts may go on beyond a reached goal");
}

#[test]
fn the_last_rung_of_a_ladder_has_no_next_goal() {
    let mut wren = Athlete::new(&["one-leg-balance/eyes-closed-heel-raised"]);
    wren.log_on([0, 3, 6, 9], &[tested("one-leg-balance/eyes-closed-heel-raised", 40)]);
    let status = goal(&wren.prescription(12), "one-leg-balance/eyes-closed-heel-raised").clone();
    assert_eq!((status.state, status.next), (GoalState::Reached, None));
    assert!(status.sentence.ends_with("nothing harder stands on this ladder."), "{}", status.sentence);
}

#[test]
fn a_goal_on_a_rung_that_is_gone_is_said_and_does_not_stop_training() {
    let mut wren = puller(&["pull/one-arm-pull-up"], 8);
    let gone = |text: &str| Goal { rung: RungRef::parse(text).expect("a rung"), by: None };
    wren.profile.goals = vec![gone("pull/no-such-rung")];
    let p = wren.prescription(11);
    assert_sound(&wren, 11, &p);
    assert!(p.goals.is_empty());
    let said = why(&p.reasons, ReasonCode::LeadsToGoal);
    assert_eq!(
        said.sentence,
        "The goal pull/no-such-rung stands on no ladder any more: please choose another."
    );
    assert_eq!(only(&p, Block::Working).rung.ladder.as_str(), "pull");
    wren.profile.goals = vec![gone("no-such-ladder/rung")];
    let p = wren.prescription(11);
    assert_sound(&wren, 11, &p);
    assert!(!p.items.is_empty(), "what was trained lately goes on: {p:#?}");
}

#[test]
fn the_dearest_goal_goes_first() {
    let wren = Athlete::new(&["front-lever/full", "pull/one-arm-pull-up"]);
    assert_eq!(wren.prescription(0).items[0].rung.ladder.as_str(), "front-lever");
    let wren = Athlete::new(&["pull/one-arm-pull-up", "front-lever/full"]);
    assert_eq!(wren.prescription(0).items[0].rung.ladder.as_str(), "pull");
    assert!(!says(&wren.prescription(0).reasons, ReasonCode::GoalReached));
}
