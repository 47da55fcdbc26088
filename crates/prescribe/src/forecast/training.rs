//! Training: the days on which what a rung asks for is trained, as in the last weeks or as recommended.

use std::collections::{BTreeMap, BTreeSet};

use nextrung_capacity::done::Done;
use nextrung_capacity::task::Task;
use nextrung_domain::ability::AbilityIx;

use super::journey::WEEK;

/// Most days looked back on: four weeks, so that weekdays are kept.
const LOOK_BACK: i32 = 28;
/// Days of the recommended dose, counted from the day of the forecast: three sessions a week.
const RECOMMENDED: [i32; 3] = [1, 3, 5];

/// A pattern of days that repeats itself from the day of the forecast on.
#[derive(Debug, Clone, PartialEq)]
pub struct Training {
    /// Days after which it repeats, whole weeks.
    pub period: i32,
    /// By ability of the rung: the days of the period, from 1, on which it is worked.
    days: BTreeMap<AbilityIx, BTreeSet<i32>>,
    /// Sets a session on what the rung asks for; nothing when that is not known.
    pub sets_a_session: Option<f64>,
}

impl Training {
    /// As in the last four weeks up to and on `day`, or in the weeks since the first training of what the task asks for
    /// when they are fewer.
    pub fn lately(task: &Task, sets: &[(Task, Done)], day: i32) -> Self {
        let asks = |ability: AbilityIx| task.demands().iter().any(|own| own.ability == ability);
        let is_work = |(other, done): &&(Task, Done)| {
            done.is_effort() && other.demands().iter().any(|d| asks(d.ability))
        };
        let worked: Vec<&(Task, Done)> = sets.iter().filter(is_work).collect();
        let known = worked.first().map_or(LOOK_BACK, |(_, done)| day - done.day + 1);
        let weeks = (known.clamp(1, LOOK_BACK) + WEEK - 1).div_euclid(WEEK);
        let period = WEEK * weeks;
        let mut days: BTreeMap<AbilityIx, BTreeSet<i32>> = BTreeMap::new();
        let mut count = 0_u32;
        for (other, done) in
            worked.iter().filter(|(_, done)| (1..=period).contains(&(done.day - day + period)))
        {
            count += 1;
            for demand in other.demands().iter().filter(|d| asks(d.ability)) {
                days.entry(demand.ability).or_default().insert(done.day - day + period);
            }
        }
        let mut training = Self { period, days, sets_a_session: None };
        let sessions = training.sessions();
        training.sets_a_session = (sessions > 0).then(|| f64::from(count) / f64::from(sessions));
        training
    }

    /// Three sessions a week, a day apart, on all that the task asks for.
    pub fn recommended(task: &Task) -> Self {
        let each = |ability| (ability, RECOMMENDED.into_iter().collect());
        let days = task.demands().iter().map(|d| each(d.ability)).collect();
        Self { period: WEEK, days, sets_a_session: None }
    }

    /// True when an ability is worked on a later day than the forecast's.
    pub fn works(&self, ability: AbilityIx, from: i32, day: i32) -> bool {
        self.days.get(&ability).is_some_and(|days| days.contains(&self.place(from, day)))
    }

    /// True when there is a session on a later day than the forecast's.
    pub fn is_session(&self, from: i32, day: i32) -> bool {
        self.days.values().any(|days| days.contains(&self.place(from, day)))
    }

    fn place(&self, from: i32, day: i32) -> i32 {
        (day - from - 1).rem_euclid(self.period) + 1
    }

    /// Sessions in a period.
    fn sessions(&self) -> i32 {
        let all: BTreeSet<i32> = self.days.values().flatten().copied().collect();
        all.iter().map(|_| 1).sum()
    }

    /// True when there is no session at all.
    pub fn is_none(&self) -> bool {
        self.days.is_empty()
    }

    /// Sessions a week.
    pub fn sessions_per_week(&self) -> f64 {
        f64::from(WEEK * self.sessions()) / f64::from(self.period)
    }

    /// Sessions on an ability in each week of the period.
    pub fn weekly(&self, ability: AbilityIx) -> Vec<i32> {
        let days = self.days.get(&ability);
        let of_week =
            |first: i32| days.map_or(0, |days| days.range(first..first + WEEK).map(|_| 1).sum::<i32>());
        (0..self.period / WEEK).map(|week| of_week(WEEK * week + 1)).collect()
    }
}
