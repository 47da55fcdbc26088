//! Log of a span: the sets that bear on a goal.

use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ladder::Side;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};

use super::Span;
use crate::situation::Situation;

/// Days before the span that the smoothing looks back on.
const LOOK_BACK: i32 = 84;

/// A set on a rung that the ladders know.
#[derive(Debug, Clone, Copy)]
pub(super) struct Logged<'a> {
    /// The set.
    pub(super) set: &'a SetEntry,
    /// Its rung.
    pub(super) rung: RungIx,
}

impl Logged<'_> {
    /// The day, days since 1970-01-01.
    pub(super) fn day(&self) -> i32 {
        self.set.date.day_number()
    }

    /// True when a unit was done or tried.
    pub(super) fn is_effort(&self) -> bool {
        self.set.done > 0 || self.set.stop.is_failure()
    }
}

/// The sets of a span.
#[derive(Debug, Clone)]
pub(super) struct SpanLog<'a> {
    /// The goal rung.
    pub(super) goal: RungIx,
    /// The days judged: those of the span, but none before the first set of the log; all of them when there is none.
    pub(super) days: (i32, i32),
    /// Every set in those days on a known rung.
    pub(super) all: Vec<Logged<'a>>,
    /// Those that train what the goal asks for, an effort each.
    pub(super) on_goal: Vec<Logged<'a>>,
    /// Sets from a while before the span on, for hindsight.
    pub(super) behind: Vec<&'a SetEntry>,
}

impl<'a> SpanLog<'a> {
    pub(super) fn new(at: &Situation<'_>, goal: RungIx, span: &Span<'a>) -> Self {
        let (start, end) = (span.start.day_number(), span.end.day_number());
        let known = |set: &&'a SetEntry| at.catalog().find(&set.rung).map(|rung| Logged { set, rung });
        let until = || span.sets.iter().copied().filter(|set| set.date <= span.end);
        let first = until().next().map_or(start, |set| set.date.day_number());
        let all: Vec<Logged<'a>> =
            until().filter(|set| set.date >= span.start).filter_map(|set| known(&set)).collect();
        let on_goal = all.iter().filter(|l| l.is_effort() && trains(at, goal, l.rung)).copied().collect();
        let behind = until().filter(|set| start - set.date.day_number() <= LOOK_BACK).collect();
        Self { goal, days: (start.max(first).min(end), end), all, on_goal, behind }
    }

    /// Weeks judged, at least one.
    pub(super) fn weeks(&self) -> f64 {
        (f64::from(self.days.1 - self.days.0 + 1) / 7.0).max(1.0)
    }

    /// True for a set that builds: a working set, or practice where the goal is balance itself.
    pub(super) fn builds(&self, at: &Situation<'_>, logged: &Logged<'_>) -> bool {
        let is_balance = |rung: RungIx| at.rung(rung).side == Side::Balance;
        match logged.set.purpose {
            Purpose::Working => true,
            Purpose::Practice => is_balance(self.goal) && is_balance(logged.rung),
            Purpose::Attempt | Purpose::Test | Purpose::Free => false,
        }
    }

    /// Sets that were not ended by pain or from outside.
    pub(super) fn undisturbed(&self) -> impl Iterator<Item = &Logged<'a>> {
        self.on_goal.iter().filter(|l| !matches!(l.set.stop, Stop::Pain | Stop::Interrupted))
    }
}

/// True when a rung stands on the goal's ladder or trains a strength or a balance that the goal asks for.
fn trains(at: &Situation<'_>, goal: RungIx, rung: RungIx) -> bool {
    let is_shared = |ability| {
        at.catalog().ability(ability).kind != AbilityKind::Line && at.rung(goal).demand_on(ability).is_some()
    };
    at.catalog().ladder_number(rung) == at.catalog().ladder_number(goal)
        || at.rung(rung).demands.iter().any(|d| is_shared(d.ability))
}
