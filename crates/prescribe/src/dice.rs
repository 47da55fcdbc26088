//! Dice: random numbers that come out the same on every machine and in every release.
//!
//! ChaCha with 8 rounds has a fixed output for a seed and a stream; every number below is made from its bits by our own
//! arithmetic and the pure-Rust `libm`, so that no change of a library's sampling code can change a result.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A stream of random numbers.
#[derive(Debug, Clone)]
pub struct Dice(ChaCha8Rng);

impl Dice {
    /// The stream number `stream` of a seed; streams of one seed are independent.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut source = ChaCha8Rng::seed_from_u64(seed);
        source.set_stream(stream);
        Self(source)
    }

    /// Uniform between 0 and 1, both excluded.
    pub fn unit(&mut self) -> f64 {
        // 52 random bits as the fraction of a number from 1 to 2; half a step keeps it off the ends.
        let bits = (self.0.next_u64() >> 12) | 0x3ff0_0000_0000_0000;
        f64::from_bits(bits) - 1.0 + f64::EPSILON / 2.0
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// Uniform among `0..n`; 0 when `n` is 0. The bias for `n` below a million is under one in a thousand million.
    pub fn below(&mut self, n: usize) -> usize {
        let wide = u128::from(self.0.next_u64()) * u128::try_from(n).unwrap_or(0);
        usize::try_from(wide >> 64).unwrap_or(0)
    }

    /// Uniform from `low` to `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// One of the items; nothing when there are none.
    pub fn pick<'a, T>(&mut self, items: &'a [T]) -> Option<&'a T> {
        items.get(self.below(items.len()))
    }

    /// Standard normal (Box and Muller 1958, from memory), the second of each pair thrown away.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * libm::log(self.unit())).sqrt();
        radius * libm::cos(2.0 * std::f64::consts::PI * self.unit())
    }

    /// Standard logistic: variance pi squared over three.
    pub fn logistic(&mut self) -> f64 {
        let u = self.unit();
        libm::log(u) - libm::log1p(-u)
    }

    /// Student's t with three degrees of freedom: variance 3.
    pub fn student_three(&mut self) -> f64 {
        let z = self.normal();
        let square: f64 = (0..3).map(|_| self.normal()).map(|x| x * x).sum();
        z / (square / 3.0).sqrt()
    }

    /// Exponential with mean 1.
    pub fn exponential(&mut self) -> f64 {
        -libm::log(self.unit())
    }

    /// Sum of `shape` exponentials over `shape`: mean 1, variance one over `shape`.
    pub fn erlang(&mut self, shape: u8) -> f64 {
        (0..shape).map(|_| self.exponential()).sum::<f64>() / f64::from(shape.max(1))
    }

    /// Weibull with median 1.
    pub fn weibull(&mut self, shape: f64) -> f64 {
        libm::pow(self.exponential() / std::f64::consts::LN_2, 1.0 / shape)
    }

    /// Laplace with standard deviation 1.
    pub fn laplace(&mut self) -> f64 {
        let size = self.exponential() / std::f64::consts::SQRT_2;
        if self.chance(0.5) { size } else { -size }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mean and variance of many draws.
    fn moments(draws: impl Fn(&mut Dice) -> f64) -> (f64, f64) {
        let mut dice = Dice::new(7, 0);
        let n = 200_000;
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..n {
            let x = draws(&mut dice);
            sum += x;
            squares += x * x;
        }
        let mean = sum / f64::from(n);
        (mean, squares / f64::from(n) - mean * mean)
    }

    #[test]
    fn the_first_numbers_of_a_seed_never_change() {
        let mut dice = Dice::new(1, 2);
        let bits: Vec<u64> = (0..3).map(|_| dice.unit().to_bits()).collect();
        assert_eq!(bits, FIRST_BITS);
        assert_ne!(Dice::new(1, 3).unit().to_bits(), FIRST_BITS[0], "streams differ");
        assert_ne!(Dice::new(2, 2).unit().to_bits(), FIRST_BITS[0], "seeds differ");
    }

    const FIRST_BITS: [u64; 3] =
        [4_606_069_076_032_366_159, 4_604_324_802_524_442_147, 4_599_736_461_188_690_482];

    #[test]
    fn moments_are_those_of_the_families() {
        // Bands of five standard errors of the mean and of the variance, the latter from known fourth moments.
        type Family = (&'static str, (f64, f64), f64, fn(&mut Dice) -> f64);
        let families: [Family; 6] = [
            ("uniform", (0.5, 1.0 / 12.0), 0.001, Dice::unit),
            ("normal", (0.0, 1.0), 0.016, Dice::normal),
            ("logistic", (0.0, 3.289_868_133_696_453), 0.07, Dice::logistic),
            ("exponential", (1.0, 1.0), 0.032, Dice::exponential),
            ("laplace", (0.0, 1.0), 0.026, Dice::laplace),
            ("erlang", (1.0, 0.25), 0.005, |dice| dice.erlang(4)),
        ];
        for (name, (mean, variance), slack, draws) in families {
            let (m, v) = moments(draws);
            assert!((m - mean).abs() < 5.0 * (variance / 200_000.0).sqrt(), "{name}: mean {m}");
            assert!((v - variance).abs() < slack, "{name}: variance {v}");
        }
    }

    #[test]
    fn tails_and_medians_are_those_of_the_families() {
        let share = |hit: fn(&mut Dice) -> bool| moments(move |d| if hit(d) { 1.0 } else { 0.0 }).0;
        // P(|t3| > 3.182446) = 0.05 (table of Student's t, from memory).
        let t = share(|d| d.student_three().abs() > 3.182_446);
        assert!((t - 0.05).abs() < 0.0025, "t3 tail {t}");
        let w = share(|d| d.weibull(9.0) > 1.0);
        assert!((w - 0.5).abs() < 0.0056, "Weibull median {w}");
        let b = share(|d| d.below(5) == 4);
        assert!((b - 0.2).abs() < 0.0045, "one of five {b}");
    }
}
