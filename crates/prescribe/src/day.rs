//! Day: rest or training, and which side of the training is due.

use nextrung_domain::ids::{LadderId, RungRef};
use nextrung_domain::ladder::Side;

use crate::hold_back::pain_on;
use crate::reason::{Figure, Reason, ReasonCode};
use crate::session::practice;
use crate::situation::Situation;
use crate::wording::{ago, capital};

/// Days of the week in the plural, Monday first.
pub(crate) const WEEKDAYS: [&str; 7] =
    ["Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays"];
/// Ladders trained when no goal is set and nothing was trained lately; common practice, no source.
const STARTERS: [&str; 3] = ["pull", "push-up", "one-leg-squat"];

/// What kind of day it is.
#[derive(Debug, Clone, PartialEq)]
pub enum Day {
    /// Rest, and why.
    Rest(Reason),
    /// Training of these sides, and why; balance may be practised too.
    Train {
        /// Bent-arm or straight-arm, and legs; empty when only balance is left.
        sides: Vec<Side>,
        /// Why.
        reasons: Vec<Reason>,
    },
}

/// The ladders to train, what counts most first: those of pins, those of the goals, then those on which a goal in reach wants
/// something shown. Without goals those trained lately stand for them, else a plain start.
pub fn wanted_ladders(at: &Situation<'_>) -> Vec<LadderId> {
    let known = |rung: &RungRef| at.catalog().ladder(&rung.ladder).map(|ladder| ladder.id.clone());
    let goals = each_once(at.profile.goals.iter().filter_map(|goal| known(&goal.rung)));
    let asked = crate::opening::ladders_asked(at, &goals);
    let mut others: Vec<LadderId> = goals.into_iter().chain(asked).collect();
    if others.is_empty() {
        let is_late = |day: i32| at.day() - day <= crate::history::MEMORY_DAYS;
        let lately = at.history.ladders.iter().filter(|(_, note)| is_late(note.day));
        others.extend(lately.map(|(number, _)| at.catalog().ladders()[*number].id.clone()));
    }
    if others.is_empty() {
        others.extend(STARTERS.iter().filter_map(|id| {
            at.catalog().ladders().iter().find(|l| l.id.as_str() == *id).map(|l| l.id.clone())
        }));
    }
    let pins = at.profile.limits.pins.iter().filter_map(|pin| known(&pin.rung));
    each_once(pins.chain(others))
}

fn each_once(ladders: impl Iterator<Item = LadderId>) -> Vec<LadderId> {
    let mut found: Vec<LadderId> = Vec::new();
    for ladder in ladders {
        if !found.contains(&ladder) {
            found.push(ladder);
        }
    }
    found
}

fn side_of(at: &Situation<'_>, ladder: &LadderId) -> Option<Side> {
    at.catalog().ladder(ladder).map(|l| l.side)
}

/// Rest or training, from the weekday and the work of the last days.
pub fn decide(at: &Situation<'_>, wanted: &[LadderId]) -> Day {
    let weekday = at.date.weekday();
    if !at.profile.days.has(weekday) {
        let name = WEEKDAYS[usize::from(weekday)];
        let sentence = format!("The athlete does not train on {name}.");
        let figures = vec![Figure::count("weekday", weekday, "days-after-monday")];
        return Day::Rest(Reason::new(ReasonCode::WeekdayNotAvailable, sentence, figures));
    }
    let in_row = at.history.days_in_row_to(at.day() - 1);
    if in_row >= at.policy.days_in_row {
        let sentence = format!("{in_row} training days in a row: rest now.");
        let figures = vec![Figure::count("days-in-row", in_row, "days")];
        return Day::Rest(Reason::new(ReasonCode::RestAfterRecentWork, sentence, figures));
    }
    choose_sides(at, wanted)
}

/// Days since a side was last trained; a large number when it was not.
fn days_since(at: &Situation<'_>, side: Side) -> i32 {
    at.history.last_day_on(side, at.policy.side_sets).map_or(i32::MAX, |day| at.day() - day)
}

/// Arm sides of the wanted ladders, the dearest first.
pub(crate) fn arms_wanted(at: &Situation<'_>, wanted: &[LadderId]) -> Vec<Side> {
    let mut arms: Vec<Side> = Vec::new();
    for ladder in wanted {
        if let Some(side @ (Side::BentArm | Side::StraightArm)) = side_of(at, ladder)
            && !arms.contains(&side)
        {
            arms.push(side);
        }
    }
    arms
}

/// True when a ladder of the legs is wanted.
pub(crate) fn are_legs_wanted(at: &Situation<'_>, wanted: &[LadderId]) -> bool {
    wanted.iter().any(|l| side_of(at, l) == Some(Side::Legs))
}

/// The sides due, from the days since each was last trained: of the arms the one that has waited longest, the dearest of
/// equals, and the legs; none that was trained the day before.
pub(crate) fn sides_due(arms: &[Side], are_legs_wanted: bool, since: impl Fn(Side) -> i32) -> Vec<Side> {
    let rested = |side: &Side| since(*side) >= 2;
    let due = arms.iter().copied().filter(rested).max_by_key(|s| (since(*s), arms.first() == Some(s)));
    let legs = Some(Side::Legs).filter(|legs| are_legs_wanted && rested(legs));
    due.into_iter().chain(legs).collect()
}

fn choose_sides(at: &Situation<'_>, wanted: &[LadderId]) -> Day {
    let all_arms = arms_wanted(at, wanted);
    let hurt: Vec<Side> = all_arms.iter().copied().filter(|side| is_hurt(at, wanted, *side)).collect();
    let is_choice = hurt.len() < all_arms.len();
    let arms: Vec<Side> =
        all_arms.iter().copied().filter(|side| !is_choice || !hurt.contains(side)).collect();
    let legs = are_legs_wanted(at, wanted);
    let sides = sides_due(&arms, legs, |side| days_since(at, side));
    let due = sides.first().copied().filter(|side| *side != Side::Legs);
    if sides.is_empty() && practice::ladders(at, wanted).is_empty() {
        let all = arms.iter().copied().chain(legs.then_some(Side::Legs));
        let since = all.map(|s| days_since(at, s)).min().unwrap_or(0);
        let when = ago(since);
        let sentence = format!("What the goals load was worked hard {when}: rest, so that it can grow.");
        let figures = vec![Figure::count("days-since", since, "days")];
        return Day::Rest(Reason::new(ReasonCode::RestAfterRecentWork, sentence, figures));
    }
    let hurt = hurt.first().copied().filter(|_| is_choice);
    Day::Train {
        reasons: due.map(|side| side_reason(at, side, (&all_arms, hurt))).into_iter().collect(),
        sides,
    }
}

/// True when pain holds back every rung of the wanted ladders on a side.
pub(crate) fn is_hurt(at: &Situation<'_>, wanted: &[LadderId], side: Side) -> bool {
    let of_side = wanted.iter().filter(|ladder| side_of(at, ladder) == Some(side));
    !at.history.pains.is_empty()
        && of_side.flat_map(|ladder| at.catalog().rungs_of(ladder)).all(|rung| pain_on(at, rung).is_some())
}

fn side_reason(at: &Situation<'_>, side: Side, (arms, hurt): (&[Side], Option<Side>)) -> Reason {
    let since = days_since(at, side);
    let mut figures = Vec::new();
    if since != i32::MAX {
        figures.push(Figure::count("days-since", since, "days"));
    }
    let other = arms.iter().find(|s| **s != side);
    let sentence = match other {
        Some(other) if hurt == Some(*other) => {
            format!("{} day: pain holds the {} side back.", capital(side.word()), other.word())
        }
        Some(other) if days_since(at, *other) != i32::MAX => {
            let days = days_since(at, *other);
            figures.push(Figure::count("days-since-other", days, "days"));
            format!("{} day: the {} side was trained {}.", capital(side.word()), other.word(), ago(days))
        }
        Some(_) => {
            format!("{} day: both sides are fresh, and the dearest goal comes first.", capital(side.word()))
        }
        None => format!("{} day: all arm goals lie on this side.", capital(side.word())),
    };
    Reason::new(ReasonCode::SideAlternation, sentence, figures)
}

/// Ladders of the day, in the order of the goals.
pub fn ladders_of_day(at: &Situation<'_>, wanted: &[LadderId], sides: &[Side]) -> Vec<LadderId> {
    let fits = |l: &&LadderId| side_of(at, l).is_some_and(|s| sides.contains(&s));
    wanted.iter().filter(fits).take(at.policy.ladders_a_session).cloned().collect()
}
