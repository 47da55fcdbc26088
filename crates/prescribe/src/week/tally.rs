//! Tally: what a week costs, counted day by day. The table of wishes stands in [`super`].

use nextrung_domain::ladder::Side;

use super::load::Load;
use crate::day::sides_due;
use crate::history::MEMORY_DAYS;

/// Exposures wanted of a ladder.
pub(super) const EXPOSURES: (u32, u32) = (3, 4);
/// Days of practice wanted of a ladder; a full day of rest keeps it to six.
pub(super) const PRACTICE_DAYS: u32 = 4;

/// Points of each wish, per unit or, where the table says so, per square of the units missed.
pub(super) mod points {
    /// A day beyond the days in a row.
    pub(in super::super) const DAYS_IN_ROW: u32 = 10_000;
    /// No full day of rest.
    pub(in super::super) const REST_DAY: u32 = 10_000;
    /// Hard work on one strength on two days running.
    pub(in super::super) const SPACING: u32 = 1_000;
    /// Exposures short, squared.
    pub(in super::super) const EXPOSURES: u32 = 10;
    /// Exposures over, squared.
    pub(in super::super) const TOO_MANY: u32 = 5;
    /// Days of practice short, squared.
    pub(in super::super) const PRACTICE: u32 = 4;
    /// The same arm side twice running.
    pub(in super::super) const ALTERNATION: u32 = 3;
}

/// Days since a side was trained when it was not, or when that is forgotten.
pub const LONG_AGO: i32 = i32::MAX;

/// What may be done on one day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choices {
    /// What each choice comes to, in the fixed order that settles ties; one for a day that is past.
    pub loads: Vec<Load>,
    /// For an open day on which the athlete trains: the choice that a session of some sides comes to, for each selection
    /// of sides the rule of a day can make.
    pub of_sides: Vec<(Vec<Side>, usize)>,
    /// Arm sides that the rule of a day chooses from on this day, the dearest first.
    pub arms: Vec<Side>,
}

impl Choices {
    /// A day on which nothing is left to choose.
    pub fn only(load: Load) -> Self {
        Self { loads: vec![load], of_sides: Vec::new(), arms: Vec::new() }
    }
}

/// Every plan of a week.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Space {
    /// The days before the week without a gap, the last one last.
    pub before: Vec<Load>,
    /// Days since each side was trained, in the order of [`Side::ALL`], on the first of the days before; [`LONG_AGO`]
    /// where that is not known.
    pub since: [i32; 4],
    /// The days of the week, in order.
    pub days: Vec<Choices>,
    /// Ladders of strength and of practice.
    pub ladders: (usize, usize),
    /// True when legs are wanted.
    pub are_legs_wanted: bool,
    /// True when both arm sides are wanted and can be trained: they are to alternate.
    pub is_alternating: bool,
    /// Most days in a row.
    pub days_in_row: i32,
    /// What is left out of the cost, to see what a wish is missed for.
    pub ignored: Ignored,
}

/// Rules left out of the cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Ignored {
    /// Rest.
    pub rest: bool,
    /// Days between hard work.
    pub spacing: bool,
    /// The turns of the arm sides.
    pub alternation: bool,
}

/// The cost of a plan: points first, then the days on which the rule of a day would do otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cost {
    /// Points of all that is missed.
    pub points: u32,
    /// Days on which the rule of a day, asked that morning, would choose otherwise.
    pub otherwise: u32,
}

/// A week so far.
#[derive(Debug, Clone)]
pub(super) struct Tally {
    exposures: Vec<u32>,
    practice: Vec<u32>,
    points: u32,
    otherwise: u32,
    in_row: i32,
    last_arm: Option<Side>,
    /// Days since each side was trained, in the order of [`Side::ALL`].
    since: [i32; 4],
    has_rest: bool,
}

impl Tally {
    /// Before the first day of the week.
    pub(super) fn begin(space: &Space) -> Self {
        let mut tally = Self {
            exposures: vec![0; space.ladders.0],
            practice: vec![0; space.ladders.1],
            points: 0,
            otherwise: 0,
            in_row: 0,
            last_arm: None,
            since: space.since,
            has_rest: false,
        };
        space.before.iter().for_each(|load| tally.pass(load));
        tally
    }

    /// Lets a day pass.
    fn pass(&mut self, load: &Load) {
        self.in_row = if load.is_rest() { 0 } else { self.in_row + 1 };
        self.last_arm = load.arm.or(self.last_arm);
        for (since, is_trained) in self.since.iter_mut().zip(load.sides) {
            // As the history does: a day of work lets go of what is as old as its memory is long.
            let is_forgotten = !load.is_rest() && *since >= MEMORY_DAYS;
            *since = match (is_trained, is_forgotten) {
                (true, _) => 1,
                (false, true) => LONG_AGO,
                (false, false) => since.saturating_add(1),
            };
        }
    }

    /// The choice that the rule of a day would make, on a day on which the athlete trains.
    pub(super) fn by_rule(&self, space: &Space, day: &Choices) -> Option<usize> {
        if day.of_sides.is_empty() {
            return None;
        }
        let rest = day.loads.iter().position(Load::is_rest);
        if self.in_row >= space.days_in_row {
            return rest;
        }
        let since = |side: Side| {
            Side::ALL.iter().zip(self.since).find(|(s, _)| **s == side).map_or(LONG_AGO, |(_, days)| days)
        };
        let due = sides_due(&day.arms, space.are_legs_wanted, since);
        day.of_sides.iter().find(|(sides, _)| *sides == due).map(|(_, place)| *place).or(rest)
    }

    /// The week with one more day; `yesterday` is what was done the day before, if that is known.
    pub(super) fn with(&self, space: &Space, (number, place): (usize, usize), yesterday: &Load) -> Self {
        let day = &space.days[number];
        let load = &day.loads[place];
        let mut next = self.clone();
        if self.by_rule(space, day).is_some_and(|rule| rule != place) {
            next.otherwise += 1;
        }
        next.points += self.points_of(space, load, yesterday);
        next.has_rest |= load.is_rest();
        let count = |counts: &mut [u32], flags: &[bool]| {
            counts.iter_mut().zip(flags).for_each(|(count, is_in)| *count += u32::from(*is_in));
        };
        count(&mut next.exposures, &load.exposures);
        count(&mut next.practice, &load.practice);
        next.pass(load);
        next
    }

    /// Points that a day brings at once.
    fn points_of(&self, space: &Space, load: &Load, yesterday: &Load) -> u32 {
        let shared = u32::try_from(load.hard.intersection(&yesterday.hard).count()).unwrap_or(u32::MAX);
        let is_same = space.is_alternating && load.arm.is_some() && load.arm == self.last_arm;
        let is_over = !load.is_rest() && self.in_row >= space.days_in_row;
        let unless = |ignored: bool, points: u32| if ignored { 0 } else { points };
        unless(space.ignored.spacing, shared.saturating_mul(points::SPACING))
            + unless(space.ignored.alternation, u32::from(is_same) * points::ALTERNATION)
            + unless(space.ignored.rest, u32::from(is_over) * points::DAYS_IN_ROW)
    }

    /// What the week costs at least, whatever is done on the days left; what it costs when none is left.
    pub(super) fn bound(&self, space: &Space, left: &Left) -> Cost {
        let (least, most) = EXPOSURES;
        let exposures = self.exposures.iter().zip(&left.exposures).map(|(count, left)| {
            let (short, over) = (least.saturating_sub(count + left), count.saturating_sub(most));
            short * short * points::EXPOSURES + over * over * points::TOO_MANY
        });
        let practice = self.practice.iter().zip(&left.practice).map(|(count, left)| {
            let short = PRACTICE_DAYS.saturating_sub(count + left);
            short * short * points::PRACTICE
        });
        let is_restless = !self.has_rest && !left.can_rest && !space.ignored.rest;
        let rest = if is_restless { points::REST_DAY } else { 0 };
        let points = self.points + exposures.sum::<u32>() + practice.sum::<u32>() + rest;
        Cost { points, otherwise: self.otherwise }
    }
}

/// What the days left could still bring.
#[derive(Debug, Clone)]
pub(super) struct Left {
    exposures: Vec<u32>,
    practice: Vec<u32>,
    can_rest: bool,
}

impl Left {
    /// For the days from `number` on.
    pub(super) fn from(space: &Space, number: usize) -> Self {
        let days = &space.days[number.min(space.days.len())..];
        let count = |has: &dyn Fn(&Load) -> bool| {
            u32::try_from(days.iter().filter(|d| d.loads.iter().any(has)).count()).unwrap_or(u32::MAX)
        };
        let flag = |flags: &[bool], at: usize| flags.get(at).copied().unwrap_or(false);
        Self {
            exposures: (0..space.ladders.0).map(|at| count(&|l| flag(&l.exposures, at))).collect(),
            practice: (0..space.ladders.1).map(|at| count(&|l| flag(&l.practice, at))).collect(),
            can_rest: count(&Load::is_rest) > 0,
        }
    }
}
