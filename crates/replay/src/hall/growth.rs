//! Growth: strength stands on a plateau until enough work has gathered, then jumps; time off wears it away, and what was
//! there before comes back faster than it first came.

use crate::dice::Dice;
use crate::hall::cast::Pace;

/// Days without work before anything is lost.
const GRACE_DAYS: i32 = 12;
/// Share lost per day after that, and the share of the best that always stays.
const LOSS: f64 = 0.012;
const FLOOR: f64 = 0.78;
/// Share of a jump, or of what was lost, that is taken up per day and per session.
const SETTLING: f64 = 0.2;
const REGAIN: f64 = 0.15;

/// Strength on one ability, in units on its anchor.
#[derive(Debug, Clone)]
pub struct Growth {
    units: f64,
    best: f64,
    gathered: f64,
    needed: f64,
    idle: i32,
    pace: Pace,
}

impl Growth {
    /// At the start.
    pub fn new(units: f64, pace: Pace, dice: &mut Dice) -> Self {
        let needed = pace.sessions_a_jump * dice.erlang(3);
        Self { units, best: units, gathered: 0.0, needed, idle: 0, pace }
    }

    /// Units on the anchor today, fresh.
    pub fn units(&self) -> f64 {
        self.units
    }

    /// A session that worked the ability has ended.
    pub fn worked(&mut self, dice: &mut Dice) {
        self.idle = 0;
        self.gathered += 1.0;
        self.units += REGAIN * (self.best - self.units).max(0.0);
        if self.gathered >= self.needed {
            self.best *= 1.0 + self.pace.jump * dice.erlang(2);
            self.gathered = 0.0;
            self.needed = self.pace.sessions_a_jump * dice.erlang(3);
        }
    }

    /// A night has passed.
    pub fn sleep(&mut self) {
        self.idle += 1;
        if self.idle > GRACE_DAYS {
            self.units = (self.units * (1.0 - LOSS)).max(FLOOR * self.best);
        } else if self.units > 0.9 * self.best {
            self.units += SETTLING * (self.best - self.units);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PACE: Pace = Pace { sessions_a_jump: 3.0, jump: 0.1 };

    #[test]
    fn it_stands_still_and_then_jumps() {
        let mut dice = Dice::new(3, 0);
        let mut growth = Growth::new(10.0, PACE, &mut dice);
        let mut seen = Vec::new();
        for _ in 0..60 {
            growth.worked(&mut dice);
            growth.sleep();
            seen.push(growth.units());
        }
        let still = seen.windows(2).filter(|w| (w[1] - w[0]).abs() < 1e-3).count();
        assert!(seen[59] > 14.0, "it grows: {}", seen[59]);
        assert!(seen.windows(2).all(|w| w[1] >= w[0]), "it never falls while trained");
        assert!(still > 2, "there are plateaus: {still}");
    }

    #[test]
    fn time_off_wears_it_away_to_a_floor_and_it_comes_back() {
        let mut dice = Dice::new(3, 1);
        let mut growth = Growth::new(10.0, Pace { sessions_a_jump: 1e9, jump: 0.0 }, &mut dice);
        for _ in 0..GRACE_DAYS {
            growth.sleep();
        }
        assert!((growth.units() - 10.0).abs() < 1e-9, "the grace costs nothing");
        for _ in 0..200 {
            growth.sleep();
        }
        assert!((growth.units() - 7.8).abs() < 1e-9, "a floor stays: {}", growth.units());
        for _ in 0..20 {
            growth.worked(&mut dice);
        }
        assert!(growth.units() > 9.8, "it comes back: {}", growth.units());
    }
}
