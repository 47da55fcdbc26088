//! Exact: sums of numbers that come out the same in any order, so that parts of a replay can be joined in any grouping.

use serde::{Deserialize, Serialize};

/// Steps in one: 2 to the 32nd. A score is rounded to this once, and never again.
const STEPS: f64 = 4_294_967_296.0;

/// A sum in whole steps of 2^-32. Holds 10^18 numbers of a million each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, PartialOrd, Ord)]
pub struct Exact(i128);

impl Exact {
    /// The nearest step to a finite number of at most a billion; larger ones are that, so that one lost set cannot spoil a sum.
    pub fn of(value: f64) -> Self {
        let steps = libm::round(value.clamp(-1e9, 1e9) * STEPS);
        #[expect(
            clippy::cast_possible_truncation,
            reason = "at most 1e9 times 2^32 either way, which i64 holds"
        )]
        let steps = steps as i64;
        Self(i128::from(steps))
    }

    /// Adds another sum.
    pub fn add(&mut self, other: Self) {
        self.0 += other.0;
    }

    /// As a number.
    pub fn value(self) -> f64 {
        // Split, so that neither half is rounded before the division.
        let (whole, rest) = (self.0.div_euclid(1 << 32), self.0.rem_euclid(1 << 32));
        number(whole) + number(rest) / STEPS
    }

    /// The mean over a count; nothing over none.
    pub fn mean(self, count: u64) -> Option<f64> {
        (count > 0).then(|| self.value() / number(i128::from(count)))
    }
}

/// The nearest number to a whole one.
pub fn number(whole: i128) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "the nearest number is what is asked for")]
    let number = whole as f64;
    number
}

impl Serialize for Exact {
    /// As text: JSON's numbers are not wide enough.
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.0)
    }
}

impl<'de> Deserialize<'de> for Exact {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map(Self).map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_do_not_hang_on_their_order() {
        let values: Vec<f64> = (1..2000).map(|n| 1.0 / f64::from(n) - 0.003 * f64::from(n % 7)).collect();
        let sum = |values: &mut dyn Iterator<Item = &f64>| {
            let mut sum = Exact::default();
            values.for_each(|v| sum.add(Exact::of(*v)));
            sum
        };
        let (there, back) = (sum(&mut values.iter()), sum(&mut values.iter().rev()));
        assert_eq!(there, back);
        assert!((there.value() - values.iter().sum::<f64>()).abs() < 2000.0 / STEPS);
        let text = serde_json::to_string(&there).unwrap();
        assert_eq!(serde_json::from_str::<Exact>(&text).unwrap(), there);
    }

    #[test]
    fn numbers_beyond_the_scale_are_held_at_its_end() {
        assert_eq!(Exact::of(f64::INFINITY).value(), 1e9);
        assert_eq!(Exact::of(-2.5).value(), -2.5);
        assert_eq!(Exact::of(1.0).mean(4), Some(0.25));
        assert_eq!(Exact::default().mean(0), None);
    }
}
