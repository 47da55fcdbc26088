//! Logistic noise as a mixture of normals (F-06, F-07).
//!
//! The standard logistic is, to 2.1e-9 in its distribution function, a mixture of eight normals. Under each of them every
//! quantity the filter needs is closed form, so one observation is eight truncated normals and one logarithm.
//!
//! Source: Monahan and Stefanski, "Normal scale mixture approximations to F*(z) and computation of the logistic-normal
//! integral", in Balakrishnan (ed.), Handbook of the Logistic Distribution, 1992, 529-540.
//!
//! Its tail stays within 1 % of the logistic's out to 15 noise scales. Past that it falls like a normal: so large a
//! surprise is scored lower, and moves the belief further, than the exact logistic would have it (twice as far at 40).

mod report;

pub use report::{Pair, PairUpdate, Report, observe_report};

use crate::normal;
use crate::truncated::{self, Gaussian, Interval, Slices, Update};
use multiversion::multiversion;
use std::array::from_fn;

/// Parts of the mixture.
const PARTS: usize = 8;

/// Probabilities of the parts, widest first: the widest part's exponent is the largest, so that the others can be scaled
/// by it without overflow.
const WEIGHTS: [f64; PARTS] = [
    0.001_449_567_805_354,
    0.027_912_418_727_972,
    0.131_076_880_695_470,
    0.274_149_576_158_423,
    0.315_569_823_632_818,
    0.195_077_912_673_858,
    0.051_517_477_033_972,
    0.003_246_343_272_134,
];
/// Inverse standard deviations of the parts, in units of the inverse scale.
const INVERSE_SDS: [f64; PARTS] = [
    0.238_212_616_409_306,
    0.308_904_252_267_995,
    0.396_313_345_166_341,
    0.508_135_425_366_489,
    0.650_732_166_639_391,
    0.830_791_313_765_644,
    1.059_523_971_016_916,
    1.365_340_806_296_348,
];
/// Variances of the parts, in units of the squared scale.
const VARIANCES: [f64; PARTS] = variances();

const fn variances() -> [f64; PARTS] {
    let mut variances = [0.0; PARTS];
    let mut part = 0;
    while part < PARTS {
        variances[part] = 1.0 / (INVERSE_SDS[part] * INVERSE_SDS[part]);
        part += 1;
    }
    variances
}

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
    match noise {
        Noise::Logistic { scale } => observe_logistic(prior, scale, interval),
        Noise::Normal { sd } => truncated::observe(prior, sd * sd, interval),
    }
}

/// [`updated`] by the widest arithmetic the processor has. Nothing is fused or reordered, so the bits are the same on all.
#[multiversion(targets("x86_64+avx512f+avx512vl+avx512dq", "x86_64+avx2"))]
fn observe_logistic(prior: Gaussian, scale: f64, interval: Interval) -> Update {
    updated(prior, scale, interval)
}

#[inline(always)]
fn updated(prior: Gaussian, scale: f64, interval: Interval) -> Update {
    let (lower, upper) = (interval.lower - prior.mean, interval.upper - prior.mean);
    let noises = VARIANCES.map(|part| scale * scale * part);
    let inverse_sds = noises.map(|noise| 1.0 / (prior.variance + noise).sqrt());
    let slices = Slices::new(&inverse_sds.map(|by| lower * by), &inverse_sds.map(|by| upper * by));

    let weights = from_fn(|i| WEIGHTS[i] * slices.mass[i]);
    let total = sum(&weights);
    let inverse = 1.0 / total;
    let shifts: [f64; PARTS] = from_fn(|i| prior.variance * inverse_sds[i] * slices.mean[i]);
    let shift = inverse * sum(&from_fn(|i| weights[i] * shifts[i]));
    let variance = inverse
        * sum(&from_fn(|i| {
            let kept = (noises[i] + prior.variance * slices.variance[i]) * (inverse_sds[i] * inverse_sds[i]);
            let apart = shifts[i] - shift;
            weights[i] * (prior.variance * kept + apart * apart)
        }));
    Update {
        log_mass: libm::log(total) + slices.exponent,
        posterior: Gaussian { mean: prior.mean + shift, variance: variance.min(prior.variance) },
    }
}

/// Sum in a fixed order, by halves.
#[inline(always)]
fn sum(values: &[f64; PARTS]) -> f64 {
    let [a, b, c, d, e, f, g, h] = *values;
    ((a + b) + (c + d)) + ((e + f) + (g + h))
}

/// What a belief about an ability says about the units of the next set (F-07).
///
/// Built once for a rung, then asked for as many limits as wanted.
#[derive(Clone, Copy, Debug)]
pub struct Outlook {
    mean: f64,
    inverse_sds: [f64; PARTS],
}

impl Outlook {
    /// From the belief about the ability on the rung and the noise of one set.
    #[must_use]
    pub fn new(belief: Gaussian, noise: Noise) -> Self {
        let noises = match noise {
            Noise::Logistic { scale } => VARIANCES.map(|part| scale * scale * part),
            Noise::Normal { sd } => [sd * sd; PARTS],
        };
        Self { mean: belief.mean, inverse_sds: noises.map(|noise| 1.0 / (belief.variance + noise).sqrt()) }
    }

    /// Probability that the capacity is at least `exp(ln_units)`.
    #[must_use]
    pub fn survival(&self, ln_units: f64) -> f64 {
        mixed(&normal::survivals(&self.standardised(ln_units)))
    }

    /// [`Outlook::survival`] at several limits, each raised by as much, to the same bits; as many as there is room for.
    pub fn survivals(&self, limits: (&[f64], f64), chances: &mut [f64]) {
        fill_survivals(self, limits, chances);
    }

    /// Probability that the capacity is below `exp(ln_units)`, full relative precision when it is small.
    #[must_use]
    pub fn shortfall(&self, ln_units: f64) -> f64 {
        mixed(&normal::survivals(&self.standardised(ln_units).map(|x| -x)))
    }

    /// Probability that the logarithm of the capacity lies in `band`.
    #[must_use]
    pub fn band(&self, band: Interval) -> f64 {
        let slices = Slices::new(&self.standardised(band.lower), &self.standardised(band.upper));
        mixed(&slices.mass) * libm::exp(slices.exponent)
    }

    #[inline(always)]
    fn standardised(&self, ln_units: f64) -> [f64; PARTS] {
        self.inverse_sds.map(|by| (ln_units - self.mean) * by)
    }
}

#[multiversion(targets("x86_64+avx512f+avx512vl+avx512dq", "x86_64+avx2"))]
fn fill_survivals(outlook: &Outlook, (ln_units, raised): (&[f64], f64), chances: &mut [f64]) {
    for (chance, at) in chances.iter_mut().zip(ln_units) {
        *chance = mixed(&normal::survivals(&outlook.standardised(at + raised)));
    }
}

/// Probability under the mixture from those under its parts.
#[inline(always)]
fn mixed(masses: &[f64; PARTS]) -> f64 {
    sum(&from_fn(|i| WEIGHTS[i] * masses[i])).min(1.0)
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Beliefs, scales and limits near, far and at the ends.
    fn cases() -> impl Iterator<Item = (Gaussian, f64, f64)> {
        let beliefs = [(1.4, 0.02), (0.0, 0.3), (-2.0, 1.5), (3.0, 0.0)];
        let beliefs = beliefs.map(|(mean, variance)| Gaussian { mean, variance });
        let limits = (-40..=40).map(|step| 0.173 * f64::from(step));
        let limits: Vec<f64> = limits.chain([f64::NEG_INFINITY, -90.0, 90.0, f64::INFINITY]).collect();
        beliefs.into_iter().flat_map(move |belief| {
            let limits = limits.clone();
            [0.05, 0.15, 0.6]
                .into_iter()
                .flat_map(move |scale| limits.clone().into_iter().map(move |limit| (belief, scale, limit)))
        })
    }

    #[test]
    fn wide_arithmetic_gives_the_bits_of_the_plain() {
        for (belief, scale, limit) in cases() {
            let outlook = Outlook::new(belief, Noise::Logistic { scale });
            let limits: [f64; 11] = from_fn(|i| limit + 0.1 * [0.0, 1.0, 2.0, 3.0][i % 4]);
            let mut chances = [0.0; 11];
            outlook.survivals((&limits, 0.25), &mut chances);
            assert_eq!(chances, limits.map(|at| outlook.survival(at + 0.25)), "{belief:?} {scale} {limit}");
            if limit.is_finite() {
                for interval in
                    [Interval::at_least(limit), Interval::below(limit), Interval::between(limit, limit + 0.2)]
                {
                    let wide = observe_logistic(belief, scale, interval);
                    assert_eq!(wide, updated(belief, scale, interval), "{belief:?} {scale} {interval:?}");
                }
            }
        }
    }
}
