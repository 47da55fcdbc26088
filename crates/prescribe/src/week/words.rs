//! Words: the days of a week and the week itself as a coach would tell them.

use nextrung_domain::ids::LadderId;
use nextrung_domain::ladder::Side;

use super::content::{DayContent, Session};
use super::load::Load;
use super::wish::ladder_words;
use super::{Ask, Chosen, PlannedDay, Wish};
use crate::day::WEEKDAYS;
use crate::prescription::{Block, Item, Kind};
use crate::reason::{Reason, ReasonCode};
use crate::wording::{capital, small};

/// The name of a weekday, 0 for Monday.
pub(super) fn weekday(number: u8) -> &'static str {
    WEEKDAYS.get(usize::from(number)).map_or("", |name| name.trim_end_matches('s'))
}

/// `a, b and c`.
pub(super) fn list(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Sides as the name of a day: `bent-arm and legs`.
fn sides_words(sides: &[Side]) -> String {
    list(&sides.iter().map(|s| s.word().to_owned()).collect::<Vec<_>>())
}

/// What a session is called.
fn session_words(session: &Session) -> String {
    match (session.load.is_rest(), session.sides.is_empty()) {
        (true, _) => "rest".to_owned(),
        (false, true) => "balance practice alone".to_owned(),
        (false, false) => sides_words(&session.sides),
    }
}

/// One day in a sentence. `earlier` is what was planned for it before it was past, `rule` what the rule of a day would
/// choose instead.
pub(super) fn day(
    ask: &Ask<'_>,
    chosen: &Chosen<'_>,
    number: usize,
    (earlier, rule): (Option<&PlannedDay>, Option<&Session>),
) -> String {
    let (day, session) = chosen.day(number);
    let load = &chosen.loads[number];
    if !day.is_open {
        return past(ask, day, load, earlier);
    }
    let mut sentence = match session.filter(|s| !s.load.is_rest()) {
        Some(session) => training(ask, session, chosen.before(number)),
        None => rest(ask, chosen, number),
    };
    if let Some(rule) = rule {
        sentence +=
            &format!(" Asked on the day alone, it would be {}: keep to the plan.", session_words(rule));
    }
    sentence
}

fn past(ask: &Ask<'_>, day: &DayContent, load: &Load, earlier: Option<&PlannedDay>) -> String {
    match (load.is_rest(), earlier) {
        (false, _) => {
            let trained = ask.trained.iter().find(|t| t.day == day.date.day_number());
            let mut ladders: Vec<&LadderId> = Vec::new();
            for effort in trained.iter().flat_map(|t| &t.efforts) {
                let id = &ask.model.catalog.ladder_of(effort.rung).id;
                if !ladders.contains(&id) {
                    ladders.push(id);
                }
            }
            let names: Vec<String> = ladders.into_iter().map(|l| ladder_words(ask, l)).collect();
            format!("Trained: {}, {} sets.", list(&names), load.sets)
        }
        (true, Some(planned)) if planned.sides.is_empty() => {
            "Missed: balance practice was planned.".to_owned()
        }
        (true, Some(planned)) => format!("Missed: {} was planned.", sides_words(&planned.sides)),
        (true, None) => "Nothing was trained.".to_owned(),
    }
}

fn training(ask: &Ask<'_>, session: &Session, before: Option<&Load>) -> String {
    let catalog = ask.model.catalog.as_ref();
    let is_first = session.items.first().is_some_and(|i| i.block == Block::BalancePractice);
    if session.sides.is_empty() {
        let is_hard = before.is_some_and(|b| !b.hard.is_empty());
        let why = if is_hard { ": what was worked hard the day before rests" } else { "" };
        return format!("Balance practice alone{why}.");
    }
    let mut names: Vec<String> = Vec::new();
    let is_strength = |i: &&Item| catalog.ladder(&i.rung.ladder).is_some_and(|l| l.side != Side::Balance);
    for item in session.items.iter().filter(|i| i.block != Block::Attempt).filter(is_strength) {
        let name = ladder_words(ask, &item.rung.ladder);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let hard: Vec<String> = session.load.hard.iter().map(|a| small(&catalog.ability(*a).name)).collect();
    let mut sentence = format!("{} day: {}", capital(&sides_words(&session.sides)), list(&names));
    if !hard.is_empty() {
        sentence += &format!(", hard on {}", list(&hard));
    }
    if is_first {
        sentence += "; balance practice comes first";
    }
    let finds_out = |r: &Reason| matches!(r.code, ReasonCode::NothingKnown | ReasonCode::DoubtTooWide);
    let is_test = |i: &Item| i.block == Block::Test && i.reasons.iter().any(finds_out);
    if session.items.iter().any(is_test) {
        sentence += "; a short test finds the rung before there is work on it";
    }
    sentence + "."
}

fn rest(ask: &Ask<'_>, chosen: &Chosen<'_>, number: usize) -> String {
    let (day, _) = chosen.day(number);
    if !day.is_available {
        let name = WEEKDAYS.get(usize::from(day.date.weekday())).unwrap_or(&"");
        return format!("The athlete does not train on {name}.");
    }
    if day.sessions.len() == 1 {
        return match day.hold_backs.first() {
            Some(hold) => format!("Held back: {} {}", hold.detail, hold.opened_by),
            None => "Rest: there is nothing to train.".to_owned(),
        };
    }
    let all = chosen.content.before.iter().chain(&chosen.loads[..number]);
    let in_row = all.rev().take_while(|l| !l.is_rest()).count();
    if i32::try_from(in_row).unwrap_or(i32::MAX) >= ask.policy.days_in_row {
        return format!("Rest after {in_row} training days in a row.");
    }
    match chosen.before(number) {
        Some(before) if !before.hard.is_empty() => {
            "Rest, so that the work of the day before can grow.".to_owned()
        }
        Some(_) | None => "Rest.".to_owned(),
    }
}

/// The week in sentences: what is planned, what was missed, what cannot be met, how to take it.
pub(super) fn week(days: &[PlannedDay], wishes: &[Wish]) -> Vec<String> {
    let mut sentences = vec![headline(days)];
    let named = |of: &dyn Fn(&PlannedDay) -> bool| {
        let days = days.iter().filter(|d| of(d));
        days.map(|d| weekday(d.date.weekday()).to_owned()).collect::<Vec<_>>()
    };
    let missed = named(&|d| d.is_missed);
    if !missed.is_empty() {
        let verb = if missed.len() == 1 { "was" } else { "were" };
        sentences.push(format!(
            "{} {verb} missed; the days left make up for it as far as rest allows.",
            list(&missed)
        ));
    }
    let unmet: Vec<&Wish> = wishes.iter().filter(|w| w.missed > 0).collect();
    if unmet.is_empty() {
        sentences.push("Every wish of the week is met.".to_owned());
    }
    sentences.extend(unmet.into_iter().map(|w| w.sentence.clone()));
    let otherwise = named(&|d| d.is_otherwise);
    if !otherwise.is_empty() {
        sentences.push(format!(
            "A day's prescription looks back and not ahead: on {} it would choose otherwise.",
            list(&otherwise)
        ));
    }
    sentences.push("Rungs, sets and targets come with each day's prescription.".to_owned());
    sentences
}

/// Sessions of the open days, side by side.
fn headline(days: &[PlannedDay]) -> String {
    let open: Vec<&PlannedDay> = days.iter().filter(|d| !d.is_past).collect();
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for day in &open {
        let what = match day.kind {
            Kind::Rest => "rest".to_owned(),
            Kind::HeldBack => "held back".to_owned(),
            Kind::Training | Kind::Test if day.sides.is_empty() => "balance practice".to_owned(),
            Kind::Training | Kind::Test => sides_words(&day.sides),
        };
        let name = weekday(day.date.weekday()).to_owned();
        match groups.iter_mut().find(|(known, _)| *known == what) {
            Some((_, names)) => names.push(name),
            None => groups.push((what, vec![name])),
        }
    }
    groups.sort_by_key(|(what, _)| (what == "held back", what == "rest"));
    let told: Vec<String> = groups.iter().map(|(what, names)| format!("{what} on {}", list(names))).collect();
    capital(&format!("{}.", told.join("; ")))
}
