//! The search against a brute force that counts the cost of whole plans on its own, from the table of wishes.

use std::collections::BTreeSet;

use nextrung_domain::ability::AbilityIx;
use nextrung_domain::ladder::Side;

use super::{Best, best};
use crate::week::load::Load;
use crate::week::tally::{Choices, Cost, Ignored, LONG_AGO, Space};
use crate::week::wish::{About, outcomes};

/// Numbers from a seed, one after the other (xorshift, Marsaglia 2003, from memory).
struct Draw(u64);

impl Draw {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % u64::try_from(n).expect("small")).expect("small")
    }

    fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }
}

const SHAPES: [&[Side]; 6] = [
    &[Side::BentArm, Side::Legs],
    &[Side::BentArm],
    &[Side::StraightArm, Side::Legs],
    &[Side::StraightArm],
    &[Side::Legs],
    &[],
];

/// An athlete's ladders, and what a session of some sides trains.
struct Case {
    /// Side and strengths of each ladder.
    ladders: Vec<(Side, BTreeSet<AbilityIx>)>,
    practice: usize,
    arms: Vec<Side>,
    are_legs_wanted: bool,
}

impl Case {
    fn drawn(draw: &mut Draw) -> Self {
        let sides = [Side::BentArm, Side::StraightArm, Side::Legs];
        let strengths = |draw: &mut Draw, side: usize| {
            // Strengths 0 to 2 belong to a side each; 3 is shared.
            let own = AbilityIx(u8::try_from(side).expect("small"));
            let shared = draw.chance(25).then_some(AbilityIx(3));
            [own].into_iter().chain(shared).collect()
        };
        let ladders: Vec<_> = (0..1 + draw.below(4))
            .map(|_| {
                let side = draw.below(3);
                (sides[side], strengths(draw, side))
            })
            .collect();
        let mut arms: Vec<Side> = Vec::new();
        for (side, _) in &ladders {
            if *side != Side::Legs && !arms.contains(side) {
                arms.push(*side);
            }
        }
        let are_legs_wanted = ladders.iter().any(|(side, _)| *side == Side::Legs);
        Self { practice: draw.below(3), arms, are_legs_wanted, ladders }
    }

    /// A session of some sides, on which each ladder is held back now and then, and those of a hurt side always.
    fn session(&self, draw: &mut Draw, sides: &[Side], hurt: &[Side]) -> Load {
        let is_in = |side: &Side| sides.contains(side) && !hurt.contains(side);
        let exposures: Vec<bool> =
            self.ladders.iter().map(|(side, _)| is_in(side) && !draw.chance(10)).collect();
        let trained = self.ladders.iter().zip(&exposures).filter(|(_, is_in)| **is_in);
        let hard: BTreeSet<AbilityIx> = trained.clone().flat_map(|((_, h), _)| h.iter().copied()).collect();
        let of_sides: BTreeSet<Side> = trained.map(|((side, _), _)| *side).collect();
        let arm = of_sides.iter().copied().find(|s| *s != Side::Legs);
        let practice = vec![true; self.practice];
        let sets = u16::try_from(4 * of_sides.len() + 5 * self.practice).expect("small");
        Load { exposures, practice, hard, arm, sides: Side::ALL.map(|s| of_sides.contains(&s)), sets }
    }

    fn open_day(&self, draw: &mut Draw, is_available: bool) -> Choices {
        let mut loads: Vec<Load> = Vec::new();
        let mut of_sides = Vec::new();
        let hurt: Vec<Side> = self.arms.iter().copied().filter(|_| draw.chance(25)).collect();
        let wanted = |s: &&Side| self.arms.contains(s) || (**s == Side::Legs && self.are_legs_wanted);
        for shape in SHAPES.iter().filter(|shape| shape.iter().all(|s| wanted(&s))) {
            let load = self.session(draw, shape, &hurt);
            if load.sets > 0 && !loads.contains(&load) {
                loads.push(load.clone());
            }
            of_sides.push((shape.to_vec(), load));
        }
        loads.push(Load::default());
        if !is_available {
            return Choices::only(Load::default());
        }
        let place = |load: &Load| loads.iter().position(|l| l == load).unwrap_or(loads.len() - 1);
        let of_sides =
            of_sides.into_iter().map(|(s, l)| (s, if l.sets == 0 { loads.len() - 1 } else { place(&l) }));
        let is_choice = hurt.len() < self.arms.len();
        let arms = self.arms.iter().copied().filter(|side| !is_choice || !hurt.contains(side)).collect();
        Choices { of_sides: of_sides.collect(), loads, arms }
    }

    fn past_day(&self, draw: &mut Draw) -> Load {
        let shape = SHAPES[draw.below(SHAPES.len())];
        if draw.chance(40) { Load::default() } else { self.session(draw, shape, &[]) }
    }
}

/// A week with so many days past and some before it; every other day is open with a chance in percent.
fn drawn(seed: u64, past: usize, percent: usize) -> Space {
    let mut draw = Draw(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    let case = Case::drawn(&mut draw);
    let before = (0..draw.below(6)).map(|_| case.past_day(&mut draw)).collect();
    // Some were trained lately, some as long ago as is just remembered, some nobody knows when.
    let since = [0; 4].map(|_: i32| match draw.below(3) {
        0 => LONG_AGO,
        1 => i32::try_from(1 + draw.below(5)).expect("small"),
        _ => i32::try_from(20 + draw.below(12)).expect("small"),
    });
    let days = (0..7).map(|number| {
        if number < past {
            return Choices::only(case.past_day(&mut draw));
        }
        let is_available = draw.chance(percent);
        case.open_day(&mut draw, is_available)
    });
    let days = days.collect();
    Space {
        before,
        since,
        days,
        ladders: (case.ladders.len(), case.practice),
        is_alternating: case.arms.len() == 2,
        are_legs_wanted: case.are_legs_wanted,
        days_in_row: 3,
        ignored: Ignored::default(),
    }
}

/// Cost of a whole plan by the table of wishes: every term counted on its own over the days, nothing shared with the
/// search.
fn counted(space: &Space, plan: &[&Load]) -> Cost {
    let n = space.before.len();
    let all: Vec<&Load> = space.before.iter().chain(plan.iter().copied()).collect();
    let mut points = 0;
    for ladder in 0..space.ladders.0 {
        let sessions = plan.iter().filter(|l| l.exposures.get(ladder) == Some(&true)).count();
        points += match sessions {
            0 => 90,
            1 => 40,
            2 => 10,
            3 | 4 => 0,
            5 => 5,
            6 => 20,
            _ => 45,
        };
    }
    for ladder in 0..space.ladders.1 {
        let days = plan.iter().filter(|l| l.practice.get(ladder) == Some(&true)).count();
        points += [64, 36, 16, 4, 0, 0, 0, 0][days];
    }
    let mut arms = Vec::new();
    for (day, load) in all.iter().enumerate() {
        if day >= n {
            let shared = |a: &&AbilityIx| day > 0 && all[day - 1].hard.contains(a);
            points += 1_000 * u32::try_from(load.hard.iter().filter(shared).count()).expect("few");
            let back = usize::try_from(space.days_in_row).expect("small");
            let is_over = day >= back && all[day - back..=day].iter().all(|l| l.sets > 0);
            points += if is_over { 10_000 } else { 0 };
            if space.is_alternating && load.arm.is_some() && arms.last() == load.arm.as_ref() {
                points += 3;
            }
        }
        arms.extend(load.arm);
    }
    if plan.iter().all(|l| l.sets > 0) {
        points += 10_000;
    }
    let otherwise = (n..all.len()).filter(|day| departs(space, &all, *day)).count();
    Cost { points, otherwise: u32::try_from(otherwise).expect("few") }
}

/// Whether the rule of a day would choose otherwise, from the words of its documentation: rest after the days in a row;
/// else of the arm sides that count on the day and were not trained the day before the one that has waited longest, the
/// dearest of equals, and the legs unless trained the day before. A day of work forgets what lies 28 days and more back.
fn departs(space: &Space, all: &[&Load], day: usize) -> bool {
    let choices = &space.days[day - space.before.len()];
    if choices.of_sides.is_empty() {
        return false;
    }
    let back = usize::try_from(space.days_in_row).expect("small");
    if day >= back && all[day - back..day].iter().all(|l| l.sets > 0) {
        return all[day].sets > 0;
    }
    let waited = |side: Side| {
        let first = space.since[Side::ALL.iter().position(|s| *s == side).expect("a side")];
        let first = usize::try_from(first).expect("a count");
        let is_forgotten = (0..day).any(|n| all[n].sets > 0 && first.saturating_add(n) >= 28);
        let before = if is_forgotten { usize::MAX } else { first.saturating_add(day) };
        let is_long_ago = before >= usize::try_from(LONG_AGO).expect("a count");
        let before = if is_long_ago { usize::MAX } else { before };
        (1..=day).find(|ago| all[day - ago].has_side(side)).unwrap_or(before)
    };
    let mut due: Vec<Side> = Vec::new();
    let longest = choices.arms.iter().map(|s| waited(*s)).filter(|w| *w >= 2).max();
    due.extend(choices.arms.iter().find(|s| Some(waited(**s)) == longest));
    if space.are_legs_wanted && waited(Side::Legs) >= 2 {
        due.push(Side::Legs);
    }
    let place = choices.of_sides.iter().find(|(sides, _)| *sides == due).map(|(_, place)| *place);
    let rest = choices.loads.len() - 1;
    choices.loads[place.unwrap_or(rest)] != *all[day]
}

/// The least cost of all plans, and the first plan in the fixed order that has it.
fn brute(space: &Space) -> (Cost, Vec<usize>) {
    let mut least: Option<(Cost, Vec<usize>)> = None;
    let mut places = vec![0; space.days.len()];
    loop {
        let plan: Vec<&Load> = space.days.iter().zip(&places).map(|(d, p)| &d.loads[*p]).collect();
        let cost = counted(space, &plan);
        if least.as_ref().is_none_or(|(known, _)| cost < *known) {
            least = Some((cost, places.clone()));
        }
        // The last day turns fastest, so plans come in the fixed order.
        let mut day = places.len();
        loop {
            if day == 0 {
                return least.expect("a plan");
            }
            day -= 1;
            places[day] += 1;
            if places[day] < space.days[day].loads.len() {
                break;
            }
            places[day] = 0;
        }
    }
}

fn chosen<'s>(space: &'s Space, found: &Best) -> Vec<&'s Load> {
    space.days.iter().zip(&found.places).map(|(day, place)| &day.loads[*place]).collect()
}

#[test]
#[expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]
fn no_plan_costs_less_than_the_one_found() {
    let (mut plans, mut visited, mut weeks) = (0, 0, 0);
    for seed in 1..=2000 {
        let past = usize::try_from(seed % 4).expect("small") + 1;
        let space = drawn(seed, past, 80);
        let found = best(&space);
        let (cost, places) = brute(&space);
        assert_eq!((found.cost, &found.places), (cost, &places), "seed {seed}");
        (plans, visited, weeks) = (plans + found.plans, visited + found.visited, weeks + 1);
    }
    println!("{weeks} weeks, {plans} plans counted one by one, {visited} beginnings visited by the search");
    assert!(plans > 1_000_000, "the weeks are too easy: {plans} plans");
}

#[test]
#[expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]
fn whole_weeks_of_open_days_too() {
    for seed in 1..=12 {
        let space = drawn(1000 + seed, 0, 100);
        let found = best(&space);
        let (cost, places) = brute(&space);
        assert_eq!((found.cost, &found.places), (cost, &places), "seed {seed}");
        println!("seed {seed}: {} plans, {} beginnings visited", found.plans, found.visited);
    }
}

#[test]
fn the_wishes_told_add_up_to_the_cost() {
    for seed in 1..=300 {
        let space = drawn(seed, 0, 85);
        let found = best(&space);
        let loads: Vec<Load> = chosen(&space, &found).into_iter().cloned().collect();
        let points = |about: About, count: u32, missed: u32| match about {
            About::Exposures(_) if count > 4 => 5 * missed * missed,
            About::Exposures(_) => 10 * missed * missed,
            About::Practice(_) => 4 * missed * missed,
            About::Spacing(_) => 1_000 * missed,
            About::Alternation => 3 * missed,
            About::DaysInRow | About::RestDay => 10_000 * missed,
        };
        let told: u32 = outcomes(&space, &loads).iter().map(|o| points(o.about, o.count, o.missed)).sum();
        assert_eq!(told, found.cost.points, "seed {seed}");
    }
}

#[test]
fn one_more_day_never_costs_more() {
    let mut gained = 0;
    for seed in 1..=300 {
        let whole = drawn(seed, 0, 100);
        let mut fewer = whole.clone();
        let day = usize::try_from(seed % 7).expect("small");
        fewer.days[day] = Choices::only(Load::default());
        let more_points = best(&whole).cost.points;
        let fewer_points = best(&fewer).cost.points;
        assert!(more_points <= fewer_points, "seed {seed}: {more_points} above {fewer_points}");
        gained += usize::from(more_points < fewer_points);
    }
    assert!(gained > 20, "a day more helped in {gained} weeks only");
}

/// The same week once its first days have passed as planned.
fn passed(space: &Space, found: &Best, days: usize) -> Space {
    let mut next = space.clone();
    for (day, place) in next.days.iter_mut().zip(&found.places).take(days) {
        *day = Choices::only(day.loads[*place].clone());
    }
    next
}

#[test]
fn days_trained_as_planned_leave_the_rest_of_the_plan_as_it_was() {
    for seed in 1..=200 {
        let space = drawn(seed, 0, 85);
        let found = best(&space);
        for days in 1..7 {
            let again = best(&passed(&space, &found, days));
            assert_eq!(again.cost.points, found.cost.points, "seed {seed}, {days} days");
            assert_eq!(again.places[days..], found.places[days..], "seed {seed}, {days} days");
        }
    }
}

#[test]
fn rest_and_space_between_hard_work_are_kept_unless_the_days_before_have_broken_them() {
    for seed in 1..=300 {
        let mut space = drawn(seed, 0, 90);
        space.before = vec![Load::default(); 3];
        let found = best(&space);
        assert!(found.cost.points < 1_000, "seed {seed}: {} points", found.cost.points);
    }
}

#[test]
fn a_missed_day_is_made_up_for_where_rest_allows() {
    let mut made_up = 0;
    for seed in 1..=300 {
        let space = drawn(seed, 0, 100);
        let found = best(&space);
        let plan = chosen(&space, &found);
        let Some(day) = (2..7).find(|day| plan[*day].exposures.contains(&true)) else { continue };
        let mut missed = passed(&space, &found, day);
        missed.days[day] = Choices::only(Load::default());
        let again = best(&missed);
        assert_eq!((again.cost, again.places.clone()), brute(&missed), "seed {seed}");
        made_up += usize::from(again.cost.points <= found.cost.points);
    }
    assert!(made_up > 50, "made up for in {made_up} weeks only");
}
