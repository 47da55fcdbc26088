//! Wishes: what a plan reaches of each, and what it misses.

use std::collections::BTreeSet;

use nextrung_domain::ability::AbilityIx;
use nextrung_domain::ladder::Side;

use super::load::Load;
use super::tally::{EXPOSURES, PRACTICE_DAYS, Space};
use super::why::Whys;
use super::{Ask, Chosen, Subject, Wish};
use crate::reason::Figure;
use crate::wording::{capital, small};

/// A wish with what was counted for it, before it is put into words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Outcome {
    /// Which.
    pub(super) about: About,
    /// What was counted: sessions, days, pairs of days, repeats.
    pub(super) count: u32,
    /// What is missed.
    pub(super) missed: u32,
}

/// Which wish about what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum About {
    /// Exposures to a ladder of the aims.
    Exposures(usize),
    /// Practice on a ladder of the aims.
    Practice(usize),
    /// A day between hard work on a strength.
    Spacing(AbilityIx),
    /// The arm sides take turns.
    Alternation,
    /// Not too many days in a row.
    DaysInRow,
    /// A day of rest.
    RestDay,
}

/// What a plan reaches of each wish, counted from the days as they stand.
pub(super) fn outcomes(space: &Space, loads: &[Load]) -> Vec<Outcome> {
    let days = |has: &dyn Fn(&Load) -> bool| whole(loads.iter().filter(|l| has(l)).count());
    let flag = |flags: &[bool], at: usize| flags.get(at).copied().unwrap_or(false);
    let mut found = Vec::new();
    for at in 0..space.ladders.0 {
        let count = days(&|l| flag(&l.exposures, at));
        let missed = EXPOSURES.0.saturating_sub(count) + count.saturating_sub(EXPOSURES.1);
        found.push(Outcome { about: About::Exposures(at), count, missed });
    }
    for at in 0..space.ladders.1 {
        let count = days(&|l| flag(&l.practice, at));
        let missed = PRACTICE_DAYS.saturating_sub(count);
        found.push(Outcome { about: About::Practice(at), count, missed });
    }
    let all: Vec<&Load> = space.before.iter().chain(loads).collect();
    let pairs: Vec<(&Load, &Load)> =
        all.windows(2).skip(space.before.len().saturating_sub(1)).map(|w| (w[0], w[1])).collect();
    let hard: BTreeSet<AbilityIx> = loads.iter().flat_map(|l| l.hard.iter().copied()).collect();
    for ability in hard {
        let is_shared = |(a, b): &&(&Load, &Load)| a.hard.contains(&ability) && b.hard.contains(&ability);
        let missed = whole(pairs.iter().filter(is_shared).count());
        found.push(Outcome { about: About::Spacing(ability), count: missed, missed });
    }
    if space.is_alternating {
        let missed = repeats(space, loads);
        found.push(Outcome { about: About::Alternation, count: missed, missed });
    }
    let missed = days_over(space, loads);
    found.push(Outcome { about: About::DaysInRow, count: missed, missed });
    let count = days(&Load::is_rest);
    found.push(Outcome { about: About::RestDay, count, missed: u32::from(count == 0) });
    found
}

/// How often an arm side follows itself.
fn repeats(space: &Space, loads: &[Load]) -> u32 {
    let before: Option<Side> = space.before.iter().rev().find_map(|l| l.arm);
    let arms: Vec<Side> = before.into_iter().chain(loads.iter().filter_map(|l| l.arm)).collect();
    whole(arms.windows(2).filter(|w| w[0] == w[1]).count())
}

/// Days of the week that come after the most days in a row.
fn days_over(space: &Space, loads: &[Load]) -> u32 {
    let mut in_row = 0;
    let mut over = 0;
    for (at, load) in space.before.iter().chain(loads).enumerate() {
        in_row = if load.is_rest() { 0 } else { in_row + 1 };
        over += u32::from(at >= space.before.len() && in_row > space.days_in_row);
    }
    over
}

/// `once`, `twice` or `3 times`.
fn times(count: u32) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

fn whole(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}

/// Every wish in words, with why it could not be met.
pub(super) fn all(ask: &Ask<'_>, chosen: &Chosen<'_>, space: &Space) -> Vec<Wish> {
    let found = outcomes(space, &chosen.loads);
    let is_short = found.iter().any(|o| o.missed > 0);
    let whys = is_short.then(|| Whys::of(ask, chosen));
    found.iter().map(|outcome| in_words(ask, chosen, outcome, whys.as_ref())).collect()
}

fn in_words(ask: &Ask<'_>, chosen: &Chosen<'_>, outcome: &Outcome, whys: Option<&Whys<'_>>) -> Wish {
    let Outcome { about, count, missed } = *outcome;
    let aims = &chosen.content.aims;
    let ladder_name = |id| ask.model.catalog.ladder(id).map_or_else(String::new, |l| l.name.clone());
    let why = || whys.map_or_else(String::new, |w| w.tell(outcome));
    let reached = |name: &str, unit: &str, wanted: &str| {
        let start = format!("{name}: {count} {unit}, {wanted} wanted");
        if missed == 0 { format!("{start}.") } else { format!("{start}. {}", why()) }
    };
    let (wish, subject, unit, sentence) = match about {
        About::Exposures(at) => {
            let id = &aims.ladders[at];
            let wanted = format!("{} to {}", EXPOSURES.0, EXPOSURES.1);
            let unit = if count == 1 { "session" } else { "sessions" };
            let sentence = reached(&ladder_name(id), unit, &wanted);
            ("exposures", Subject::Ladder(id.clone()), "sessions", sentence)
        }
        About::Practice(at) => {
            let id = &aims.practice[at];
            let wanted = format!("{PRACTICE_DAYS} or more");
            let unit = if count == 1 { "day of practice" } else { "days of practice" };
            let sentence = reached(&ladder_name(id), unit, &wanted);
            ("practice", Subject::Ladder(id.clone()), "days", sentence)
        }
        About::Spacing(ability) => {
            let ability = ask.model.catalog.ability(ability);
            let sentence = if missed == 0 {
                format!("{}: a day or more between hard work.", ability.name)
            } else {
                format!("{}: worked hard on days running {}. {}", ability.name, times(missed), why())
            };
            ("spacing", Subject::Ability(ability.id.clone()), "pairs-of-days", sentence)
        }
        About::Alternation => {
            let sentence = if missed == 0 {
                "Bent-arm and straight-arm take turns.".to_owned()
            } else {
                format!("The same arm side follows itself {}. {}", times(missed), why())
            };
            ("alternation", Subject::Week, "repeats", sentence)
        }
        About::DaysInRow => {
            let most = ask.policy.days_in_row;
            let sentence = if missed == 0 {
                format!("At most {most} days in a row.")
            } else {
                format!("More than {most} days in a row on {missed} of its days. {}", why())
            };
            ("days-in-row", Subject::Week, "days", sentence)
        }
        About::RestDay => {
            let sentence = match (missed, count) {
                (0, 1) => "One full day of rest.".to_owned(),
                (0, n) => format!("{n} full days of rest."),
                _ => format!("No full day of rest. {}", why()),
            };
            ("rest-day", Subject::Week, "days", sentence)
        }
    };
    let figures = figures(ask, about, count, unit);
    Wish { wish, subject, missed, figures, sentence: capital(&sentence) }
}

/// What was counted, and what was wanted of it.
fn figures(ask: &Ask<'_>, about: About, count: u32, unit: &'static str) -> Vec<Figure> {
    let mut figures = vec![Figure::count("count", count, unit)];
    match about {
        About::Exposures(_) => {
            figures.push(Figure::count("at-least", EXPOSURES.0, unit));
            figures.push(Figure::count("at-most", EXPOSURES.1, unit));
        }
        About::Practice(_) => figures.push(Figure::count("at-least", PRACTICE_DAYS, unit)),
        About::DaysInRow => figures.push(Figure::count("most-in-row", ask.policy.days_in_row, unit)),
        About::Spacing(_) | About::Alternation | About::RestDay => {}
    }
    figures
}

/// The name of a ladder in the middle of a sentence.
pub(super) fn ladder_words(ask: &Ask<'_>, id: &nextrung_domain::ids::LadderId) -> String {
    ask.model.catalog.ladder(id).map_or_else(|| id.to_string(), |l| small(&l.name))
}
