//! Hindsight: the abilities of an athlete in each session, as the whole history has them (F-08).

use nextrung_domain::ability::AbilityIx;

use crate::state::{AbilityState, BIAS};
use crate::task::OffsetKey;
use crate::truncated::Gaussian;

/// A smoothed history.
#[derive(Debug, Clone)]
pub struct Smoothed {
    /// Abilities that were trained, in ability order.
    pub abilities: Vec<SmoothedAbility>,
    /// Logarithm of the probability of all sets, ln units; what a refit maximises (F-09).
    pub log_evidence: f64,
}

/// One ability over its history.
#[derive(Debug, Clone)]
pub struct SmoothedAbility {
    /// Which.
    pub ability: AbilityIx,
    /// The block in each session in which the ability was trained, in order, never empty. Read a coordinate with
    /// [`AbilityState::about`], a task's predictor without fatigue with [`AbilityState::belief`].
    pub nodes: Vec<AbilityState>,
}

impl Smoothed {
    /// One ability, if it was trained.
    pub fn ability(&self, ability: AbilityIx) -> Option<&SmoothedAbility> {
        self.abilities.binary_search_by_key(&ability, |a| a.ability).ok().map(|at| &self.abilities[at])
    }
}

impl SmoothedAbility {
    /// The athlete's own departures on rungs and shadings, in the order they were met. They are the same in every
    /// session.
    pub fn offsets(&self) -> impl Iterator<Item = (OffsetKey, Gaussian)> + '_ {
        let node = self.nodes.last();
        node.into_iter().flat_map(|node| {
            let at = |key| node.coordinate(key).map(|at| (key, node.about(at)));
            node.keys.iter().filter_map(move |key| at(*key))
        })
    }

    /// The bias of reported reserve.
    pub fn bias(&self) -> Option<Gaussian> {
        self.nodes.last().map(|node| node.about(BIAS))
    }
}
