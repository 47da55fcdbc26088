//! Foretelling: where the outcome of an arriving set stands among the outcomes foretold before it.
//!
//! A set with a target ends at unit 0, 1, ... or reaches it; the model gives each of these ends a chance. The rank of what
//! happened is the chance of all lower ends and half of its own (the mid probability integral transform). Under a right model
//! its mean is exactly 1/2 and its variance (1 - sum of p^3) / 12, however coarse the outcomes are: the rank of a discrete
//! outcome with chances p is uniform but for the ties, which take sum of p^3 / 12 away (by hand: a tie of chance p spread
//! evenly over its share of the unit interval has variance p^2 / 12 about its middle).

use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::outlook::{Strain, TaskOutlook};
use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::set::SetEntry;

use crate::fold::Head;

/// Days after which a set that arrives is taken for an import of the past, which nobody was told of before.
const IMPORT_DAYS: i64 = 28;
/// Milliseconds of a day.
const DAY_MS: i64 = 86_400_000;

/// Where an outcome stands among those foretold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rank {
    /// Chance of a lower outcome, and half of that of this one: 0 to 1.
    pub middle: f64,
    /// Variance of `middle` if what was foretold is right: 0 to 1/12.
    pub variance: f64,
}

impl Rank {
    /// The rank of outcome `at` among outcomes with these chances, which sum to one. Nothing when there is no such outcome.
    pub fn of(chances: &[f64], at: usize) -> Option<Self> {
        let own = chances.get(at)?;
        let middle = chances[..at].iter().sum::<f64>() + own / 2.0;
        let ties: f64 = chances.iter().map(|p| p * p * p).sum();
        Some(Self { middle, variance: (1.0 - ties).max(0.0) / 12.0 })
    }
}

/// Goes through the sets that follow a head in the log and in training order, and tells the rank of each that went on to a
/// target set before it or to a failure. Sets ended by choice, for pain or from outside have no rank: what they could have
/// come to was not seen.
pub(crate) fn ranks(model: &Model, head: &Head, events: &[StoredEvent], mut tell: impl FnMut(Rank)) {
    let mut state = head.folded.state.clone();
    let mut last = head.folded.last.map(|key| key.place);
    let mut scratch = Scratch::default();
    for event in events {
        let EventBody::Recorded { set } = &event.body else { continue };
        if last.is_some_and(|last| set.place() <= last) {
            return;
        }
        last = Some(set.place());
        let Some((task, done)) = model.read(set) else { continue };
        let asked = asked(set, event.arrived_at_ms);
        state.observe_foretold(model, &mut scratch, (&task, &done), |standings| {
            let Some(target) = asked else { return };
            let mut chances = vec![0.0; usize::from(target) + 1];
            let outlook = TaskOutlook::of(model, &task, standings);
            let reached = outlook.drops(target, Strain::NONE, |unit, _, chance| {
                chances[usize::from(unit) - 1] += chance;
            });
            chances[usize::from(target)] = reached;
            if let Some(rank) = Rank::of(&chances, usize::from(done.units.min(target))) {
                tell(rank);
            }
        });
    }
}

/// The target of a set whose whole outcome was seen.
fn asked(set: &SetEntry, arrived_at_ms: i64) -> Option<u16> {
    let age_ms = arrived_at_ms - i64::from(set.date.day_number()) * DAY_MS;
    let target = set.target.filter(|target| *target > 0 && age_ms <= IMPORT_DAYS * DAY_MS)?;
    (set.done >= target || set.stop.is_failure()).then_some(target)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn is_near(found: f64, expected: f64) -> bool {
        (found - expected).abs() < 1e-12
    }

    #[test]
    fn ranks_by_hand() {
        // Two even ends: ranks 1/4 and 3/4, each 1/4 from the middle, so a variance of 1/16.
        let even: Vec<Rank> = (0..2).filter_map(|at| Rank::of(&[0.5, 0.5], at)).collect();
        assert!(is_near(even[0].middle, 0.25) && is_near(even[1].middle, 0.75), "{even:?}");
        assert!(is_near(even[0].variance, 1.0 / 16.0), "{even:?}");
        assert_eq!(Rank::of(&[0.5, 0.5], 2), None);
        // A sure thing tells nothing.
        let sure = Rank::of(&[0.0, 1.0], 1);
        assert_eq!(sure, Some(Rank { middle: 0.5, variance: 0.0 }));
    }

    #[test]
    fn mean_and_variance_are_those_foretold() {
        let chances = [0.1, 0.05, 0.25, 0.4, 0.2];
        let (mut mean, mut square) = (0.0, 0.0);
        for (at, p) in chances.iter().enumerate() {
            let rank = Rank::of(&chances, at).unwrap();
            mean += p * rank.middle;
            square += p * (rank.middle - 0.5) * (rank.middle - 0.5);
        }
        let foretold = Rank::of(&chances, 0).unwrap().variance;
        assert!(is_near(mean, 0.5) && is_near(square, foretold), "{mean} {square} {foretold}");
    }
}
