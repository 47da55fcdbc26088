//! Check: a log against the ledger of those who wrote it.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use crate::ledger::{Sent, Told};

/// In what way a log is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Wrong {
    /// Acknowledged and not there.
    Lost,
    /// There more than once.
    Twice,
    /// There with other content.
    Altered,
    /// There, and nobody sent it.
    Stranger,
    /// Sequences do not go 1, 2, 3.
    Gap,
    /// A part of a batch is there.
    Half,
    /// Elsewhere than the answer said.
    Moved,
    /// Before what was answered before it was sent.
    Disorder,
    /// Two ways to ask give two answers.
    Unequal,
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Finding {
    pub(crate) wrong: Wrong,
    pub(crate) what: String,
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?}: {}", self.wrong, self.what)
    }
}

/// An athlete's log as it was read.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Log {
    /// Events with their sequences, in the order in which they were read.
    pub(crate) events: Vec<(u64, Told)>,
    /// Ids of the prescriptions kept.
    pub(crate) prescriptions: Vec<String>,
}

/// Everything that is wrong with an athlete's log, given what was sent about the athlete.
pub(crate) fn check(athlete: &str, sent: &[Sent], log: &Log) -> Vec<Finding> {
    let sent: Vec<&Sent> = sent.iter().filter(|sent| sent.athlete == athlete).collect();
    let mut found = Vec::new();
    let mut say = |wrong, what: String| found.push(Finding { wrong, what: format!("{athlete}: {what}") });
    for (place, (sequence, told)) in (1..).zip(&log.events) {
        if *sequence != place {
            say(Wrong::Gap, format!("sequence {sequence} of {} at place {place}", told.key));
            break;
        }
    }
    let mut places: BTreeMap<&str, Vec<(u64, &str)>> = BTreeMap::new();
    for (sequence, told) in &log.events {
        places.entry(&told.key).or_default().push((*sequence, &told.content));
    }
    match places.remove("profiled").as_deref() {
        Some([(1, _)]) => {}
        other => say(Wrong::Stranger, format!("profiles at {other:?}")),
    }
    let mut spans = Vec::new();
    for one in &sent {
        let there: Vec<_> = one.told().into_iter().map(|told| (places.remove(&*told.key), told)).collect();
        judge(one, &there, &mut say);
        let ends =
            there.iter().filter_map(|(found, _)| found.as_ref()?.first()).map(|(sequence, _)| *sequence);
        if let (Some(first), Some(last)) = (ends.clone().min(), ends.max()) {
            spans.push((*one, first, last));
        }
    }
    places.into_iter().for_each(|(key, found)| say(Wrong::Stranger, format!("{key} at {found:?}")));
    order(&spans, &mut say);
    prescriptions(&sent, &log.prescriptions, &mut say);
    found
}

/// What the log has of one request.
type There<'l> = (Option<Vec<(u64, &'l str)>>, Told);

fn judge(one: &Sent, there: &[There<'_>], say: &mut impl FnMut(Wrong, String)) {
    let mut sequences = Vec::new();
    for (found, told) in there {
        let found = found.as_deref().unwrap_or_default();
        if found.len() > 1 {
            say(Wrong::Twice, format!("{} at {found:?}", told.key));
        }
        if found.is_empty() && one.answered.is_some() {
            say(Wrong::Lost, told.key.clone());
        }
        if let Some((_, content)) = found.iter().find(|(_, content)| *content != told.content) {
            say(Wrong::Altered, format!("{}: sent `{}`, there is `{content}`", told.key, told.content));
        }
        sequences.extend(found.first().map(|(sequence, _)| *sequence));
    }
    let is_whole = sequences.len() == there.len() && sequences.windows(2).all(|pair| pair[1] == pair[0] + 1);
    if !sequences.is_empty() && !is_whole {
        say(Wrong::Half, format!("request {} at {sequences:?}", one.request_id));
    }
    if let Some((_, answer)) = &one.answered
        && sequences.len() == there.len()
        && answer.sequences != sequences
    {
        let told = &answer.sequences;
        say(Wrong::Moved, format!("request {} told {told:?}, there are {sequences:?}", one.request_id));
    }
}

/// What was sent after an answer stands behind what was answered.
fn order(spans: &[(&Sent, u64, u64)], say: &mut impl FnMut(Wrong, String)) {
    let mut moments: Vec<(u64, Option<u64>, u64, &str)> = Vec::new();
    for (sent, first, last) in spans {
        moments.push((sent.begun, Some(*first), 0, &sent.request_id));
        moments.extend(sent.answered.iter().map(|(tick, _)| (*tick, None, *last, &*sent.request_id)));
    }
    moments.sort_unstable();
    let mut behind = 0;
    for (_, begun, last, request_id) in moments {
        if begun.is_some_and(|first| first <= behind) {
            say(Wrong::Disorder, format!("request {request_id} is not behind {behind}"));
        }
        behind = behind.max(last);
    }
}

fn prescriptions(sent: &[&Sent], kept: &[String], say: &mut impl FnMut(Wrong, String)) {
    let asked = sent.iter().filter(|one| one.told().is_empty());
    let there: BTreeSet<&str> = kept.iter().map(String::as_str).collect();
    if there.len() < kept.len() {
        say(Wrong::Twice, format!("prescriptions {kept:?}"));
    }
    let answered = asked.clone().filter_map(|one| one.answered.as_ref());
    let names: BTreeSet<&str> = answered.map(|(_, answer)| &*answer.prescription).collect();
    names.difference(&there).for_each(|name| say(Wrong::Lost, format!("prescription {name}")));
    let open = asked.filter(|one| one.answered.is_none()).count();
    if there.difference(&names).count() > open {
        say(Wrong::Stranger, format!("prescriptions {kept:?}, answered {names:?}, {open} not answered"));
    }
}
