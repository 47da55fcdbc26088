//! Abilities: the latent qualities that rungs ask for.

use serde::{Deserialize, Serialize};

use crate::ids::{AbilityId, RungRef};

/// Kind of ability; each kind has its own noise scale (F-01).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AbilityKind {
    /// Strength.
    Strength,
    /// Balance.
    Balance,
    /// The line of the movement: path and body shape.
    Line,
}

impl AbilityKind {
    /// Every kind, in the order of the contract.
    pub const ALL: [Self; 3] = [Self::Strength, Self::Balance, Self::Line];

    /// The word used in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Strength => "strength",
            Self::Balance => "balance",
            Self::Line => "line",
        }
    }

    /// Reads a [`word`](Self::word).
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|k| k.word() == word)
    }

    /// Position in [`ALL`](Self::ALL), 0 to 2.
    pub fn index(self) -> usize {
        match self {
            Self::Strength => 0,
            Self::Balance => 1,
            Self::Line => 2,
        }
    }
}

/// One ability.
#[derive(Debug, Clone, PartialEq)]
pub struct Ability {
    /// Its id.
    pub id: AbilityId,
    /// Its name.
    pub name: String,
    /// Its kind.
    pub kind: AbilityKind,
    /// The rung whose difficulty on this ability is 0.
    pub anchor: RungRef,
    /// Prior mean of an unknown athlete's level, ln units on the anchor.
    pub start_level: f64,
    /// Prior standard deviation of that level.
    pub start_sd: f64,
    /// Where the prior comes from.
    pub source: String,
}

/// Dense number of an ability within a [`crate::catalog::Catalog`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct AbilityIx(pub u8);

impl AbilityIx {
    /// As an index.
    pub fn at(self) -> usize {
        usize::from(self.0)
    }
}
