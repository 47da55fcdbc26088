//! Ache: pain that ends a set, the likelier the greater the strain. Every size: common practice, no source.
//!
//! The unit after which it comes does not depend on the luck of the set: a set that it ends says that the athlete had at
//! least the units done, and no more.

use crate::dice::Dice;

/// How prone to pain athletes are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ache {
    /// Expected pain stops of a fresh set to the expected limit.
    pub rate: f64,
    /// Spread between athletes, standard deviation of the ln of the rate.
    pub spread: f64,
}

/// With what power of the way to the limit the risk grows.
const POWER: f64 = 3.0;
/// Least and most pain of a set that it ended, of 10.
const PAIN: (u8, usize) = (3, 6);

impl Ache {
    /// One pain stop in about 300 sets to the limit when fresh, three times as many after two of them.
    pub const USUAL: Self = Self { rate: 0.003, spread: 0.5 };

    /// Units after which pain would come: the risk summed up to `k` units is `rate own (1 + carried) (k / expected)^3`, for
    /// `expected` units to the limit, `carried` sets' worth of work done before and an athlete `own` times as prone.
    pub fn onset(&self, own: f64, (expected, carried): (f64, f64), dice: &mut Dice) -> f64 {
        let risk_at_limit = self.rate * own * (1.0 + carried);
        expected * libm::pow(dice.exponential() / risk_at_limit, 1.0 / POWER)
    }

    /// How strong it is, of 10.
    pub fn strength(dice: &mut Dice) -> u8 {
        PAIN.0 + u8::try_from(dice.below(PAIN.1)).unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pain_grows_with_strain() {
        let share = |way: f64, carried: f64| {
            let mut dice = Dice::new(9, 0);
            let ache = Ache { rate: 0.05, spread: 0.0 };
            let hits = (0..40_000).filter(|_| ache.onset(1.0, (8.0, carried), &mut dice) < 8.0 * way).count();
            f64::from(u32::try_from(hits).unwrap()) / 40_000.0
        };
        // 1 - exp(-0.05 (1 + carried) way^3), four standard errors of at most 0.0021.
        for (way, carried, chance) in [(1.0, 0.0, 0.048_77), (1.0, 2.0, 0.139_29), (0.5, 0.0, 0.006_23)] {
            assert!((share(way, carried) - chance).abs() < 0.008, "{way} {carried}: {}", share(way, carried));
        }
        assert!(share(0.5, 0.0) < 0.5 * share(1.0, 0.0));
    }

    #[test]
    fn strengths_reach_from_three_to_eight() {
        let mut dice = Dice::new(9, 1);
        let all: Vec<u8> = (0..300).map(|_| Ache::strength(&mut dice)).collect();
        assert_eq!((all.iter().min(), all.iter().max()), (Some(&3), Some(&8)));
    }
}
