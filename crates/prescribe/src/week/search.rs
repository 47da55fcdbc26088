//! Search: of all plans of a week the one that costs least, by branch and bound.
//!
//! Days are filled in order, choices in their fixed order. A beginning is given up once even the best end to it cannot
//! cost less than the best plan found; so of plans that cost the same the first in that order is kept: the one whose
//! first day that differs has the choice that comes first.

use super::load::Load;
use super::tally::{Cost, Left, Space, Tally};

/// The plan that costs least.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Best {
    /// The choice for each day.
    pub places: Vec<usize>,
    /// What it costs.
    pub cost: Cost,
    /// How many plans there are.
    pub plans: u64,
    /// Beginnings looked at.
    pub visited: u32,
}

struct Search<'s> {
    space: &'s Space,
    left: Vec<Left>,
    path: Vec<usize>,
    best: Option<(Cost, Vec<usize>)>,
    visited: u32,
}

/// The best plan of a space in which every day has a choice.
pub fn best(space: &Space) -> Best {
    let left = (0..=space.days.len()).map(|number| Left::from(space, number)).collect();
    let mut search = Search { space, left, path: Vec::new(), best: None, visited: 0 };
    search.descend(&Tally::begin(space));
    let visited = search.visited;
    let worst = Cost { points: u32::MAX, otherwise: u32::MAX };
    let (cost, places) = search.best.unwrap_or((worst, Vec::new()));
    let count = |n: usize| u64::try_from(n).unwrap_or(u64::MAX);
    let plans = space.days.iter().map(|d| count(d.loads.len())).fold(1, u64::saturating_mul);
    Best { places, cost, plans, visited }
}

impl Search<'_> {
    fn descend(&mut self, tally: &Tally) {
        let number = self.path.len();
        self.visited = self.visited.saturating_add(1);
        let bound = tally.bound(self.space, &self.left[number]);
        if self.best.as_ref().is_some_and(|(cost, _)| bound >= *cost) {
            return;
        }
        if number == self.space.days.len() {
            self.best = Some((bound, self.path.clone()));
            return;
        }
        let rest = Load::default();
        let yesterday = yesterday(self.space, &self.path).unwrap_or(&rest);
        for place in 0..self.space.days[number].loads.len() {
            let next = tally.with(self.space, (number, place), yesterday);
            self.path.push(place);
            self.descend(&next);
            self.path.pop();
        }
    }
}

/// What was done on the last of some days, else on the last before the week.
fn yesterday<'s>(space: &'s Space, path: &[usize]) -> Option<&'s Load> {
    match path.last() {
        Some(place) => space.days.get(path.len() - 1).and_then(|day| day.loads.get(*place)),
        None => space.before.last(),
    }
}

/// Of the days of a plan, those on which the rule of a day would choose otherwise, with its choice.
pub(super) fn by_rule(space: &Space, places: &[usize]) -> Vec<Option<usize>> {
    let mut tally = Tally::begin(space);
    let rest = Load::default();
    let mut found = Vec::new();
    for (number, place) in places.iter().enumerate() {
        let rule = tally.by_rule(space, &space.days[number]);
        found.push(rule.filter(|rule| rule != place));
        let yesterday = yesterday(space, &places[..number]).unwrap_or(&rest);
        tally = tally.with(space, (number, *place), yesterday);
    }
    found
}

#[cfg(test)]
mod tests;
