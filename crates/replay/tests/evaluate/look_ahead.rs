//! No look-ahead: whatever is done to the future, what was foretold and advised before stays the same to the bit.

use std::collections::BTreeMap;

use nextrung_domain::date::CivilDate;
use nextrung_domain::event::EventBody;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Stop;
use nextrung_replay::evaluate::entry::block_of;
use nextrung_replay::evaluate::row::Row;
use nextrung_replay::evaluate::run::Replay;
use nextrung_replay::evaluate::selection::Selection;
use nextrung_replay::evaluate::source::Traced;

use super::scene::{crowd, named, recorded, replay, scored};

/// Everything that was said of each set, by who said it.
fn said(replay: &Replay, logs: &[Traced]) -> BTreeMap<(String, String, usize), Row> {
    let logs = logs.to_vec();
    let learned = replay.learn(&logs, &mut |_| true).unwrap();
    let mut said = BTreeMap::new();
    let mut take = |rows: Vec<Row>| {
        said.extend(
            rows.into_iter().map(|row| ((row.athlete.clone(), row.set.clone(), row.forecaster), row)),
        );
        Ok(())
    };
    replay.score(&learned, &logs, Some(&mut take), &mut |_| true).unwrap();
    said
}

/// The moment in the middle of a log at which a block begins.
fn cut(logs: &[Traced]) -> i64 {
    let mut arrivals: Vec<i64> = logs
        .iter()
        .flat_map(|t| &t.log.events)
        .filter(|e| recorded(e).is_some())
        .map(|e| e.arrived_at_ms)
        .collect();
    arrivals.sort_unstable();
    let middle = block_of(arrivals[arrivals.len() / 2]);
    *arrivals.iter().find(|at| block_of(**at) == middle).unwrap()
}

/// The same logs with the contents of all sets from the cut on dealt out anew among their places, and made to fail at once.
fn with_another_future(logs: &[Traced], cut: i64) -> Vec<Traced> {
    let mut logs = logs.to_vec();
    for traced in &mut logs {
        let later: Vec<usize> = (0..traced.log.events.len())
            .filter(|at| {
                traced.log.events[*at].arrived_at_ms >= cut && recorded(&traced.log.events[*at]).is_some()
            })
            .collect();
        let sets: Vec<SetEntry> =
            later.iter().map(|at| recorded(&traced.log.events[*at]).unwrap().clone()).collect();
        for (place, other) in later.iter().zip(sets.iter().rev()) {
            let EventBody::Recorded { set } = &mut traced.log.events[*place].body else { continue };
            let own = (set.date, set.session, set.number, set.client_set_id.clone());
            *set = SetEntry {
                date: own.0,
                session: own.1,
                number: own.2,
                client_set_id: own.3,
                ..other.clone()
            };
            (set.done, set.stop, set.reserve) = (0, Stop::Failed, None);
        }
    }
    logs
}

#[test]
fn another_future_leaves_every_earlier_prediction_as_it_was() {
    for family in ["matched", "own-choice"] {
        let logs = crowd(vec![named(family)], (4, 16), 3);
        let replay = replay();
        let cut = cut(&logs);
        let (before, after) = (said(&replay, &logs), said(&replay, &with_another_future(&logs, cut)));
        let early = |rows: &BTreeMap<_, Row>| -> Vec<Row> {
            rows.values().filter(|row| row.arrived_at_ms < cut).cloned().collect()
        };
        let (early, again) = (early(&before), early(&after));
        assert!(early.len() > 200 * replay.who.len(), "{family}: {}", early.len());
        assert_eq!(early, again, "{family}");
        // The check can fail: what was said of the first sets after the cut is another matter.
        let moved =
            before.iter().filter(|(key, row)| row.arrived_at_ms >= cut && after.get(*key) != Some(row));
        assert!(moved.count() > 100, "{family}");
    }
}

#[test]
fn late_sets_reach_no_prediction_that_was_made_before_they_arrived() {
    let logs = crowd(vec![named("gaps")], (4, 16), 8);
    let replay = replay();
    let late = |traced: &Traced| {
        let mut last = None;
        traced
            .log
            .events
            .iter()
            .filter_map(recorded)
            .filter(|set| {
                let is_late = last.is_some_and(|last| set.place() < last);
                last = last.max(Some(set.place()));
                is_late
            })
            .count()
    };
    assert!(logs.iter().map(late).sum::<usize>() > 20, "the family sends sets late");
    // Without the events of the second half, what was said of the first half stays as it was, late sets and all.
    let cut = cut(&logs);
    let mut cut_off = logs.clone();
    for traced in &mut cut_off {
        traced.log.events.retain(|event| event.arrived_at_ms < cut);
    }
    let is_early = |row: &Row| row.arrived_at_ms < cut;
    let (whole, first) = (said(&replay, &logs), said(&replay, &cut_off));
    let mut compared = 0;
    for (key, row) in first.iter().filter(|(_, row)| is_early(row)) {
        // A set that was corrected or withdrawn later is scored by what it became.
        let Some(other) = whole.get(key).filter(|other| (other.done, other.target) == (row.done, row.target))
        else {
            continue;
        };
        assert_eq!(row, other);
        compared += 1;
    }
    assert!(compared > 200 * replay.who.len(), "{compared}");
}

#[test]
fn another_future_leaves_earlier_advice_as_it_was() {
    let logs = crowd(vec![named("own-choice")], (3, 16), 4);
    let cut = cut(&logs);
    let last = i32::try_from(cut.div_euclid(86_400_000)).unwrap() - 1;
    let to = Some(CivilDate::from_day_number(last).unwrap());
    let replay = Replay { selection: Selection { to, ..Selection::default() }, ..replay() };
    let (before, _) = scored(&replay, &logs);
    let (after, _) = scored(&replay, &with_another_future(&logs, cut));
    assert!(before.advice[0].days > 50, "{}", before.advice[0].days);
    assert_eq!(before.advice, after.advice);
}
