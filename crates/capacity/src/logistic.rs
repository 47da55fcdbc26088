//! Logistic noise as a mixture of normals (F-06, F-07).
//!
//! The standard logistic is, to 2.1e-9 in its distribution function, a mixture of eight normals. Under each of them every
//! quantity the filter needs is closed form, so one observation is eight truncated normals and one logarithm.
//!
//! Source: Monahan and Stefanski, "Normal scale mixture approximations to F*(z) and computation of the logistic-normal
//! integral", in Balakrishnan (ed.), Handbook of the Logistic Distribution, 1992, 529-540.
//!
//! Past about 20 noise scales the mixture falls like a normal rather than like the logistic: a surprise that large is
//! scored lower, and moves the belief further, than the exact logistic would have it.

mod report;

pub use report::{Pair, PairUpdate, Report, observe_report};

use crate::normal;
use crate::truncated::{Gaussian, Interval, Slice, Update, shrunk};

/// One normal of a mixture: its probability and its variance in units of the squared noise scale.
#[derive(Clone, Copy, Debug)]
struct Part {
    weight: f64,
    variance: f64,
}

impl Part {
    /// From the published pair: probability, and inverse standard deviation.
    const fn published(weight: f64, inverse_sd: f64) -> Self {
        Self { weight, variance: 1.0 / (inverse_sd * inverse_sd) }
    }
}

/// Most parts a mixture has.
const MOST_PARTS: usize = 8;

/// Widest first: its exponent is the largest, so the others are scaled by it without overflow.
const LOGISTIC: [Part; MOST_PARTS] = [
    Part::published(0.001_449_567_805_354, 0.238_212_616_409_306),
    Part::published(0.027_912_418_727_972, 0.308_904_252_267_995),
    Part::published(0.131_076_880_695_470, 0.396_313_345_166_341),
    Part::published(0.274_149_576_158_423, 0.508_135_425_366_489),
    Part::published(0.315_569_823_632_818, 0.650_732_166_639_391),
    Part::published(0.195_077_912_673_858, 0.830_791_313_765_644),
    Part::published(0.051_517_477_033_972, 1.059_523_971_016_916),
    Part::published(0.003_246_343_272_134, 1.365_340_806_296_348),
];
const NORMAL: [Part; 1] = [Part { weight: 1.0, variance: 1.0 }];

/// How the units done on one day scatter about the ability, in ln units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Noise {
    /// Logistic with this scale (its standard deviation is 1.81 times that).
    Logistic {
        /// Scale, ln units, positive.
        scale: f64,
    },
    /// Normal with this standard deviation.
    Normal {
        /// Standard deviation, ln units, positive.
        sd: f64,
    },
}

impl Noise {
    #[inline]
    fn parts(self) -> (&'static [Part], f64) {
        match self {
            Self::Logistic { scale } => (&LOGISTIC, scale * scale),
            Self::Normal { sd } => (&NORMAL, sd * sd),
        }
    }
}

/// Belief about an ability after seeing that the ability plus noise lies in `interval`.
///
/// Exact for normal noise. For logistic noise the log mass is within 2e-8 and the mean within 3e-7 posterior standard
/// deviations of quadrature out to 6 noise scales (`tests/reference_update.rs`). The returned variance is held at or
/// below the prior's, which the exact posterior of both noises obeys.
///
/// Requires `prior.variance >= 0`, a positive noise scale and `interval.lower < interval.upper`.
#[inline]
#[must_use]
pub fn observe(prior: Gaussian, noise: Noise, interval: Interval) -> Update {
    let (parts, unit) = noise.parts();
    let mut mixed = Mixed::default();
    for part in parts {
        let noise_variance = unit * part.variance;
        let inverse_sd = 1.0 / (prior.variance + noise_variance).sqrt();
        let slice = Slice::new(
            (interval.lower - prior.mean) * inverse_sd,
            (interval.upper - prior.mean) * inverse_sd,
        );
        mixed.add(
            part.weight * slice.weight,
            slice.exponent,
            prior.variance * inverse_sd * slice.mean,
            shrunk(prior.variance, noise_variance, slice.variance),
        );
    }
    let (log_mass, shift, variance) = mixed.moments();
    Update {
        log_mass,
        posterior: Gaussian { mean: prior.mean + shift, variance: variance.min(prior.variance) },
    }
}

/// Weighted normals being added up, scaled by the first one's exponent so that one logarithm ends the sum.
#[derive(Default)]
struct Mixed {
    len: usize,
    reference: f64,
    total: f64,
    weights: [f64; MOST_PARTS],
    shifts: [f64; MOST_PARTS],
    variances: [f64; MOST_PARTS],
}

impl Mixed {
    #[inline]
    fn add(&mut self, weight: f64, exponent: f64, shift: f64, variance: f64) {
        let scaled = if self.len == 0 {
            self.reference = exponent;
            weight
        } else {
            weight * libm::exp(exponent - self.reference)
        };
        self.weights[self.len] = scaled;
        self.shifts[self.len] = shift;
        self.variances[self.len] = variance;
        self.total += scaled;
        self.len += 1;
    }

    /// Log mass, mean shift and variance of the whole.
    #[inline]
    fn moments(&self) -> (f64, f64, f64) {
        let inverse = 1.0 / self.total;
        let parts = 0..self.len;
        let shift = inverse * parts.clone().map(|i| self.weights[i] * self.shifts[i]).sum::<f64>();
        let variance = inverse
            * parts
                .map(|i| {
                    let apart = self.shifts[i] - shift;
                    self.weights[i] * (self.variances[i] + apart * apart)
                })
                .sum::<f64>();
        (libm::log(self.total) + self.reference, shift, variance)
    }
}

/// What a belief about an ability says about the units of the next set (F-07).
///
/// Built once for a rung, then asked for as many limits as wanted.
#[derive(Clone, Copy, Debug)]
pub struct Outlook {
    mean: f64,
    len: usize,
    weights: [f64; MOST_PARTS],
    inverse_sds: [f64; MOST_PARTS],
}

impl Outlook {
    /// From the belief about the ability on the rung and the noise of one set.
    #[must_use]
    pub fn new(belief: Gaussian, noise: Noise) -> Self {
        let (parts, unit) = noise.parts();
        let mut weights = [0.0; MOST_PARTS];
        let mut inverse_sds = [0.0; MOST_PARTS];
        for (i, part) in parts.iter().enumerate() {
            weights[i] = part.weight;
            inverse_sds[i] = 1.0 / (belief.variance + unit * part.variance).sqrt();
        }
        Self { mean: belief.mean, len: parts.len(), weights, inverse_sds }
    }

    /// Probability that the capacity is at least `exp(ln_units)`.
    #[must_use]
    pub fn survival(&self, ln_units: f64) -> f64 {
        self.mixed(|inverse_sd| normal::survival((ln_units - self.mean) * inverse_sd))
    }

    /// Probability that the capacity is below `exp(ln_units)`, full relative precision when it is small.
    #[must_use]
    pub fn shortfall(&self, ln_units: f64) -> f64 {
        self.mixed(|inverse_sd| normal::survival((self.mean - ln_units) * inverse_sd))
    }

    /// Probability that the logarithm of the capacity lies in `band`.
    #[must_use]
    pub fn band(&self, band: Interval) -> f64 {
        self.mixed(|inverse_sd| {
            let slice =
                Slice::new((band.lower - self.mean) * inverse_sd, (band.upper - self.mean) * inverse_sd);
            slice.weight * libm::exp(slice.exponent)
        })
    }

    #[inline]
    fn mixed(&self, mass: impl Fn(f64) -> f64) -> f64 {
        let sum: f64 = (0..self.len).map(|i| self.weights[i] * mass(self.inverse_sds[i])).sum();
        sum.min(1.0)
    }
}

/// Probability that the capacity is at least `exp(ln_units)` under a belief about the ability.
#[must_use]
pub fn survival(belief: Gaussian, noise: Noise, ln_units: f64) -> f64 {
    Outlook::new(belief, noise).survival(ln_units)
}

/// Probability that the logarithm of the capacity lies in `band` under a belief about the ability.
#[must_use]
pub fn band_probability(belief: Gaussian, noise: Noise, band: Interval) -> f64 {
    Outlook::new(belief, noise).band(band)
}
