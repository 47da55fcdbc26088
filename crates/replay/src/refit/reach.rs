//! Reach: which rungs were trained by enough athletes, and joined to their ability's anchor by enough of them (F-09).
//!
//! A difficulty is relative to the anchor. Athletes who trained two rungs tell how far these are apart; a rung to which no
//! chain of such pairs leads from the anchor has a difficulty that only the levels of its own athletes speak of.

use std::collections::{BTreeMap, BTreeSet};

use nextrung_capacity::done::Done;
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::catalog::{Catalog, RungIx};
use serde::{Deserialize, Serialize};

use super::Trained;
use super::plan::Plan;

/// A demand: an ability and a rung that asks for it.
pub type Demand = (AbilityIx, RungIx);

/// Why a difficulty was left at the ladder file's.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Held {
    /// Too few athletes trained the rung.
    Few,
    /// No chain of pairs leads from the anchor to the rung.
    Apart,
    /// The ladder file gives it no doubt.
    Sure,
}

/// Who trained what, and what follows for each difficulty.
#[derive(Debug, Clone, PartialEq)]
pub struct Reach {
    trained: BTreeMap<Demand, BTreeSet<usize>>,
    /// Difficulties that may move.
    pub free: Vec<Demand>,
    /// Difficulties of trained rungs that stay, and why. Anchors are in neither.
    pub held: BTreeMap<Demand, Held>,
}

impl Reach {
    /// Of a roster on the ladder files.
    pub fn of(catalog: &Catalog, roster: &[Trained], plan: &Plan) -> Self {
        let trained = trained(catalog, roster, plan.least_sets);
        let mut reach = Self { trained, free: Vec::new(), held: BTreeMap::new() };
        let joined: BTreeSet<Demand> = reach.joined(catalog, plan.least_athletes);
        for demand in reach.trained.keys().copied().filter(|demand| !is_anchor(catalog, *demand)) {
            let sd = catalog.rung(demand.1).demand_on(demand.0).map_or(0.0, |asked| asked.sd);
            let held = if sd <= 0.0 {
                Some(Held::Sure)
            } else if reach.athletes(demand) < plan.least_athletes {
                Some(Held::Few)
            } else {
                (!joined.contains(&demand)).then_some(Held::Apart)
            };
            match held {
                Some(why) => drop(reach.held.insert(demand, why)),
                None => reach.free.push(demand),
            }
        }
        reach
    }

    /// How many athletes trained a rung.
    pub fn athletes(&self, demand: Demand) -> usize {
        self.trained.get(&demand).map_or(0, BTreeSet::len)
    }

    /// How many athletes trained both rungs.
    pub fn shared(&self, ability: AbilityIx, one: RungIx, other: RungIx) -> usize {
        match (self.trained.get(&(ability, one)), self.trained.get(&(ability, other))) {
            (Some(one), Some(other)) => one.intersection(other).count(),
            _ => 0,
        }
    }

    /// Demands that a chain of pairs joins to their anchor, itself included.
    fn joined(&self, catalog: &Catalog, least: usize) -> BTreeSet<Demand> {
        let anchors = self.trained.keys().copied().filter(|demand| least == 0 || is_anchor(catalog, *demand));
        let mut open: Vec<Demand> = anchors.collect();
        let mut joined: BTreeSet<Demand> = open.iter().copied().collect();
        while let Some((ability, rung)) = open.pop() {
            let others = self.trained.range((ability, RungIx(0))..=(ability, RungIx(u16::MAX)));
            for (other, _) in others {
                if self.shared(ability, rung, other.1) >= least && joined.insert(*other) {
                    open.push(*other);
                }
            }
        }
        joined
    }
}

/// True for the rung on which the ability's levels are counted.
pub fn is_anchor(catalog: &Catalog, (ability, rung): Demand) -> bool {
    catalog.find(&catalog.ability(ability).anchor) == Some(rung)
}

/// Athletes, by place in the roster, with enough sets on each rung.
fn trained(catalog: &Catalog, roster: &[Trained], least_sets: usize) -> BTreeMap<Demand, BTreeSet<usize>> {
    let mut trained: BTreeMap<Demand, BTreeSet<usize>> = BTreeMap::new();
    for (at, athlete) in roster.iter().enumerate() {
        let mut sets: BTreeMap<RungIx, usize> = BTreeMap::new();
        for set in athlete.sets.iter().filter(|set| Done::of(set).is_effort()) {
            let known = catalog.find(&set.rung).filter(|rung| catalog.rung(*rung).unit == set.unit);
            if let Some(rung) = known {
                *sets.entry(rung).or_default() += 1;
            }
        }
        for (rung, _) in sets.into_iter().filter(|(_, sets)| *sets >= least_sets) {
            for demand in &catalog.rung(rung).demands {
                trained.entry((demand.ability, rung)).or_default().insert(at);
            }
        }
    }
    trained
}
