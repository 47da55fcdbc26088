//! Profiles: what the coach knows and has set about an athlete.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::band::Bands;
use crate::date::CivilDate;
use crate::ids::{EquipmentId, LadderId, RungRef};
use crate::measure::{Grams, Pain};

/// Something that a person must confirm before certain rungs are trained.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Clearance {
    /// Head-down work is suitable for this athlete.
    InvertedWork,
    /// The way out of the position has been practised.
    ExitPractised,
    /// A slow lowering through the whole range, without a gap, has been seen.
    SlowLoweringFullRange,
}

impl Clearance {
    /// Every clearance, in the order of the contract.
    pub const ALL: [Self; 3] = [Self::InvertedWork, Self::ExitPractised, Self::SlowLoweringFullRange];

    /// The word used in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::InvertedWork => "inverted-work",
            Self::ExitPractised => "exit-practised",
            Self::SlowLoweringFullRange => "slow-lowering-full-range",
        }
    }

    /// Reads a [`word`](Self::word).
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|c| c.word() == word)
    }
}

/// A clearance that was given.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Confirmation {
    /// What was confirmed.
    pub clearance: Clearance,
    /// When.
    pub on: CivilDate,
    /// By whom: coach, physician, ...
    pub by: String,
}

/// A rung the athlete wants to reach.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Goal {
    /// The rung.
    pub rung: RungRef,
    /// The day wished for, if any.
    pub by: Option<CivilDate>,
}

/// A rung the coach has spoken of, and why: one that is banned, one insisted on, or the hardest allowed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Word {
    /// The rung.
    pub rung: RungRef,
    /// Why.
    pub reason: String,
}

/// Limits on a session.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Limits {
    /// Pain at or above this holds a rung back. From 1 to 10.
    pub max_pain: Pain,
    /// Most sets in a session.
    pub max_sets: u16,
    /// Most minutes in a session.
    pub max_minutes: u16,
    /// Rungs the coach has banned.
    pub bans: Vec<Word>,
    /// Rungs the coach insists on for working sets, at most one a ladder.
    #[serde(default)]
    pub pins: Vec<Word>,
    /// The hardest rungs the coach allows, at most one a ladder.
    #[serde(default)]
    pub caps: Vec<Word>,
}

impl Default for Limits {
    /// Pain 3 (below the "acceptable" range's middle, Thomeé 1997, from memory), 24 sets, 90 minutes.
    fn default() -> Self {
        Self {
            max_pain: Pain::DEFAULT_LIMIT,
            max_sets: 24,
            max_minutes: 90,
            bans: Vec::new(),
            pins: Vec::new(),
            caps: Vec::new(),
        }
    }
}

/// Days of the week, as bits from Monday (1) to Sunday (64).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Weekdays(u8);

impl Weekdays {
    /// Every day.
    pub const ALL: Self = Self(0x7f);

    /// From weekday numbers, 0 for Monday to 6 for Sunday; others are ignored.
    pub fn from_days(days: impl IntoIterator<Item = u8>) -> Self {
        Self(days.into_iter().filter(|d| *d < 7).fold(0, |bits, d| bits | (1 << d)))
    }

    /// True when the weekday (0 for Monday) is in.
    pub fn has(self, weekday: u8) -> bool {
        weekday < 7 && self.0 & (1 << weekday) != 0
    }

    /// The weekdays in, 0 for Monday.
    pub fn days(self) -> impl Iterator<Item = u8> {
        (0..7).filter(move |d| self.has(*d))
    }
}

/// What the coach knows and has set about an athlete.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Profile {
    /// A name to show.
    pub display_name: String,
    /// Birth date, if given.
    pub birth_date: Option<CivilDate>,
    /// Body mass, if given.
    pub body_mass: Option<Grams>,
    /// Goal rungs, the dearest first.
    pub goals: Vec<Goal>,
    /// What is at hand.
    pub equipment: BTreeSet<EquipmentId>,
    /// Days on which the athlete can train.
    pub days: Weekdays,
    /// Limits on a session.
    pub limits: Limits,
    /// What was confirmed, by whom and when.
    pub clearances: Vec<Confirmation>,
    /// The coach's own bands for this athlete.
    pub bands: Option<Bands>,
}

impl Profile {
    /// True when `clearance` was confirmed on or before `date`.
    pub fn is_cleared(&self, clearance: Clearance, date: CivilDate) -> bool {
        self.clearances.iter().any(|c| c.clearance == clearance && c.on <= date)
    }

    /// True when the athlete is known to be under 18 on `date`.
    pub fn is_minor(&self, date: CivilDate) -> bool {
        self.birth_date.is_some_and(|birth| date.years_since(birth) < 18)
    }

    /// The ban on a rung, if there is one.
    pub fn ban_on(&self, rung: &RungRef) -> Option<&Word> {
        self.limits.bans.iter().find(|b| b.rung == *rung)
    }

    /// The pin on a ladder, if there is one.
    pub fn pin_on(&self, ladder: &LadderId) -> Option<&Word> {
        self.limits.pins.iter().find(|p| p.rung.ladder == *ladder)
    }

    /// The cap on a ladder, if there is one.
    pub fn cap_on(&self, ladder: &LadderId) -> Option<&Word> {
        self.limits.caps.iter().find(|c| c.rung.ladder == *ladder)
    }
}
