//! Turns: the sessions that would move an athlete up or back, proved by logging them.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::stop::Stop;
use nextrung_prescribe::prescription::{Block, Direction, Item, Prescription};
use nextrung_prescribe::turn::{Before, PLAUSIBLE, Turn, TurnSession, turns};

use crate::ask::assert_words;
use crate::gym::{Athlete, did, missed};

fn turns_of(athlete: &Athlete, day: i32) -> (Prescription, Vec<Turn>) {
    let made = athlete.prescription(day);
    let found = athlete.at(day, |at| turns(Before { at, state: &athlete.state }, &made));
    (made, found)
}

fn item_of<'a>(made: &'a Prescription, turn: &Turn) -> &'a Item {
    let is_it = |i: &&Item| i.block == Block::Working && i.rung.ladder == turn.ladder;
    made.items.iter().find(is_it).expect("working sets")
}

/// The set of a turn as a person would log it.
fn as_logged(item: &Item, turn: &TurnSession) -> SetDraft {
    let base = if turn.step.stop == Stop::Target {
        did(&item.rung.to_string(), turn.step.done.into())
    } else {
        missed(&item.rung.to_string(), turn.step.done.into(), item.target_high.into())
    };
    SetDraft {
        stop: Choice::Known(turn.step.stop),
        shadings: item.shadings.iter().map(ToString::to_string).collect(),
        load_kg: (item.load_kg != 0.0).then_some(item.load_kg),
        reps_in_reserve: turn.step.reserve.map(i64::from),
        planned_target: Some(i64::from(item.target_high.max(turn.step.done))),
        ..base
    }
}

/// Logs so many sets of the turn, with the rest that was prescribed, and gives what is prescribed on its next day.
fn after(athlete: &Athlete, day: i32, (item, turn): (&Item, &TurnSession), sets: u16) -> Prescription {
    let mut wren = athlete.clone();
    let one = |number: u16| SetDraft {
        rest_seconds: (number > 0).then_some(i64::from(item.rest_seconds)),
        ..as_logged(item, turn)
    };
    wren.log(day, (0..sets).map(one));
    wren.prescription(turn.next_date.days_since(crate::gym::date(0)))
}

fn assert_turns(athlete: &Athlete, day: i32) -> Vec<Turn> {
    let (made, found) = turns_of(athlete, day);
    for turn in &found {
        assert_words(&turn.sentence);
        let item = item_of(&made, turn);
        let Some(session) = &turn.session else { continue };
        assert!(session.chance >= PLAUSIBLE && (1..=item.sets).contains(&session.sets), "{turn:?}");
        for told in [session.next_date.to_string(), format!("{} clean", session.step.done)] {
            assert!(turn.sentence.contains(&told), "{told} in {}", turn.sentence);
        }
        assert!(session.sets == 1 || turn.sentence.contains(&format!("{} sets", session.sets)), "{turn:?}");
        assert_eq!(turn.sentence.starts_with("Up to "), turn.direction == Direction::MoveUp);
        let next = after(athlete, day, (item, session), session.sets);
        let way = next.directions.iter().find(|d| d.ladder == turn.ladder).expect("a direction");
        assert_eq!(
            (way.direction, way.rung.as_ref()),
            (turn.direction, Some(&session.next_rung)),
            "{turn:?}"
        );
        let working = next.items.iter().find(|i| i.block == Block::Working && i.rung.ladder == turn.ladder);
        let working = working.expect("working sets");
        assert_eq!(working.shadings.first(), session.next_shading.as_ref());
        assert_eq!(working.load_kg.to_bits(), session.next_load_kg.to_bits());
    }
    found
}

/// Somebody who has done so many pull-ups in every set of so many sessions, the last to the limit.
fn puller(reps: i64, sessions: i32) -> Athlete {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    let session =
        [did("pull/pull-up", reps), did("pull/pull-up", reps), missed("pull/pull-up", reps, reps + 1)];
    wren.log_on((0..sessions).map(|n| 3 * n), &session);
    wren
}

#[test]
fn a_turn_is_what_logging_it_gives() {
    let mut turned = Vec::new();
    for (reps, sessions) in [(5, 5), (3, 12), (4, 2), (3, 2)] {
        let found = assert_turns(&puller(reps, sessions), 3 * sessions);
        assert_eq!(found.len(), 2, "{found:#?}");
        turned.extend(found.into_iter().filter(|turn| turn.session.is_some()).map(|turn| turn.direction));
    }
    assert!(turned.contains(&Direction::MoveUp) && turned.contains(&Direction::StepBack), "{turned:?}");
}

#[test]
fn fewer_sets_of_a_turn_do_not_turn() {
    let wren = puller(3, 12);
    let (made, found) = turns_of(&wren, 36);
    let mut tried = 0;
    for turn in &found {
        let Some(session) = turn.session.as_ref().filter(|session| session.sets > 1) else { continue };
        let next = after(&wren, 36, (item_of(&made, turn), session), session.sets - 1);
        let way = next.directions.iter().find(|d| d.ladder == turn.ladder);
        assert!(way.is_none_or(|d| d.direction != turn.direction), "{turn:?}\n{way:?}");
        tried += 1;
    }
    assert!(tried > 0, "{found:#?}");
}

#[test]
fn what_is_settled_is_moved_by_no_single_session() {
    let found = assert_turns(&puller(4, 12), 36);
    assert!(found.iter().all(|turn| turn.session.is_none()), "{found:#?}");
    assert_eq!(found[0].sentence, "No single plausible session of pull-up moves up from it.");
}

#[test]
fn holds_are_turned_by_seconds() {
    let mut turned = Vec::new();
    for seconds in [8, 10, 13, 16] {
        let mut wren = Athlete::new(&["front-lever/full"]);
        wren.log(0, [did("front-lever/tuck", seconds), missed("front-lever/tuck", seconds, 20)]);
        let found = assert_turns(&wren, 3);
        turned.extend(found.into_iter().filter_map(|turn| turn.session).map(|session| session.step.done));
    }
    assert!(turned.iter().any(|done| *done > 5), "{turned:?}");
}

#[test]
fn a_day_without_working_sets_has_no_turns() {
    let wren = Athlete::new(&["pull/one-arm-pull-up"]);
    assert_eq!(turns_of(&wren, 0).1, []);
}
