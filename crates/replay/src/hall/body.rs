//! Body: what a person can truly do today, and how one set truly ends.

use std::collections::BTreeMap;

use nextrung_domain::ability::{AbilityIx, AbilityKind};
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ids::ShadingId;

use crate::dice::Dice;
use crate::hall::cast::Person;
use crate::hall::growth::Growth;
use crate::hall::mood::Mood;

/// Spread of how steeply a ladder climbs for a person, as a factor on its difficulties.
const STRETCH: f64 = 0.05;
/// Share that is missing on a rung never done, and sets after which a third of that is still missing.
const STRANGE: f64 = 0.25;
const LEARNING_SETS: f64 = 12.0;
/// Shape of the Weibull ends of strength; larger is steadier.
const STEADINESS: f64 = 13.0;
/// Spread of the log-normal ends of balance, and the chance of a slip at any moment before.
const WOBBLE: f64 = 0.35;
const SLIP: f64 = 0.10;
/// What a set to the limit costs the next one, and seconds of rest that halve it.
const TIRED: f64 = 0.09;
const HALVING_REST: f64 = 120.0;

/// What is attempted in a set.
#[derive(Debug, Clone, PartialEq)]
pub struct Effort {
    /// The rung.
    pub rung: RungIx,
    /// A change to it.
    pub shading: Option<ShadingId>,
    /// Kilograms added.
    pub load_kg: f64,
    /// Rest before it, seconds.
    pub rest: u16,
}

/// What could have been done in one set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// Clean units.
    pub units: u16,
    /// What gives out next.
    pub kind: AbilityKind,
    /// Clean units that strength alone would have given.
    pub strength: u16,
}

/// A person's truth.
#[derive(Debug, Clone)]
pub struct Body {
    abilities: Vec<Growth>,
    stretch: Vec<f64>,
    mood: Mood,
    practised: BTreeMap<RungIx, f64>,
    tired: Vec<f64>,
    worked: Vec<bool>,
    mass_kg: f64,
}

impl Body {
    /// At the start of the story.
    pub fn new(catalog: &Catalog, person: &Person, dice: &mut Dice) -> Self {
        let mut abilities = Vec::new();
        let mut stretch = Vec::new();
        for ability in catalog.abilities() {
            let own = person.start.iter().find(|(id, _)| *id == ability.id.as_str());
            let units = own.map_or_else(|| libm::exp(ability.start_level), |(_, units)| *units);
            abilities.push(Growth::new(units, person.pace, dice));
            stretch.push(1.0 + STRETCH * dice.normal());
        }
        let count = abilities.len();
        Self {
            abilities,
            stretch,
            mood: Mood::default(),
            practised: BTreeMap::new(),
            tired: vec![0.0; count],
            worked: vec![false; count],
            mass_kg: person.mass_kg,
        }
    }

    /// A night passes.
    pub fn sleep(&mut self, dice: &mut Dice) {
        for (growth, worked) in self.abilities.iter_mut().zip(&mut self.worked) {
            if std::mem::take(worked) {
                growth.worked(dice);
            }
            growth.sleep();
        }
        self.mood.sleep(dice);
        self.tired.fill(0.0);
    }

    /// True on a day in a bad spell.
    pub fn is_low(&self) -> bool {
        self.mood.is_low()
    }

    /// The rung counts as known from before the story.
    pub fn knows(&mut self, rung: RungIx) {
        self.practised.insert(rung, 4.0 * LEARNING_SETS);
    }

    /// Units of a fresh set without luck, on one ability of a rung.
    fn usual_on(&self, catalog: &Catalog, effort: &Effort, (ability, difficulty): (AbilityIx, f64)) -> f64 {
        let ladder = catalog.ladder_of(effort.rung);
        let shading = effort.shading.as_ref().and_then(|id| ladder.shading(id));
        let change = shading.and_then(|s| s.change.iter().find(|(a, _)| *a == ability)).map_or(0.0, |c| c.1);
        let steep = self.stretch[ability.at()] * (difficulty + change);
        let sets = self.practised.get(&effort.rung).copied().unwrap_or(0.0);
        let skill = 1.0 - STRANGE * libm::exp(-sets / LEARNING_SETS);
        self.abilities[ability.at()].units() * libm::exp(-steep) * skill * self.mood.factor()
    }

    /// Units of a fresh set without luck: the least over the rung's abilities.
    pub fn usual(&self, catalog: &Catalog, effort: &Effort) -> f64 {
        let demands = &catalog.rung(effort.rung).demands;
        let each = demands.iter().map(|d| self.usual_on(catalog, effort, (d.ability, d.difficulty)));
        self.loaded(catalog, effort, each.fold(f64::INFINITY, f64::min))
    }

    /// Reps under load, by Brzycki's relation, 1RM = 36 w / (37 - r) (form seen): not the one the model uses.
    fn loaded(&self, catalog: &Catalog, effort: &Effort, reps: f64) -> f64 {
        let share = catalog.rung(effort.rung).load_share.as_ref().map(|(share, _)| *share);
        match share {
            Some(share) if effort.load_kg != 0.0 => {
                let moved = share * self.mass_kg;
                (37.0 - (37.0 - reps.min(36.0)) * (moved + effort.load_kg) / moved).max(0.0)
            }
            _ => reps,
        }
    }

    /// Does one set as far as it goes; what was really done is told by [`Body::done`].
    pub fn limit(&mut self, catalog: &Catalog, effort: &Effort, dice: &mut Dice) -> Limit {
        let mut limit = Limit { units: u16::MAX, kind: AbilityKind::Strength, strength: u16::MAX };
        for demand in &catalog.rung(effort.rung).demands {
            let at = demand.ability.at();
            let fresh = f64::from(effort.rest) / HALVING_REST;
            self.tired[at] *= libm::exp2(-fresh);
            let kind = catalog.ability(demand.ability).kind;
            let usual = self.usual_on(catalog, effort, (demand.ability, demand.difficulty));
            let luck = luck(kind, dice) * (1.0 - TIRED * self.tired[at]).max(0.5);
            let units = whole(self.loaded(catalog, effort, usual * luck));
            if units < limit.units {
                limit = Limit { units, kind, ..limit };
            }
            if kind == AbilityKind::Strength {
                limit.strength = limit.strength.min(units);
            }
        }
        limit
    }

    /// The set that ended after `units` of `limit` is over.
    pub fn done(&mut self, catalog: &Catalog, effort: &Effort, (units, limit): (u16, Limit)) {
        *self.practised.entry(effort.rung).or_insert(0.0) += 1.0;
        let close = f64::from(units) / f64::from(limit.units.max(1));
        for demand in &catalog.rung(effort.rung).demands {
            self.tired[demand.ability.at()] += close * close * close;
            self.worked[demand.ability.at()] = true;
        }
    }
}

/// What chance makes of a set, as a factor.
fn luck(kind: AbilityKind, dice: &mut Dice) -> f64 {
    match kind {
        AbilityKind::Strength => dice.weibull(STEADINESS),
        AbilityKind::Balance => {
            let wobble = libm::exp(WOBBLE * dice.normal());
            if dice.chance(SLIP) { wobble * dice.unit() } else { wobble }
        }
        AbilityKind::Line => dice.erlang(9),
    }
}

/// Whole clean units.
fn whole(units: f64) -> u16 {
    let floor = libm::floor(units.clamp(0.0, 1500.0));
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in 0..=1500 above")]
    let count = floor as u16;
    count
}
