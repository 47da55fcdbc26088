//! Exclusions: every set read is scored or left out for a stated reason.

use std::collections::BTreeSet;

use nextrung_domain::date::CivilDate;
use nextrung_domain::event::EventBody;
use nextrung_domain::ids::{LadderId, RungRef};
use nextrung_replay::evaluate::part::{Note, Part};
use nextrung_replay::evaluate::run::{Replay, ReplayError};
use nextrung_replay::evaluate::selection::{Exclusion, Selection};
use nextrung_replay::evaluate::source::Traced;
use nextrung_replay::simulate::family;

use super::scene::{crowd, named, replay, scored};

fn all_accounted_for(part: &Part) {
    let left_out: u64 = part.excluded.values().sum();
    for tally in &part.tallies {
        assert_eq!(tally.sums.sets + left_out, part.sets);
    }
    let by_athlete: u64 = part.athletes.values().map(|athlete| athlete.sums[0].sets).sum();
    assert_eq!(by_athlete, part.tallies[0].sums.sets);
}

fn with(selection: Selection) -> Replay {
    Replay { selection, ..replay() }
}

#[test]
fn nothing_is_lost_in_any_family() {
    let logs = crowd(family::all().to_vec(), (13, 10), 2);
    let (part, _) = scored(&replay(), &logs);
    all_accounted_for(&part);
    assert!(part.excluded[&Exclusion::Withdrawn] > 0 && part.notes[&Note::Corrected] > 0);
    assert!(part.notes[&Note::Late] > 0 && part.notes[&Note::OpenEnd] > 0);
}

#[test]
fn a_selection_leaves_out_with_counts_and_changes_no_prediction() {
    let logs = crowd(vec![named("matched")], (6, 12), 2);
    let (all, _) = scored(&replay(), &logs);
    let names: Vec<&String> = all.athletes.keys().collect();
    let selection = Selection {
        from: Some(CivilDate::parse("2026-02-02").unwrap()),
        to: Some(CivilDate::parse("2026-03-08").unwrap()),
        ladders: BTreeSet::from([LadderId::new("pull").unwrap()]),
        athletes: names[..4].iter().map(|name| (*name).clone()).collect(),
        warm_up_days: 30,
    };
    let (part, _) = scored(&with(selection), &logs);
    all_accounted_for(&part);
    for why in [Exclusion::OtherAthlete, Exclusion::OtherDate, Exclusion::OtherLadder, Exclusion::WarmUp] {
        assert!(part.excluded[&why] > 0, "{why:?}");
    }
    assert_eq!(part.athletes.keys().collect::<Vec<_>>(), names[..4]);
    // One athlete's figures do not hang on who else was asked for.
    let (alone, _) = scored(
        &with(Selection { athletes: BTreeSet::from([names[1].clone()]), ..Selection::default() }),
        &logs,
    );
    assert_eq!(alone.athletes[names[1]], all.athletes[names[1]]);
}

#[test]
fn an_empty_selection_says_what_was_left_out() {
    let logs = crowd(vec![named("matched")], (2, 4), 2);
    let replay = with(Selection { athletes: BTreeSet::from(["nobody".to_owned()]), ..Selection::default() });
    let (part, athletes) = scored(&replay, &logs);
    let told = replay.summary(&part, athletes, Vec::new()).unwrap_err();
    let ReplayError::Empty { why } = &told else { panic!("{told}") };
    assert!(
        why.contains(&format!("of {} sets read, {} of an athlete not asked for", part.sets, part.sets)),
        "{why}"
    );
    let (nothing, _) = scored(&replay, &[]);
    assert!(
        replay.summary(&nothing, 0, Vec::new()).unwrap_err().to_string().contains("the logs hold no sets")
    );
}

#[test]
fn a_single_set_is_scored_and_gives_no_interval() {
    let mut logs = crowd(vec![named("matched")], (1, 2), 2);
    let first = logs[0].log.events.iter().position(|e| matches!(e.body, EventBody::Recorded { .. })).unwrap();
    logs[0].log.events.truncate(first + 1);
    let (part, athletes) = scored(&replay(), &logs);
    all_accounted_for(&part);
    assert_eq!((part.sets, part.notes[&Note::SingleSet]), (1, 1));
    let summary = replay().summary(&part, athletes, Vec::new()).unwrap();
    assert!(summary.forecasters.iter().all(|f| f.log_score.is_finite() && f.difference.is_none()));
    assert!(summary.conclusions[0].contains("give no interval"), "{:?}", summary.conclusions);
}

#[test]
fn unknown_rungs_and_a_clock_that_goes_back_are_counted() {
    let mut logs = crowd(vec![named("matched")], (1, 6), 2);
    let events = &mut logs[0].log.events;
    let mut places: Vec<usize> =
        (0..events.len()).filter(|at| matches!(events[*at].body, EventBody::Recorded { .. })).collect();
    let (last, middle) = (places.pop().unwrap(), places[places.len() / 2]);
    if let EventBody::Recorded { set } = &mut events[last].body {
        set.rung = RungRef::parse("pull/gone-since").unwrap();
    }
    // As if the clock had been set back by a year after the set in the middle.
    for event in &mut events[middle..] {
        event.arrived_at_ms -= 365 * 86_400_000;
    }
    let (part, _) = scored(&replay(), &logs);
    all_accounted_for(&part);
    assert_eq!(part.excluded[&Exclusion::UnknownRung], 1);
    assert_eq!(part.notes[&Note::ClockBack], 1);
    assert!(part.notes[&Note::EarlyArrival] > 1);
}

#[test]
fn a_replay_ends_when_told() {
    let logs: Vec<Traced> = crowd(vec![named("matched")], (6, 4), 2);
    let replay = replay();
    let learned = replay.learn(&logs, &mut |_| true).unwrap();
    let mut seen = Vec::new();
    let told = replay.score(&learned, &logs, None, &mut |at| {
        seen.push((at.athletes, at.sets));
        at.athletes < 3
    });
    assert!(
        matches!(told, Err(ReplayError::Ended { progress }) if progress.athletes == 3 && progress.reading == 2),
        "{told:?}"
    );
    let walked: Vec<_> = seen.iter().filter(|(athletes, _)| *athletes > 0).collect();
    assert_eq!(walked.len(), 3);
    assert!(seen.is_sorted() && walked[0].1 > 0);
}

#[test]
fn a_replay_ends_between_fits_when_told() {
    let logs: Vec<Traced> = crowd(vec![named("matched")], (6, 16), 2);
    let replay = replay();
    let learned = replay.learn(&logs, &mut |_| true).unwrap();
    let mut asked = 0;
    let told = replay.score(&learned, &logs, None, &mut |_| {
        asked += 1;
        asked < 2
    });
    assert!(
        matches!(told, Err(ReplayError::Ended { progress }) if progress.athletes == 0 && progress.reading == 2),
        "{told:?}"
    );
    assert_eq!(asked, 2);
}
