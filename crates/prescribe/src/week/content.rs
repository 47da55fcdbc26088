//! Content: what sessions of each kind would hold on each open day, as the day's prescription would make them.

use nextrung_capacity::state::AthleteState;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::LadderId;
use nextrung_domain::ladder::Side;

use super::Ask;
use super::load::{Aims, Load, of_items};
use super::tally::{Choices, Ignored, LONG_AGO, Space};
use crate::day::{are_legs_wanted, arms_wanted, is_hurt, wanted_ladders};
use crate::history::MEMORY_DAYS;
use crate::hold_back::HoldBack;
use crate::prescription::Item;
use crate::session::{self, practice};
use crate::situation::Situation;

/// Days of a week.
pub(super) const DAYS: i32 = 7;

/// A session of some sides on some day.
#[derive(Debug, Clone, Default)]
pub(super) struct Session {
    /// Its sides; none for practice alone and for rest.
    pub(super) sides: Vec<Side>,
    /// What it holds; nothing on a day of rest.
    pub(super) items: Vec<Item>,
    /// What it comes to.
    pub(super) load: Load,
}

/// One day of the week with all that could be done on it.
#[derive(Debug, Clone)]
pub(super) struct DayContent {
    /// The day.
    pub(super) date: CivilDate,
    /// True when it is open.
    pub(super) is_open: bool,
    /// True when the athlete trains on this day of the week.
    pub(super) is_available: bool,
    /// Choices in their fixed order; what was done, on a past day.
    pub(super) sessions: Vec<Session>,
    /// The choice that sessions of some sides come to.
    of_sides: Vec<(Vec<Side>, usize)>,
    /// Arm sides that the rule of a day chooses from.
    arms: Vec<Side>,
    /// What would be held back.
    pub(super) hold_backs: Vec<HoldBack>,
}

/// The week with all that could be done in it.
#[derive(Debug, Clone)]
pub(super) struct Content {
    /// What it is about.
    pub(super) aims: Aims,
    /// The days before it, the last one last.
    pub(super) before: Vec<Load>,
    /// Days since each side was trained on the first of those.
    since: [i32; 4],
    /// Its days.
    pub(super) days: Vec<DayContent>,
}

/// A day's state and what may be asked of it.
fn at<'a>(ask: &Ask<'a>, state: &'a AthleteState, date: CivilDate) -> Situation<'a> {
    Situation {
        model: ask.model,
        state,
        history: ask.history,
        profile: ask.profile,
        policy: ask.policy,
        date,
    }
}

impl Content {
    /// What could be done in a week.
    pub(super) fn of(ask: &Ask<'_>) -> Self {
        let state = ask.state.on(&ask.model.parameters, ask.from.day_number());
        let first = at(ask, &state, ask.from);
        let wanted = wanted_ladders(&first);
        let aims = aims(&first, &wanted);
        let start = ask.start.day_number();
        let past = |day: i32| {
            let found = ask.trained.iter().find(|t| t.day == day);
            found.map_or_else(Load::default, |t| Load::of(&aims, &ask.model.catalog, &t.efforts))
        };
        let oldest = start - MEMORY_DAYS;
        let before = (oldest..start).map(past).collect();
        let since = Side::ALL.map(|side| {
            let last = ask.history.last_day_on(side, ask.policy.side_sets);
            last.filter(|day| *day < oldest).map_or(LONG_AGO, |day| oldest - day)
        });
        let days = (0..DAYS).map(|n| {
            let date = ask.start.plus_days(n);
            if date >= ask.from {
                return open_day(ask, date, (&aims, &wanted));
            }
            DayContent {
                date,
                is_open: false,
                is_available: ask.profile.days.has(date.weekday()),
                sessions: vec![Session { load: past(start + n), ..Session::default() }],
                of_sides: Vec::new(),
                arms: Vec::new(),
                hold_backs: Vec::new(),
            }
        });
        Self { before, since, days: days.collect(), aims }
    }

    /// The plans of the week; with every open day, whether the athlete trains on it or not, when `all_days` says so.
    pub(super) fn space(&self, all_days: bool, ignored: Ignored) -> Space {
        let can = |side: Side| self.days.iter().flat_map(|d| &d.sessions).any(|s| s.sides.contains(&side));
        let choices = |day: &DayContent| {
            let loads = day.sessions.iter().map(|s| s.load.clone());
            if day.is_available || all_days || !day.is_open {
                let (of_sides, arms) = (day.of_sides.clone(), day.arms.clone());
                return Choices { loads: loads.collect(), of_sides, arms };
            }
            Choices::only(Load::default())
        };
        Space {
            before: self.before.clone(),
            since: self.since,
            days: self.days.iter().map(choices).collect(),
            ladders: (self.aims.ladders.len(), self.aims.practice.len()),
            are_legs_wanted: self.aims.are_legs_wanted,
            is_alternating: [Side::BentArm, Side::StraightArm].into_iter().all(can),
            days_in_row: self.aims.days_in_row,
            ignored,
        }
    }

    /// The session at a place of a plan; rest where the athlete does not train.
    pub(super) fn session(&self, number: usize, place: usize) -> Option<&Session> {
        let day = self.days.get(number)?;
        day.sessions.get(place).filter(|_| day.is_available || !day.is_open)
    }
}

fn aims(at: &Situation<'_>, wanted: &[LadderId]) -> Aims {
    let is_strength = |l: &&LadderId| at.catalog().ladder(l).is_some_and(|l| l.side != Side::Balance);
    Aims {
        ladders: wanted.iter().filter(is_strength).cloned().collect(),
        practice: practice::ladders(at, wanted),
        arms: arms_wanted(at, wanted),
        are_legs_wanted: are_legs_wanted(at, wanted),
        side_sets: at.policy.side_sets,
        days_in_row: at.policy.days_in_row,
    }
}

/// Selections of sides in the fixed order that settles ties: the dearest arm side before the other, with legs before
/// without, legs alone, practice alone.
fn selections(aims: &Aims) -> Vec<Vec<Side>> {
    let legs = Some(Side::Legs).filter(|_| aims.are_legs_wanted);
    let mut found = Vec::new();
    for arm in aims.arms.iter().map(|arm| Some(*arm)).chain([None]) {
        if legs.is_some() {
            found.push(arm.into_iter().chain(legs).collect());
        }
        found.push(arm.into_iter().collect());
    }
    found
}

/// Arm sides that the rule of a day chooses from: one that pain holds back altogether leaves its day to the other.
fn arms_of_day(at: &Situation<'_>, wanted: &[LadderId], arms: &[Side]) -> Vec<Side> {
    let left: Vec<Side> = arms.iter().copied().filter(|side| !is_hurt(at, wanted, *side)).collect();
    if left.is_empty() { arms.to_vec() } else { left }
}

/// An open day: sessions that come to the same stand there once, rest comes last.
fn open_day(ask: &Ask<'_>, date: CivilDate, (aims, wanted): (&Aims, &[LadderId])) -> DayContent {
    let state = ask.state.on(&ask.model.parameters, date.day_number());
    let at = at(ask, &state, date);
    let mut day = DayContent {
        date,
        is_open: true,
        is_available: ask.profile.days.has(date.weekday()),
        sessions: Vec::new(),
        of_sides: Vec::new(),
        arms: arms_of_day(&at, wanted, &aims.arms),
        hold_backs: Vec::new(),
    };
    let mut selected = Vec::new();
    for sides in selections(aims) {
        let (items, hold_backs) = session::of_sides(&at, wanted, &sides);
        day.hold_backs
            .extend(hold_backs.into_iter().filter(|h| !day.hold_backs.contains(h)).collect::<Vec<_>>());
        let load = Load::of(aims, at.catalog(), &of_items(at.catalog(), &items));
        if !load.is_rest() && !day.sessions.iter().any(|s| s.load == load) {
            // A side that is held back altogether is no side of the session.
            let is_in = |side: &Side| {
                let of_item = |i: &Item| at.catalog().ladder(&i.rung.ladder).map(|l| l.side);
                items.iter().any(|i| of_item(i) == Some(*side))
            };
            let found = sides.iter().copied().filter(is_in).collect();
            day.sessions.push(Session { sides: found, items, load: load.clone() });
        }
        selected.push((sides, load));
    }
    day.sessions.push(Session::default());
    let place = |load: &Load| day.sessions.iter().position(|s| s.load == *load);
    let rest = day.sessions.len() - 1;
    let of_sides = selected.into_iter().map(|(sides, load)| {
        let found = if load.is_rest() { None } else { place(&load) };
        (sides, found.unwrap_or(rest))
    });
    day.of_sides = of_sides.collect();
    day
}
