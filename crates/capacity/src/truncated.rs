//! A normal quantity seen only to lie in an interval (F-06).
//!
//! `theta ~ N(m, v)` is known only through `a <= theta + N(0, s2) <= b`. The first two moments of `theta` given that are
//! closed form. They are computed from integrals that start at the nearer edge of the interval, so that far in a tail
//! nothing is a difference of numbers near one, and a narrow interval is a short series instead of a difference.

use crate::normal::{self, DENSITY_AT_ZERO, TailMoments};

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
    let total = prior.variance + noise_variance;
    let inverse_sd = 1.0 / total.sqrt();
    let slice =
        Slice::new((interval.lower - prior.mean) * inverse_sd, (interval.upper - prior.mean) * inverse_sd);
    Update {
        log_mass: libm::log(slice.weight) + slice.exponent,
        posterior: Gaussian {
            mean: prior.mean + prior.variance * inverse_sd * slice.mean,
            variance: shrunk(prior.variance, noise_variance, slice.variance),
        },
    }
}

/// Variance of `theta` when the noisy quantity keeps the share `kept` of its own variance.
#[inline]
pub(crate) fn shrunk(variance: f64, noise_variance: f64, kept: f64) -> f64 {
    variance * ((noise_variance + variance * kept) / (variance + noise_variance))
}

/// A standard normal cut to an interval. Its mass is `weight * exp(exponent)`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Slice {
    pub(crate) weight: f64,
    pub(crate) exponent: f64,
    pub(crate) mean: f64,
    /// In (0, 1].
    pub(crate) variance: f64,
}

/// What lies past an edge at `distance >= 0` from the centre of a standard normal.
#[derive(Clone, Copy)]
struct Edge {
    density: f64,
    /// Mass past the edge.
    beyond: f64,
    /// Distance times density.
    lever: f64,
}

impl Edge {
    #[inline]
    fn at(distance: f64) -> Self {
        if distance > NOTHING_BEYOND {
            return Self { density: 0.0, beyond: 0.0, lever: 0.0 };
        }
        let density = normal::density(distance);
        Self { density, beyond: normal::beyond(distance, density), lever: distance * density }
    }
}

/// Past this distance the density and all it multiplies are lost beside one: below 1e-22.
const NOTHING_BEYOND: f64 = 10.0;
/// From here on a slice is computed from its nearer edge.
const TAIL: f64 = 0.66;
/// Width times distance from the centre under which a slice is a short series.
const NARROW: f64 = 0.5;
/// `1/n, 1/(n+1), 1/(n+2)` for odd n: two terms of that series a row. The first term left out is below 1e-15 of the sum.
const RECIPROCALS: [[f64; 3]; 7] = [
    [1.0, 1.0 / 2.0, 1.0 / 3.0],
    [1.0 / 3.0, 1.0 / 4.0, 1.0 / 5.0],
    [1.0 / 5.0, 1.0 / 6.0, 1.0 / 7.0],
    [1.0 / 7.0, 1.0 / 8.0, 1.0 / 9.0],
    [1.0 / 9.0, 1.0 / 10.0, 1.0 / 11.0],
    [1.0 / 11.0, 1.0 / 12.0, 1.0 / 13.0],
    [1.0 / 13.0, 1.0 / 14.0, 1.0 / 15.0],
];

impl Slice {
    /// The slice from `lower` to `upper`, standardised.
    #[inline]
    pub(crate) fn new(lower: f64, upper: f64) -> Self {
        if upper == f64::INFINITY {
            Self::above(lower)
        } else if lower == f64::NEG_INFINITY {
            Self::above(-upper).mirrored()
        } else if lower + upper < 0.0 {
            Self::between(-upper, -lower).mirrored()
        } else {
            Self::between(lower, upper)
        }
    }

    #[inline]
    fn mirrored(self) -> Self {
        Self { mean: -self.mean, ..self }
    }

    #[inline]
    fn above(lower: f64) -> Self {
        if lower >= TAIL {
            let past = TailMoments::past(lower);
            return Self::in_tail(lower, [past.zeroth, past.first, past.second]);
        }
        let edge = Edge::at(-lower);
        let weight = 1.0 - edge.beyond;
        let mean = edge.density / weight;
        Self { weight, exponent: 0.0, mean, variance: 1.0 - mean * mean - edge.lever / weight }
    }

    /// Requires finite ends with `lower + upper >= 0`.
    #[inline]
    fn between(lower: f64, upper: f64) -> Self {
        let width = upper - lower;
        if width * upper.max(1.0) < NARROW {
            Self::narrow(lower + 0.5 * width, 0.5 * width)
        } else if lower >= TAIL {
            let near = TailMoments::past(lower);
            let far = TailMoments::past(upper);
            let fade = libm::exp(-0.5 * width * (lower + upper));
            let first = far.first + width * far.zeroth;
            let second = far.second + width * (far.first + first);
            Self::in_tail(
                lower,
                [near.zeroth - fade * far.zeroth, near.first - fade * first, near.second - fade * second],
            )
        } else {
            let (low, high) = (Edge::at(-lower), Edge::at(upper));
            let weight = 1.0 - low.beyond - high.beyond;
            let mean = (low.density - high.density) / weight;
            let variance = 1.0 - mean * mean - (low.lever + high.lever) / weight;
            Self { weight, exponent: 0.0, mean, variance }
        }
    }

    /// From the integrals of `t^n exp(-edge t - t^2/2)` over the slice, t being the distance past the edge.
    #[inline]
    fn in_tail(edge: f64, moments: [f64; 3]) -> Self {
        let inverse = 1.0 / moments[0];
        let past = moments[1] * inverse;
        Self {
            weight: DENSITY_AT_ZERO * moments[0],
            exponent: -0.5 * edge * edge,
            mean: edge + past,
            variance: (moments[2] * inverse - past * past).clamp(f64::MIN_POSITIVE, 1.0),
        }
    }

    /// A slice so narrow that `exp(-c t - t^2/2)`, t from the middle c, is a short series in Hermite polynomials.
    #[inline]
    fn narrow(middle: f64, half: f64) -> Self {
        let square = half * half;
        let slope = half * middle;
        let (mut zeroth, mut first, mut second) = (0.0, 0.0, 0.0);
        // `term` is He_n(middle) (-half)^n / n!, which multiplies (t / half)^n.
        let (mut before, mut term) = (0.0, 1.0);
        for &[odd, even, next_odd] in &RECIPROCALS {
            zeroth += term * odd;
            second += term * next_odd;
            (before, term) = (term, -(slope * term + square * before) * odd);
            first += term * next_odd;
            (before, term) = (term, -(slope * term + square * before) * even);
        }
        let inverse = 1.0 / zeroth;
        let shift = half * first * inverse;
        Self {
            weight: DENSITY_AT_ZERO * 2.0 * half * zeroth,
            exponent: -0.5 * middle * middle,
            mean: middle + shift,
            variance: square * second * inverse - shift * shift,
        }
    }
}
