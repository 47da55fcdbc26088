//! Stops against targets, reserves and pain: what fits and what contradicts.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::Stop;

use crate::fixture::{five_pull_ups, only_problem, problems_of};

fn ended(stop: Stop, reps: i64, target: Option<i64>) -> SetDraft {
    SetDraft {
        stop: Choice::Known(stop),
        done: Some((Unit::Reps, reps)),
        planned_target: target,
        ..five_pull_ups()
    }
}

fn words(draft: &SetDraft) -> [String; 3] {
    let (field, found, expected) = only_problem(draft);
    [field, found, expected]
}

/// The fields named for a set with this stop, by hand from F-05 and the contract.
fn wanted(
    stop: Stop,
    reps: i64,
    target: Option<i64>,
    extras: (Option<i64>, Option<i64>),
) -> Vec<&'static str> {
    let (reserve, pain) = extras;
    let failed = [Stop::Strength, Stop::Balance, Stop::Line, Stop::Failed].contains(&stop);
    let mut fields = Vec::new();
    if stop == Stop::Target && target.is_none() {
        fields.push("planned_target");
    }
    if stop == Stop::Target && target.is_some_and(|t| reps < t) {
        fields.push("stop");
    }
    if stop == Stop::Chosen && target.is_some_and(|t| reps >= t) {
        fields.push("stop");
    }
    if failed && reserve.is_some_and(|r| r > 0) {
        fields.push("reps_in_reserve");
    }
    if stop == Stop::Pain && pain == Some(0) {
        fields.push("pain");
    }
    fields
}

#[test]
fn every_combination_is_judged() {
    let mut sound = 0;
    let mut refused = 0;
    for stop in Stop::ALL {
        for reps in [0, 4, 5, 6] {
            for target in [None, Some(5)] {
                for reserve in [None, Some(0), Some(2)] {
                    for pain in [None, Some(0), Some(4)] {
                        let mut draft = ended(stop, reps, target);
                        draft.reps_in_reserve = reserve;
                        draft.pain = pain;
                        let fields: Vec<String> = problems_of(&draft).into_iter().map(|p| p.field).collect();
                        let wanted = wanted(stop, reps, target, (reserve, pain));
                        assert_eq!(fields, wanted, "{stop:?} {reps} of {target:?}, {reserve:?}, {pain:?}");
                        if wanted.is_empty() { sound += 1 } else { refused += 1 }
                    }
                }
            }
        }
    }
    assert_eq!(sound + refused, 9 * 4 * 2 * 3 * 3);
    assert!(sound > 300 && refused > 100, "{sound} sound, {refused} refused");
}

#[test]
fn the_words_say_what_to_mend() {
    assert_eq!(
        words(&ended(Stop::Target, 5, None)),
        ["planned_target", "nothing", "the target set before the set, since the stop is `target`"]
    );
    assert_eq!(
        words(&ended(Stop::Target, 4, Some(5))),
        ["stop", "`target` at 4 reps", "a stop other than `target`, or at least the planned target of 5"]
    );
    assert_eq!(
        words(&ended(Stop::Chosen, 5, Some(5))),
        ["stop", "`chosen` at 5 reps", "`target`, since the planned target of 5 was reached"]
    );
    let mut left_over = ended(Stop::Balance, 3, Some(5));
    left_over.reps_in_reserve = Some(2);
    assert_eq!(
        words(&left_over),
        ["reps_in_reserve", "2", "0 or nothing, since the stop `balance` says that the next unit failed"]
    );
    let mut painless = ended(Stop::Pain, 3, None);
    painless.pain = Some(0);
    assert_eq!(words(&painless), ["pain", "0", "1 to 10, or nothing, since the stop is `pain`"]);
}

#[test]
fn a_bad_target_is_reported_once_and_not_as_missing() {
    for bad in [0, -3, 301] {
        assert_eq!(
            words(&ended(Stop::Target, 5, Some(bad))),
            ["planned_target".to_owned(), bad.to_string(), "a whole number from 1 to 300".to_owned()]
        );
    }
}

#[test]
fn contradictions_are_reported_beside_a_bad_count() {
    let mut draft = ended(Stop::Target, -1, None);
    let fields = |d: &SetDraft| problems_of(d).into_iter().map(|p| p.field).collect::<Vec<_>>();
    assert_eq!(fields(&draft), ["reps", "planned_target"]);
    draft.done = None;
    assert_eq!(fields(&draft), ["done", "planned_target"]);
    draft.stop = Choice::Known(Stop::Failed);
    draft.reps_in_reserve = Some(1);
    assert_eq!(fields(&draft), ["done", "reps_in_reserve"]);
}
