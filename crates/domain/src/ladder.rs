//! Ladders: rungs in order, what each demands, how each may be shaded and what it asks for first.

use serde::{Deserialize, Serialize};

use crate::ability::AbilityIx;
use crate::band::Band;
use crate::ids::{EquipmentId, LadderId, RungId, RungRef, ShadingId};
use crate::measure::Unit;
use crate::profile::Clearance;

/// The side of training a rung belongs to; bent-arm and straight-arm sessions alternate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// Arms bend under load.
    BentArm,
    /// Arms stay straight under load.
    StraightArm,
    /// Balance practice.
    Balance,
    /// Legs.
    Legs,
}

impl Side {
    /// Every side, in the order of the contract.
    pub const ALL: [Self; 4] = [Self::BentArm, Self::StraightArm, Self::Balance, Self::Legs];

    /// The word used in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::BentArm => "bent-arm",
            Self::StraightArm => "straight-arm",
            Self::Balance => "balance",
            Self::Legs => "legs",
        }
    }

    /// Reads a [`word`](Self::word).
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|s| s.word() == word)
    }
}

/// Where a difficulty comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// Zero by definition.
    Anchor,
    /// Computed from a published figure.
    Derived,
    /// A coach's estimate.
    Estimate,
}

impl Basis {
    /// Every basis, in the order of the contract.
    pub const ALL: [Self; 3] = [Self::Anchor, Self::Derived, Self::Estimate];

    /// The word used in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Anchor => "anchor",
            Self::Derived => "derived",
            Self::Estimate => "estimate",
        }
    }

    /// Reads a [`word`](Self::word).
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|b| b.word() == word)
    }
}

/// What a rung asks of one ability.
#[derive(Debug, Clone, PartialEq)]
pub struct Demand {
    /// The ability.
    pub ability: AbilityIx,
    /// Difficulty in ln units (F-01); larger is harder.
    pub difficulty: f64,
    /// Standard deviation of the difficulty.
    pub sd: f64,
    /// Where the number comes from.
    pub basis: Basis,
    /// Its source in words.
    pub source: String,
}

/// A named change to a rung.
#[derive(Debug, Clone, PartialEq)]
pub struct Shading {
    /// Its id within the ladder.
    pub id: ShadingId,
    /// Its name.
    pub name: String,
    /// What it adds to the difficulty, by ability, in ln units.
    pub change: Vec<(AbilityIx, f64)>,
    /// Standard deviation of the change.
    pub sd: f64,
    /// Where the number comes from.
    pub source: String,
    /// What it needs.
    pub equipment: Vec<EquipmentId>,
}

/// What a rung asks for first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gate {
    /// The condition.
    pub need: GateNeed,
    /// Why, in one sentence.
    pub why: String,
}

/// The condition of a gate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GateNeed {
    /// So many clean units must have been shown on another rung.
    Units {
        /// The other rung.
        rung: RungRef,
        /// Whole units in that rung's own unit.
        at_least: u16,
    },
    /// Somebody must have confirmed something.
    Clearance(Clearance),
}

/// One rung.
#[derive(Debug, Clone, PartialEq)]
pub struct Rung {
    /// Its id within the ladder.
    pub id: RungId,
    /// Its name.
    pub name: String,
    /// What it is counted in.
    pub unit: Unit,
    /// The side of training it belongs to.
    pub side: Side,
    /// Short cues.
    pub cues: Vec<String>,
    /// Its own cautions, beside the ladder's.
    pub cautions: Vec<String>,
    /// What it needs beyond the floor.
    pub equipment: Vec<EquipmentId>,
    /// Shadings offered on it.
    pub shadings: Vec<ShadingId>,
    /// True when the head is below the heart.
    pub inverted: bool,
    /// Share of body mass moved, and its source; load in kilograms is allowed only where this is known (F-10).
    pub load_share: Option<(f64, String)>,
    /// Working band, where it departs from the unit's.
    pub band: Option<Band>,
    /// Attempt band, where it departs from the unit's.
    pub attempt_band: Option<Band>,
    /// What it asks of each ability; never empty, each ability once, in ability order.
    pub demands: Vec<Demand>,
    /// What it asks for first.
    pub gates: Vec<Gate>,
}

impl Rung {
    /// The demand on one ability, if there is any.
    pub fn demand_on(&self, ability: AbilityIx) -> Option<&Demand> {
        self.demands.iter().find(|d| d.ability == ability)
    }
}

/// One ladder.
#[derive(Debug, Clone, PartialEq)]
pub struct Ladder {
    /// Its id.
    pub id: LadderId,
    /// Its name.
    pub name: String,
    /// Raised by hand whenever the content changes.
    pub version: u32,
    /// The side most of its rungs belong to.
    pub side: Side,
    /// What it is about, in a sentence.
    pub about: String,
    /// Cautions for every rung.
    pub cautions: Vec<String>,
    /// Named changes its rungs may offer.
    pub shadings: Vec<Shading>,
    /// Rungs from easy to hard.
    pub rungs: Vec<Rung>,
}

impl Ladder {
    /// A rung by id.
    pub fn rung(&self, id: &RungId) -> Option<&Rung> {
        self.rungs.iter().find(|r| r.id == *id)
    }

    /// A shading by id.
    pub fn shading(&self, id: &ShadingId) -> Option<&Shading> {
        self.shadings.iter().find(|s| s.id == *id)
    }
}
