//! Growth: how a simulated ability moves from day to day.
//!
//! Beside the model's own trend there are two truths that the model does not know: growth by the work done, so that rungs
//! well chosen pay, and long flat spells with jumps between them. Both keep what time off costs (F-03) and have no noise of
//! the level, so that a flat spell is flat. Every size: common practice, no source.

use nextrung_capacity::normal;
use nextrung_domain::measure::Unit;

/// How levels move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Growth {
    /// The model's damped trend and its noise (F-03); what is done does not matter.
    Trend,
    /// By the work done.
    Dose(Dose),
    /// Flat spells and jumps.
    Jumps(Jumps),
}

/// Growth by the work done: a set counts by how near the limit it came and by how heavy it was, a day's sets saturate, and
/// gains become smaller towards a ceiling.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dose {
    /// Gain of a day with more than enough work far from the ceiling, ln units.
    pub rate: f64,
    /// Sets of full worth that make 63 % of that gain.
    pub enough: f64,
    /// Gain at which nothing more is gained, ln units.
    pub ceiling: f64,
    /// How far from [`heaviness`] in ln units a set is worth 61 % of a full one.
    pub width: f64,
    /// Spread of the rate between athletes, standard deviation of its ln.
    pub spread: f64,
}

impl Dose {
    /// Gains of 1.5 to 2 % a week from good work, up to two thirds in all.
    pub const USUAL: Self = Self { rate: 0.008, enough: 1.5, ceiling: 0.5, width: 0.7, spread: 0.3 };

    /// What a set is worth, in full sets: `ln_units` were expected of it, and it came as near as `close` (0 to 1) to them.
    pub fn worth(&self, unit: Unit, ln_units: f64, close: f64) -> f64 {
        let off = (ln_units - libm::log(heaviness(unit))) / self.width;
        close * close * libm::exp(-0.5 * off * off)
    }

    /// Gain of a day, ln units, after `gained` in all: `worth` full sets for an athlete who gains `own` times the usual.
    pub fn gain(&self, worth: f64, own: f64, gained: f64) -> f64 {
        let room = (1.0 - gained / self.ceiling).max(0.0);
        self.rate * own * room * (1.0 - libm::exp(-worth / self.enough))
    }
}

/// Units to the limit of the set that builds most: heavy but not a single. That work of about the size the service aims at
/// builds most is what such a service takes for granted; here it is true by construction.
pub fn heaviness(unit: Unit) -> f64 {
    match unit {
        Unit::Reps => 5.0,
        Unit::HoldSeconds => 12.0,
        Unit::LoweringSeconds => 7.0,
    }
}

/// Flat spells and jumps, which come on days after work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jumps {
    /// Training days from one jump to the next, on average.
    pub days: f64,
    /// Mean size of a jump, ln units; sizes are exponential.
    pub size: f64,
}

impl Jumps {
    /// A jump of a tenth in five weeks of three sessions.
    pub const USUAL: Self = Self { days: 15.0, size: 0.10 };

    /// The jump on the day after a training day, from two standard normal draws; 0 on most days.
    pub fn after_work(&self, draws: [f64; 2]) -> f64 {
        let is_jump = normal::distribution(draws[0]) < 1.0 / self.days;
        if is_jump {
            self.size * -libm::log(normal::distribution(draws[1]).max(f64::MIN_POSITIVE))
        } else {
            0.0
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dice::Dice;

    #[test]
    fn sets_too_light_and_too_heavy_are_worth_less() {
        let dose = Dose::USUAL;
        for unit in Unit::ALL {
            let best = libm::log(heaviness(unit));
            assert!((dose.worth(unit, best, 1.0) - 1.0).abs() < 1e-12);
            let [light, heavy] = [1.4, -1.4].map(|off| dose.worth(unit, best + off, 1.0));
            // Two widths off: exp(-2).
            assert!((light - 0.135_335_283_236_612_7).abs() < 1e-12 && (light - heavy).abs() < 1e-12);
            assert!((dose.worth(unit, best, 0.5) - 0.25).abs() < 1e-12, "half way to the limit is a quarter");
        }
    }

    #[test]
    fn gains_saturate_and_end_at_the_ceiling() {
        let dose = Dose::USUAL;
        assert!(dose.gain(0.0, 1.0, 0.0).abs() < 1e-15);
        let [four, eight] = [4.0, 8.0].map(|worth| dose.gain(worth, 1.0, 0.0));
        assert!(four < eight && eight < dose.rate && eight < 1.1 * four, "{four} {eight}");
        assert!(dose.gain(4.0, 1.0, dose.ceiling).abs() < 1e-15);
        assert!((dose.gain(4.0, 2.0, 0.25) - four).abs() < 1e-15, "twice the rate at half the room");
    }

    #[test]
    fn jumps_come_as_often_and_as_large_as_said() {
        let (mut dice, mut count, mut sum) = (Dice::new(3, 0), 0.0, 0.0);
        for _ in 0..60_000 {
            let jump = Jumps::USUAL.after_work([dice.normal(), dice.normal()]);
            count += f64::from(u8::from(jump > 0.0));
            sum += jump;
        }
        // 60000 / 15 = 4000 jumps, four standard errors of sqrt(4000 x 14 / 15) = 61; their mean 0.1, of 0.1 / sqrt(4000).
        assert!((count - 4000.0_f64).abs() < 4.0 * 61.2, "{count}");
        assert!((sum / count - 0.10).abs() < 4.0 * 0.00158, "{}", sum / count);
    }
}
