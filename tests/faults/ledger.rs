//! Ledger: what clients asked for and what they were answered, in the order in which it happened.

use std::fs::File;
use std::io::Write;
use std::sync::{Mutex, MutexGuard, PoisonError};

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use nextrung_domain::event::EventBody;
use nextrung_domain::set::SetEntry;

/// The roster of every run.
pub(crate) const ROSTER: &str = "rosters/hall";
/// The mark of a trace that says that roster and athletes are there.
pub(crate) const MADE: u64 = u64::MAX;

/// What a client wants.
#[derive(Debug, Clone)]
pub(crate) enum Wish {
    Record(Vec<v1::LoggedSet>),
    /// The set's new content; the reason is the request's id.
    Correct(Box<v1::LoggedSet>),
    /// The set's id; the reason is the request's id.
    Withdraw(String),
    /// A prescription for the day, kept.
    Prescribe(v1::Date),
}

/// What a client was answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Answer {
    /// The whole answer as it came.
    pub(crate) bytes: Vec<u8>,
    /// The sequences of the events it was told of, in the order of the request.
    pub(crate) sequences: Vec<u64>,
    /// The id of a prescription; else empty.
    pub(crate) prescription: String,
}

/// One request, however often it was sent.
#[derive(Debug, Clone)]
pub(crate) struct Sent {
    /// The athlete's id.
    pub(crate) athlete: String,
    pub(crate) request_id: String,
    pub(crate) wish: Wish,
    /// When it was first sent, in ticks of the ledger.
    pub(crate) begun: u64,
    /// When it was first answered, and what.
    pub(crate) answered: Option<(u64, Answer)>,
}

/// One event as it can be told of by those who sent it and by the log.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Told {
    /// What tells it from all others of the athlete.
    pub(crate) key: String,
    pub(crate) content: String,
}

impl Sent {
    /// The events it should leave in the log, in order.
    pub(crate) fn told(&self) -> Vec<Told> {
        let reason = &self.request_id;
        match &self.wish {
            Wish::Record(sets) => sets.iter().map(|set| told("recorded", set, "")).collect(),
            Wish::Correct(set) => vec![told("corrected", set, reason)],
            Wish::Withdraw(id) => vec![withdrawn(id, reason)],
            Wish::Prescribe(_) => Vec::new(),
        }
    }
}

fn told(kind: &str, set: &v1::LoggedSet, reason: &str) -> Told {
    Told { key: format!("{kind} {} {reason}", set.client_set_id), content: content(set) }
}

fn withdrawn(id: &str, reason: &str) -> Told {
    Told { key: format!("withdrawn {id} {reason}"), content: String::new() }
}

/// What a set says, from the contract's message.
pub(crate) fn content(set: &v1::LoggedSet) -> String {
    let v1::Date { year, month, day } = set.training_date.unwrap_or_default();
    let rung = set.rung.replace("ladders/", "").replace("/rungs/", "/");
    let reps = if let Some(Done::Reps(reps)) = set.done { reps } else { -1 };
    format!("{year:04}-{month:02}-{day:02} {} {rung} {reps} {}", set.set_number, set.note)
}

/// What a set says, from the log.
pub(crate) fn entry_content(set: &SetEntry) -> String {
    format!("{} {} {} {} {}", set.date, set.number.get(), set.rung, set.done, set.note)
}

/// An event of the log.
pub(crate) fn told_by_log(body: &EventBody) -> Told {
    let told = |kind: &str, set: &SetEntry, reason: &str| Told {
        key: format!("{kind} {} {reason}", set.client_set_id),
        content: entry_content(set),
    };
    match body {
        EventBody::Recorded { set } => told("recorded", set, ""),
        EventBody::Corrected { set, reason } => told("corrected", set, reason),
        EventBody::Withdrawn { client_set_id, reason } => withdrawn(client_set_id.as_str(), reason),
        EventBody::Profiled { .. } => Told { key: "profiled".to_owned(), content: String::new() },
    }
}

#[derive(Default)]
struct Pages {
    ticks: u64,
    sent: Vec<Sent>,
    /// The trace that gets a mark for each answer.
    marks: Option<File>,
}

/// What was asked and answered so far.
#[derive(Default)]
pub(crate) struct Ledger(Mutex<Pages>);

impl Ledger {
    /// One that marks each answer in a trace, which must be open for appending.
    pub(crate) fn marking(trace: File) -> Self {
        Self(Mutex::new(Pages { marks: Some(trace), ..Pages::default() }))
    }

    fn pages(&self) -> MutexGuard<'_, Pages> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Writes down a request before it is sent; its number.
    pub(crate) fn begin(&self, athlete: &str, request_id: String, wish: Wish) -> usize {
        let mut pages = self.pages();
        pages.ticks += 1;
        let (athlete, begun) = (athlete.to_owned(), pages.ticks);
        pages.sent.push(Sent { athlete, request_id, wish, begun, answered: None });
        pages.sent.len() - 1
    }

    /// Writes down an answer. False when the request was answered otherwise before.
    pub(crate) fn answered(&self, number: usize, answer: Answer) -> bool {
        let mut pages = self.pages();
        pages.ticks += 1;
        let tick = pages.ticks;
        pages.mark(number.try_into().expect("a small number"));
        match &mut pages.sent[number].answered {
            Some((_, first)) => *first == answer,
            none => {
                *none = Some((tick, answer));
                true
            }
        }
    }

    /// Says in the trace that roster and athletes are there.
    pub(crate) fn made(&self) {
        self.pages().mark(MADE);
    }

    /// A request.
    pub(crate) fn sent(&self, number: usize) -> Sent {
        self.pages().sent[number].clone()
    }

    /// Everything so far.
    pub(crate) fn all(&self) -> Vec<Sent> {
        self.pages().sent.clone()
    }

    /// Requests answered so far.
    pub(crate) fn count(&self) -> usize {
        self.pages().sent.iter().filter(|sent| sent.answered.is_some()).count()
    }
}

impl Pages {
    /// One write, so that it stands whole between the records of the shim.
    fn mark(&mut self, number: u64) {
        if let Some(trace) = &mut self.marks {
            let mut record = [0; 16];
            record[0] = b'M';
            record[8..].copy_from_slice(&number.to_ne_bytes());
            trace.write_all(&record).expect("the trace");
        }
    }
}

/// Sets in requests that were answered.
pub(crate) fn acknowledged_sets(sent: &[Sent]) -> usize {
    let answered = sent.iter().filter(|sent| sent.answered.is_some());
    answered.map(|sent| if let Wish::Record(sets) = &sent.wish { sets.len() } else { 0 }).sum()
}
