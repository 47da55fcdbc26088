//! Catalog: every ability and ladder together, checked against each other and numbered densely.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::ability::{Ability, AbilityIx};
use crate::ids::{AbilityId, LadderId, RungRef};
use crate::ladder::{Ladder, Rung};

/// Dense number of a rung within a catalog, in ladder and rung order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RungIx(pub u16);

impl RungIx {
    /// As an index.
    pub fn at(self) -> usize {
        usize::from(self.0)
    }
}

/// Every ability and ladder in force.
#[derive(Debug, Clone, PartialEq)]
pub struct Catalog {
    abilities: Vec<Ability>,
    ladders: Vec<Ladder>,
    by_name: BTreeMap<RungRef, RungIx>,
    places: Vec<(usize, usize)>,
}

impl Catalog {
    /// Joins abilities and ladders that were checked by [`crate::ladder_file`]; ladders end up in id order.
    pub(crate) fn join(abilities: Vec<Ability>, mut ladders: Vec<Ladder>) -> Self {
        ladders.sort_by(|a, b| a.id.cmp(&b.id));
        let mut by_name = BTreeMap::new();
        let mut places = Vec::new();
        for (l, ladder) in ladders.iter().enumerate() {
            for (r, rung) in ladder.rungs.iter().enumerate() {
                let ix = RungIx(u16::try_from(places.len()).unwrap_or(u16::MAX));
                by_name.insert(RungRef { ladder: ladder.id.clone(), rung: rung.id.clone() }, ix);
                places.push((l, r));
            }
        }
        Self { abilities, ladders, by_name, places }
    }

    /// Abilities, by number.
    pub fn abilities(&self) -> &[Ability] {
        &self.abilities
    }

    /// One ability.
    pub fn ability(&self, ix: AbilityIx) -> &Ability {
        &self.abilities[ix.at()]
    }

    pub(crate) fn ability_mut(&mut self, ix: AbilityIx) -> &mut Ability {
        &mut self.abilities[ix.at()]
    }

    /// The number of an ability by id.
    pub fn find_ability(&self, id: &AbilityId) -> Option<AbilityIx> {
        let at = self.abilities.iter().position(|ability| ability.id == *id)?;
        u8::try_from(at).ok().map(AbilityIx)
    }

    /// Ladders in id order.
    pub fn ladders(&self) -> &[Ladder] {
        &self.ladders
    }

    /// A ladder by id.
    pub fn ladder(&self, id: &LadderId) -> Option<&Ladder> {
        self.ladders.binary_search_by(|l| l.id.cmp(id)).ok().map(|i| &self.ladders[i])
    }

    /// The number of a rung by name.
    pub fn find(&self, name: &RungRef) -> Option<RungIx> {
        self.by_name.get(name).copied()
    }

    /// A rung by number. Panics on a number of another catalog.
    pub fn rung(&self, ix: RungIx) -> &Rung {
        let (l, r) = self.places[ix.at()];
        &self.ladders[l].rungs[r]
    }

    pub(crate) fn rung_mut(&mut self, ix: RungIx) -> &mut Rung {
        let (l, r) = self.places[ix.at()];
        &mut self.ladders[l].rungs[r]
    }

    /// The ladder a rung stands on.
    pub fn ladder_of(&self, ix: RungIx) -> &Ladder {
        &self.ladders[self.places[ix.at()].0]
    }

    /// The name of a rung.
    pub fn name(&self, ix: RungIx) -> RungRef {
        let (l, r) = self.places[ix.at()];
        RungRef { ladder: self.ladders[l].id.clone(), rung: self.ladders[l].rungs[r].id.clone() }
    }

    /// Number of the ladder a rung stands on, in id order.
    pub fn ladder_number(&self, ix: RungIx) -> usize {
        self.places[ix.at()].0
    }

    /// Position of a rung within its ladder, 0 for the easiest.
    pub fn position(&self, ix: RungIx) -> usize {
        self.places[ix.at()].1
    }

    /// Numbers of the rungs of a ladder, easy to hard.
    pub fn rungs_of(&self, id: &LadderId) -> impl Iterator<Item = RungIx> + '_ {
        let wanted = self.ladders.binary_search_by(|l| l.id.cmp(id)).ok();
        self.places
            .iter()
            .enumerate()
            .filter(move |(_, (l, _))| Some(*l) == wanted)
            .map(|(i, _)| RungIx(u16::try_from(i).unwrap_or(u16::MAX)))
    }

    /// How many rungs there are.
    pub fn rung_count(&self) -> usize {
        self.places.len()
    }
}
