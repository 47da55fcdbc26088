//! Mood: the form of the day, shared by every ability, dragging on from day to day, with bad spells now and then.

use crate::dice::Dice;

/// How much of yesterday's mood is left today.
const CARRY: f64 = 0.75;
/// Spread of the mood, as a share of capacity.
const SPREAD: f64 = 0.045;
/// Chance per day that a bad spell begins, and that it ends.
const BEGINS: f64 = 0.02;
const ENDS: f64 = 0.18;
/// What a bad spell costs.
const SPELL: f64 = 0.09;

/// Form of the day.
#[derive(Debug, Clone, Default)]
pub struct Mood {
    value: f64,
    is_bad_spell: bool,
}

impl Mood {
    /// A new day.
    pub fn sleep(&mut self, dice: &mut Dice) {
        self.value = CARRY * self.value + SPREAD * (1.0 - CARRY * CARRY).sqrt() * dice.laplace();
        self.is_bad_spell = if self.is_bad_spell { !dice.chance(ENDS) } else { dice.chance(BEGINS) };
    }

    /// Share of the usual capacity that is there today.
    pub fn factor(&self) -> f64 {
        let spell = if self.is_bad_spell { SPELL } else { 0.0 };
        (1.0 + self.value - spell).clamp(0.6, 1.25)
    }

    /// True in a bad spell.
    pub fn is_low(&self) -> bool {
        self.is_bad_spell
    }
}
