//! Planted: the check finds each way in which a log can be wrong, and nothing in one that is right.

use std::collections::BTreeSet;

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;

use crate::check::{Log, Wrong, check};
use crate::ledger::{Answer, Ledger, Sent, Told, Wish};

fn set(id: &str, reps: i32) -> v1::LoggedSet {
    v1::LoggedSet {
        client_set_id: id.to_owned(),
        training_date: Some(v1::Date { year: 2026, month: 3, day: 2 }),
        set_number: 1,
        rung: "ladders/pull/rungs/pull-up".to_owned(),
        done: Some(Done::Reps(reps)),
        ..v1::LoggedSet::default()
    }
}

fn answer(sequences: &[u64], prescription: &str) -> Answer {
    Answer { bytes: Vec::new(), sequences: sequences.to_vec(), prescription: prescription.to_owned() }
}

/// Two batches, a correction, a withdrawal and two prescriptions that were answered, and a batch and a prescription that
/// were not; with the log they leave when what was not answered was not done.
fn right() -> (Vec<Sent>, Log) {
    let ledger = Ledger::default();
    let day = v1::Date { year: 2026, month: 3, day: 11 };
    let wishes = [
        (Wish::Record(vec![set("a", 1), set("b", 2)]), Some(answer(&[2, 3], ""))),
        (Wish::Record(vec![set("c", 3), set("d", 4)]), None),
        (Wish::Correct(Box::new(set("a", 5))), Some(answer(&[4], ""))),
        (Wish::Withdraw("b".to_owned()), Some(answer(&[5], ""))),
        (Wish::Prescribe(day), Some(answer(&[], "p-1"))),
        (Wish::Prescribe(day), Some(answer(&[], "p-2"))),
        (Wish::Prescribe(day), None),
        (Wish::Record(vec![set("e", 6)]), Some(answer(&[6], ""))),
    ];
    for (number, (wish, answered)) in wishes.into_iter().enumerate() {
        let number = ledger.begin("wren", format!("r{number}"), wish);
        if let Some(answered) = answered {
            assert!(ledger.answered(number, answered));
        }
    }
    let sent = ledger.all();
    let profiled = Told { key: "profiled".to_owned(), content: String::new() };
    let answered = sent.iter().filter(|one| one.answered.is_some());
    let told = std::iter::once(profiled).chain(answered.flat_map(Sent::told));
    let log = Log { events: (1..).zip(told).collect(), prescriptions: vec!["p-1".into(), "p-2".into()] };
    (sent, log)
}

fn wrongs(sent: &[Sent], log: &Log) -> BTreeSet<Wrong> {
    check("wren", sent, log).into_iter().map(|finding| finding.wrong).collect()
}

/// Gives events the sequences 1, 2, 3 again.
fn count_anew(log: &mut Log) {
    (1..).zip(&mut log.events).for_each(|(sequence, event)| event.0 = sequence);
}

/// What a changed log is found to be.
#[track_caller]
fn finds(wanted: &[Wrong], change: impl FnOnce(&mut Vec<Sent>, &mut Log)) {
    let (mut sent, mut log) = right();
    change(&mut sent, &mut log);
    assert_eq!(wrongs(&sent, &log), wanted.iter().copied().collect());
}

#[test]
fn a_right_log_is_found_right() {
    finds(&[], |_, _| ());
}

#[test]
fn what_was_not_answered_may_have_been_done_once_and_as_a_whole() {
    finds(&[], |sent, log| {
        log.events.extend((7..).zip(sent[1].told()));
        log.prescriptions.push("p-3".to_owned());
    });
    finds(&[Wrong::Half], |sent, log| log.events.push((7, sent[1].told().remove(0))));
    finds(&[Wrong::Twice], |sent, log| {
        let twice: Vec<Told> = [sent[1].told(), sent[1].told()].concat();
        log.events.extend((7..).zip(twice));
    });
    finds(&[Wrong::Stranger], |_, log| log.prescriptions.extend(["p-3".to_owned(), "p-4".to_owned()]));
}

#[test]
fn a_lost_set_is_found() {
    finds(&[Wrong::Lost], |_, log| drop(log.events.pop()));
    finds(&[Wrong::Lost, Wrong::Gap, Wrong::Half], |_, log| drop(log.events.remove(2)));
    finds(&[Wrong::Lost, Wrong::Gap], |_, log| drop(log.events.remove(3)));
    finds(&[Wrong::Lost, Wrong::Moved], |_, log| {
        log.events.remove(4);
        count_anew(log);
    });
    finds(&[Wrong::Lost], |_, log| drop(log.prescriptions.pop()));
}

#[test]
fn a_set_that_is_there_twice_is_found() {
    finds(&[Wrong::Twice], |_, log| {
        let event = log.events[1].1.clone();
        log.events.push((7, event));
    });
    finds(&[Wrong::Twice], |_, log| log.prescriptions.push("p-1".to_owned()));
}

#[test]
fn an_altered_set_is_found() {
    finds(&[Wrong::Altered], |_, log| log.events[1].1.content = "2026-03-02 1 pull/pull-up 9 ".to_owned());
}

#[test]
fn a_stranger_is_found() {
    finds(&[Wrong::Stranger], |_, log| {
        let told = Told { key: "recorded z ".to_owned(), content: String::new() };
        log.events.push((7, told));
    });
    finds(&[Wrong::Stranger], |_, log| {
        let profiled = log.events[0].1.clone();
        log.events.push((7, profiled));
    });
}

#[test]
fn a_gap_is_found() {
    finds(&[Wrong::Gap, Wrong::Moved], |_, log| log.events[5].0 = 7);
    finds(&[Wrong::Gap, Wrong::Moved], |_, log| log.events.iter_mut().skip(3).for_each(|event| event.0 += 1));
}

#[test]
fn a_change_of_order_is_found() {
    finds(&[Wrong::Moved, Wrong::Disorder], |_, log| {
        log.events.swap(3, 4);
        count_anew(log);
    });
    // Even when the answers agree with it.
    finds(&[Wrong::Disorder], |sent, log| {
        log.events.swap(3, 4);
        count_anew(log);
        for (request, sequence) in [(2, 5), (3, 4)] {
            if let Some((_, answer)) = &mut sent[request].answered {
                answer.sequences = vec![sequence];
            }
        }
    });
}

#[test]
fn another_answer_to_the_same_request_is_found() {
    let ledger = Ledger::default();
    let number = ledger.begin("wren", "r".to_owned(), Wish::Record(vec![set("a", 1)]));
    assert!(ledger.answered(number, answer(&[2], "")));
    assert!(ledger.answered(number, answer(&[2], "")));
    assert!(!ledger.answered(number, answer(&[3], "")));
}
