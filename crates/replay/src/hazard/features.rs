//! Features: what is known before a set, as columns of the regression.

use nextrung_capacity::load::ln_threshold;
use nextrung_domain::measure::Unit;
use serde::{Deserialize, Serialize};

use super::HazardError;
use super::grid::Piece;

/// Columns that are the same for every piece of a set.
pub const SET_COLUMNS: usize = 24;
/// All columns.
pub const COLUMNS: usize = SET_COLUMNS + 12;

/// Names of the columns, in order. Ln units are those without load (F-10). "Due" is the ability with the least margin, the
/// one that is expected to give out; its margin is the running level less the difficulty.
pub const NAMES: [&str; COLUMNS] = [
    "strength: difficulty of the rung with its shadings, 0 when not asked for",
    "balance: difficulty",
    "line: difficulty",
    "strength is asked for",
    "balance is asked for",
    "line is asked for",
    "margin of what is due",
    "closeness of the next least margin: exp(-2 gap), 0 when alone",
    "balance is due",
    "line is due",
    "evidence on what is due: n / (n + 3) of the sets that moved its level",
    "the rung was trained before",
    "and its last set failed",
    "sets before in this session on the same abilities",
    "ln of rest over the usual one, when known and not the first set",
    "ln (1 + days since what is due was trained)",
    "purpose: attempt",
    "purpose: practice",
    "purpose: test",
    "purpose: free",
    "unit: seconds held",
    "unit: seconds of lowering",
    "a target is set",
    "ln of the target over the margin, when there is one",
    "ln of the piece's last unit",
    "ln of the piece's width",
    "first unit",
    "units over the margin: ln of last unit less margin, 0 when below",
    "units over or under the margin, times evidence",
    "the same, times seconds held",
    "the same, times seconds of lowering",
    "the same, times balance is due",
    "the same, times line is due",
    "ln of last unit less ln of what the last set on this rung did, when that failed",
    "the same, when that did not fail",
    "ln of last unit less the running level on this rung, when trained before",
];

/// The least ln units that are told apart: with enough help everybody has a unit.
const LEAST_LN: f64 = -3.0;

/// Ln of the unloaded units that stand for `units`, kept from minus infinity.
pub(super) fn ln_units(units: f64, mass_ratio: f64) -> f64 {
    ln_threshold(units, mass_ratio).max(LEAST_LN)
}

/// What the athlete did on the same rung before, ln units moved to the shadings of the set to come.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Before {
    /// What the last set showed.
    pub last: f64,
    /// True when it ended in a failure.
    pub failed: bool,
    /// Running level.
    pub level: f64,
}

/// What is known before a set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Features {
    /// What is counted.
    pub unit: Unit,
    /// Mass moved with load over mass moved without.
    pub mass_ratio: f64,
    /// The columns that are the same for every piece, as [`NAMES`] has them.
    pub of_set: [f64; SET_COLUMNS],
    /// The same rung before.
    pub before: Option<Before>,
}

impl Features {
    /// The columns for one piece.
    pub fn row(&self, piece: Piece) -> [f64; COLUMNS] {
        let at = ln_units(f64::from(piece.to), self.mass_ratio);
        let [margin, balance, line, evidence] = [6, 8, 9, 10].map(|column| self.of_set[column]);
        let over = at - margin;
        let flag = |yes: bool| if yes { 1.0 } else { 0.0 };
        let rung = self.before.map(|b| (flag(b.failed), at - b.last, at - b.level));
        let (failed, past, level) = rung.unwrap_or((0.0, 0.0, 0.0));
        let mut row = [0.0; COLUMNS];
        row[..SET_COLUMNS].copy_from_slice(&self.of_set);
        row[SET_COLUMNS..].copy_from_slice(&[
            at,
            libm::log(f64::from(piece.width())),
            flag(piece.from == 0),
            over.max(0.0),
            over * evidence,
            over * flag(self.unit == Unit::HoldSeconds),
            over * flag(self.unit == Unit::LoweringSeconds),
            over * balance,
            over * line,
            past * failed,
            past * (1.0 - failed),
            level,
        ]);
        row
    }

    /// Nothing when every column of every piece is finite.
    ///
    /// # Errors
    ///
    /// [`HazardError::NotFinite`].
    pub fn check(&self) -> Result<(), HazardError> {
        // Every column is linear in the ln of the last unit, so one piece stands for all.
        let row = self.row(Piece { from: 0, to: 1 });
        match row.iter().position(|value| !value.is_finite()) {
            Some(column) => Err(HazardError::NotFinite { column }),
            None => Ok(()),
        }
    }
}
