//! A normal quantity seen only to lie in an interval (F-06).
//!
//! `theta ~ N(m, v)` is known only through `a <= theta + N(0, s2) <= b`. The first two moments of `theta` given that are
//! closed form. They are computed from integrals that start at the nearer edge of the interval, so that far in a tail
//! nothing is a difference of numbers near one, and a narrow interval is a short series instead of a difference.

use crate::normal::{self, CENTRE_DISTANCE, TAIL_DISTANCE, TailMoments};
use std::array::from_fn;

/// A normal belief about one quantity: an ability minus a demand, in ln units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gaussian {
    /// Mean, ln units.
    pub mean: f64,
    /// Variance, ln units squared, not negative.
    pub variance: f64,
}

/// Where the observed quantity lies, in ln units; either end may be infinite. Requires `lower < upper`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower end, or minus infinity.
    pub lower: f64,
    /// Upper end, or plus infinity.
    pub upper: f64,
}

impl Interval {
    /// Between two ends.
    #[must_use]
    pub fn between(lower: f64, upper: f64) -> Self {
        Self { lower, upper }
    }

    /// At or above `lower`: a set that ended before the limit was reached.
    #[must_use]
    pub fn at_least(lower: f64) -> Self {
        Self { lower, upper: f64::INFINITY }
    }

    /// Below `upper`.
    #[must_use]
    pub fn below(upper: f64) -> Self {
        Self { lower: f64::NEG_INFINITY, upper }
    }
}

/// A belief after an observation, with how likely the observation was.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Update {
    /// Natural logarithm of the probability (or density) of what was observed.
    pub log_mass: f64,
    /// The belief afterwards; its variance is never above the prior's.
    pub posterior: Gaussian,
}

/// Belief about `theta` after seeing that `theta + N(0, noise_variance)` lies in `interval`.
///
/// Exact. Requires `prior.variance >= 0`, `noise_variance >= 0`, their sum positive, and `lower < upper`.
///
/// Source: moments of the truncated normal (Johnson, Kotz, Balakrishnan 1994, section 13.10, from memory), checked
/// against 20-digit quadrature in `tests/reference_update.rs`.
#[inline]
#[must_use]
pub fn observe(prior: Gaussian, noise_variance: f64, interval: Interval) -> Update {
    let inverse_sd = 1.0 / (prior.variance + noise_variance).sqrt();
    let slice = Slices::new(
        &[(interval.lower - prior.mean) * inverse_sd],
        &[(interval.upper - prior.mean) * inverse_sd],
    );
    let kept = (noise_variance + prior.variance * slice.variance[0]) * (inverse_sd * inverse_sd);
    Update {
        log_mass: libm::log(slice.mass[0]) + slice.exponent,
        posterior: Gaussian {
            mean: prior.mean + prior.variance * inverse_sd * slice.mean[0],
            variance: prior.variance * kept.min(1.0),
        },
    }
}

/// Standard normals cut to intervals, several at once. Their masses are `mass[i] * exp(exponent)`.
///
/// All intervals must lie on the same side of the centre, or all around it, the first one nearest to it or narrowest.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Slices<const N: usize> {
    pub(crate) exponent: f64,
    pub(crate) mass: [f64; N],
    pub(crate) mean: [f64; N],
    /// In (0, 1].
    pub(crate) variance: [f64; N],
}

/// Width times distance from the centre under which a slice is a short series.
const NARROW: f64 = 0.25;
/// `1/n, 1/(n+1), 1/(n+2)` for odd n: two terms of that series a row. The first term left out is below 1e-13 of the sum.
const RECIPROCALS: [[f64; 3]; 6] = [
    [1.0, 1.0 / 2.0, 1.0 / 3.0],
    [1.0 / 3.0, 1.0 / 4.0, 1.0 / 5.0],
    [1.0 / 5.0, 1.0 / 6.0, 1.0 / 7.0],
    [1.0 / 7.0, 1.0 / 8.0, 1.0 / 9.0],
    [1.0 / 9.0, 1.0 / 10.0, 1.0 / 11.0],
    [1.0 / 11.0, 1.0 / 12.0, 1.0 / 13.0],
];

impl<const N: usize> Slices<N> {
    /// The slices from `lower` to `upper`, standardised.
    #[inline(always)]
    pub(crate) fn new(lower: &[f64; N], upper: &[f64; N]) -> Self {
        let negated = |ends: &[f64; N]| ends.map(|end| -end);
        let (first, last) = (lower[0], upper[0]);
        if last == f64::INFINITY {
            if first == f64::NEG_INFINITY { Self::WHOLE } else { Self::above(lower) }
        } else if first == f64::NEG_INFINITY {
            Self::above(&negated(upper)).mirrored()
        } else if first + last < 0.0 {
            Self::between(&negated(upper), &negated(lower)).mirrored()
        } else {
            Self::between(lower, upper)
        }
    }

    const WHOLE: Self = Self { exponent: 0.0, mass: [1.0; N], mean: [0.0; N], variance: [1.0; N] };

    #[inline(always)]
    fn mirrored(self) -> Self {
        Self { mean: self.mean.map(|mean| -mean), ..self }
    }

    /// Everything above the edges.
    #[inline(always)]
    fn above(edge: &[f64; N]) -> Self {
        let exponent = exponent_for(edge[0]);
        let density = normal::densities(edge, exponent);
        let tail = normal::beyond(&edge.map(f64::abs), &density);
        let mass = from_fn(|i| if edge[i] < 0.0 { 1.0 - tail[i] } else { tail[i] });
        let mean = from_fn(|i| density[i] / mass[i]);
        let variance = from_fn(|i| 1.0 - mean[i] * (mean[i] - edge[i]));
        let mut slices = Self { exponent, mass, mean, variance };
        for i in 0..N {
            if edge[i] > TAIL_DISTANCE {
                let past = TailMoments::past(edge[i]);
                slices.put(i, (edge[i], density[i]), [past.zeroth, past.first, past.second]);
            }
        }
        slices
    }

    /// Finite intervals with `lower + upper >= 0`.
    #[inline(always)]
    fn between(lower: &[f64; N], upper: &[f64; N]) -> Self {
        let exponent = exponent_for(lower[0]);
        let narrow: [bool; N] = from_fn(|i| (upper[i] - lower[i]) * upper[i].max(1.0) < NARROW);
        if !narrow.contains(&false) {
            return Self::narrow(lower, upper, exponent);
        }
        let mut slices = Self::from_edges(lower, upper, exponent);
        for i in (0..N).filter(|&i| narrow[i]) {
            let single = Slices::narrow(&[lower[i]], &[upper[i]], exponent);
            slices.mass[i] = single.mass[0];
            slices.mean[i] = single.mean[0];
            slices.variance[i] = single.variance[0];
        }
        slices
    }

    /// Intervals wide enough to be told from what lies past their edges.
    #[inline(always)]
    fn from_edges(lower: &[f64; N], upper: &[f64; N], exponent: f64) -> Self {
        let [low, high] = [lower, upper].map(|edge| normal::densities(edge, exponent));
        let below = normal::beyond(&lower.map(f64::abs), &low);
        let above = normal::beyond(upper, &high);
        let mass: [f64; N] =
            from_fn(|i| if lower[i] < 0.0 { 1.0 - below[i] - above[i] } else { below[i] - above[i] });
        let mean: [f64; N] = from_fn(|i| (low[i] - high[i]) / mass[i]);
        let variance =
            from_fn(|i| 1.0 - mean[i] * mean[i] + (lower[i] * low[i] - upper[i] * high[i]) / mass[i]);
        let mut slices = Self { exponent, mass, mean, variance };
        for i in 0..N {
            if lower[i] > TAIL_DISTANCE {
                slices.put(i, (lower[i], low[i]), moments_within(lower[i], upper[i] - lower[i]));
            }
        }
        slices
    }

    /// Sets a slice from its `edge`, the density there, and the integrals of `t^n exp(-edge t - t^2/2)` over it, t being
    /// the distance past the edge.
    fn put(&mut self, i: usize, (edge, density): (f64, f64), [zeroth, first, second]: [f64; 3]) {
        let past = first / zeroth;
        self.mass[i] = density * zeroth;
        self.mean[i] = edge + past;
        self.variance[i] = second / zeroth - past * past;
    }

    /// Slices so narrow that `exp(-c t - t^2/2)`, t from the middle c, is a short series in Hermite polynomials.
    #[inline(always)]
    fn narrow(lower: &[f64; N], upper: &[f64; N], exponent: f64) -> Self {
        let half: [f64; N] = from_fn(|i| 0.5 * (upper[i] - lower[i]));
        let middle: [f64; N] = from_fn(|i| lower[i] + half[i]);
        // `term` is He_n(middle) (-half)^n / n!, which multiplies (t / half)^n; `before` the one of n - 1.
        let (mut before, mut term) = ([0.0; N], [1.0; N]);
        let (mut zeroth, mut first, mut second) = ([0.0; N], [0.0; N], [0.0; N]);
        for &[odd, even, next_odd] in &RECIPROCALS {
            for i in 0..N {
                let (slope, square) = (half[i] * middle[i], half[i] * half[i]);
                zeroth[i] += term[i] * odd;
                second[i] += term[i] * next_odd;
                before[i] = -(slope * term[i] + square * before[i]) * odd;
                first[i] += before[i] * next_odd;
                term[i] = -(slope * before[i] + square * term[i]) * even;
            }
        }
        let density = normal::densities(&middle, exponent);
        let shift: [f64; N] = from_fn(|i| half[i] * (first[i] / zeroth[i]));
        Self {
            exponent,
            mass: from_fn(|i| density[i] * 2.0 * half[i] * zeroth[i]),
            mean: from_fn(|i| middle[i] + shift[i]),
            variance: from_fn(|i| half[i] * half[i] * (second[i] / zeroth[i]) - shift[i] * shift[i]),
        }
    }
}

/// The exponent taken out of slices that start at `edge`: none while a slice reaches near the centre.
#[inline]
fn exponent_for(edge: f64) -> f64 {
    if edge < CENTRE_DISTANCE { 0.0 } else { -0.5 * edge * edge }
}

/// Integrals of `t^n exp(-edge t - t^2/2)` for n = 0, 1, 2 over `0 <= t <= width`.
fn moments_within(edge: f64, width: f64) -> [f64; 3] {
    let near = TailMoments::past(edge);
    let far = TailMoments::past(edge + width);
    let fade = libm::exp(-width * (edge + 0.5 * width));
    let first = far.first + width * far.zeroth;
    let second = far.second + width * (far.first + first);
    [near.zeroth - fade * far.zeroth, near.first - fade * first, near.second - fade * second]
}
