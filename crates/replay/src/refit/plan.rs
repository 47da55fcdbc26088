//! Plan: what a refit may move, and how far it goes (F-09).

use nextrung_capacity::smooth::Sweeps;
use nextrung_domain::ability::AbilityKind;

use super::dial::Dial;

/// What a refit may move, and how far it goes.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Sweeps over each athlete's history.
    pub sweeps: Sweeps,
    /// Sets on a rung from which on an athlete counts as having trained it.
    pub least_sets: usize,
    /// Athletes who must have trained a rung, and both of two rungs that join each other; 0 moves every rung that was
    /// trained at all, joined to the anchor or not.
    pub least_athletes: usize,
    /// True when the mean starting level of each ability may move.
    pub starts: bool,
    /// True when the spread of the starting levels may move.
    pub spreads: bool,
    /// Parameters that may move, each for itself.
    pub dials: Vec<Dial>,
    /// True to turn the dials by the log posterior with difficulties and starts integrated out, false to turn them by its top
    /// alone, as maximum likelihood does.
    pub counts_doubt: bool,
    /// Standard deviation, ln units, of the normal prior that holds each dial, starting level and spread (its logarithm)
    /// near where it was. Half an ln unit is a factor of 1.6 either way: weak against a roster. Ours, no source.
    pub weak_sd: f64,
    /// Width of the first search along a dial; each cycle searches a quarter as wide.
    pub width: f64,
    /// Most cycles: difficulties and starts, then each dial, then along the way all dials went.
    pub cycles: u32,
    /// Enough when a cycle raised the log posterior by less than this, ln units.
    pub gain: f64,
    /// Difficulties and starts stand when none would move further than this, ln units.
    pub still: f64,
}

impl Default for Plan {
    /// Everything moves that a roster can tell: ten parameters of each kind would be too many, so what time off and the
    /// first weeks do, the time constants, and the errors of reports stay.
    fn default() -> Self {
        let of = |kind| Dial::OF_A_KIND.map(|about| about(kind));
        Self {
            sweeps: Sweeps::default(),
            least_sets: 3,
            least_athletes: 3,
            starts: true,
            spreads: true,
            dials: AbilityKind::ALL.into_iter().flat_map(of).chain([Dial::ReserveBias]).collect(),
            counts_doubt: true,
            weak_sd: 0.5,
            width: 0.2,
            cycles: 2,
            gain: 0.1,
            still: 0.002,
        }
    }
}

impl Plan {
    /// Difficulties and starting levels alone: a few passes over the roster.
    pub fn of_steps() -> Self {
        Self { dials: Vec::new(), ..Self::default() }
    }
}
