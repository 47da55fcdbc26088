//! Mixture: variants of a rule, weighed by how well each has foretold the athlete's own sets so far.
//!
//! Bayes over a grid: a variant's weight is the product of the chances it gave to what happened. Against the best of `n`
//! variants in hindsight this loses at most `ln n` nats over a whole log, and needs no tuning on anybody's future.

/// Weights of `N` variants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mixture<const N: usize> {
    logs: [f64; N],
}

impl<const N: usize> Default for Mixture<N> {
    fn default() -> Self {
        Self { logs: [0.0; N] }
    }
}

impl<const N: usize> Mixture<N> {
    /// The weights; they sum to one.
    pub fn weights(&self) -> [f64; N] {
        let top = self.logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let raw = self.logs.map(|log| libm::exp(log - top));
        let sum: f64 = raw.iter().sum();
        raw.map(|weight| weight / sum)
    }

    /// Takes in the chances that the variants gave to what happened.
    pub fn learn(&mut self, chances: [f64; N]) {
        for (log, chance) in self.logs.iter_mut().zip(chances) {
            *log += libm::log(chance.max(1e-12));
        }
        let top = self.logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        self.logs.iter_mut().for_each(|log| *log -= top);
    }

    /// The mean of the variants' values.
    pub fn mean(weights: &[f64; N], value: impl Fn(usize) -> f64) -> f64 {
        weights.iter().enumerate().map(|(at, weight)| weight * value(at)).sum()
    }
}

/// Chance of what a set showed, from the chance of at least `k` units: `at least the units done`, less `one more` if that
/// failed.
pub fn chance_of(reach: impl Fn(u16) -> f64, units: u16, has_failed: bool) -> f64 {
    let more = if has_failed { reach(units.saturating_add(1)) } else { 0.0 };
    (reach(units) - more).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_follow_the_chances() {
        let mut mixture = Mixture::<2>::default();
        assert_eq!(mixture.weights(), [0.5, 0.5]);
        mixture.learn([0.5, 0.25]);
        mixture.learn([0.5, 0.25]);
        let weights = mixture.weights();
        assert!((weights[0] - 0.8).abs() < 1e-12 && (weights[1] - 0.2).abs() < 1e-12, "{weights:?}");
        assert!((Mixture::mean(&weights, |at| if at == 0 { 1.0 } else { 6.0 }) - 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_failure_lies_between_two_reaches() {
        let reach = |k: u16| 1.0 / f64::from(k + 1);
        assert!((chance_of(reach, 3, true) - (0.25 - 0.2)).abs() < 1e-12);
        assert!((chance_of(reach, 3, false) - 0.25).abs() < 1e-12);
    }
}
