//! Bands: the units wanted from a set.

use serde::{Deserialize, Serialize};

use crate::measure::Unit;

/// Units wanted: an athlete is in band when `low <= capacity < high + 1`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Band {
    /// Fewest whole units.
    pub low: u16,
    /// Most whole units.
    pub high: u16,
}

impl Band {
    /// A band in `unit`, or nothing when `low` is below 1 or above `high`, or `high` more than is taken for real.
    pub fn new(unit: Unit, low: i64, high: i64) -> Option<Self> {
        let (low, high) = (u16::try_from(low).ok()?, u16::try_from(high).ok()?);
        (1 <= low && low <= high && high <= unit.most()).then_some(Self { low, high })
    }

    /// True when `units` whole units lie in the band.
    pub fn holds(self, units: u16) -> bool {
        (self.low..=self.high).contains(&units)
    }
}

/// The working and the attempt band of one unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct BandPair {
    /// For working sets.
    pub working: Band,
    /// For skill attempts.
    pub attempt: Band,
}

/// Bands by unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Bands {
    /// For rungs counted in reps.
    pub reps: BandPair,
    /// For rungs held for seconds.
    pub hold: BandPair,
    /// For rungs lowered over seconds.
    pub lowering: BandPair,
}

impl Bands {
    /// The pair for a unit.
    pub fn of(&self, unit: Unit) -> BandPair {
        match unit {
            Unit::Reps => self.reps,
            Unit::HoldSeconds => self.hold,
            Unit::LoweringSeconds => self.lowering,
        }
    }
}

impl Default for Bands {
    /// Common practice, no source: 3-5 and 1-2 reps; 8-15 and 2-5 s of holding; 5-10 and 2-4 s of lowering.
    fn default() -> Self {
        let pair =
            |a, b, c, d| BandPair { working: Band { low: a, high: b }, attempt: Band { low: c, high: d } };
        Self { reps: pair(3, 5, 1, 2), hold: pair(8, 15, 2, 5), lowering: pair(5, 10, 2, 4) }
    }
}
