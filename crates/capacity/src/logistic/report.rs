//! A set stopped by choice with a report of the units left: two unknowns at once (F-05).

use super::{Noise, PARTS, VARIANCES, WEIGHTS, sum};
use crate::truncated::Slices;
use std::array::from_fn;
use std::f64::consts::PI;

/// A joint normal belief about the ability on a rung and the athlete's reporting bias, both in ln units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// Means: ability, bias.
    pub mean: [f64; 2],
    /// Variance of the ability, covariance, variance of the bias.
    pub covariance: [f64; 3],
}

/// What an athlete said the set would have come to, had it gone to the limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Report {
    /// Logarithm of the units claimed: those done, those left and a half.
    pub ln_units: f64,
    /// Variance of the claim about the truth plus the athlete's bias, ln units squared.
    pub variance: f64,
}

/// A joint belief after a report.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PairUpdate {
    /// Natural logarithm of the joint density of the report and of the units done.
    pub log_mass: f64,
    /// The belief afterwards; neither variance is above the prior's.
    pub posterior: Pair,
}

/// Belief about (ability, bias) after a set of at least `exp(ln_done)` units and a report of its limit.
///
/// The capacity of the set is `u = ability + noise`. What was done says `u >= ln_done`; the report says
/// `report.ln_units = u + bias + N(0, report.variance)`. Each part of the noise is conditioned on the report, then cut at
/// `ln_done`; the parts are mixed and their first two moments kept. `ln_done` may be minus infinity.
///
/// Requires a positive semi-definite prior, a positive noise scale and `report.variance` or the bias variance positive.
#[must_use]
pub fn observe_report(prior: &Pair, noise: Noise, ln_done: f64, report: Report) -> PairUpdate {
    let cuts = match noise {
        Noise::Logistic { scale } => {
            VARIANCES.map(|part| Cut::new(prior, scale * scale * part, ln_done, report))
        }
        Noise::Normal { sd } => [Cut::new(prior, sd * sd, ln_done, report); PARTS],
    };
    mix(prior, &cuts)
}

/// One part of the mixture, conditioned and cut; `shift` is from the prior means.
#[derive(Clone, Copy)]
struct Cut {
    weight: f64,
    exponent: f64,
    shift: [f64; 2],
    covariance: [f64; 3],
}

impl Cut {
    /// Indices: `a` the ability, `b` the bias, `u` the capacity of the set. The conditional covariances are written with
    /// the determinant of the prior, which leaves no subtraction of nearly equal products when the report is sharp.
    fn new(prior: &Pair, noise: f64, ln_done: f64, report: Report) -> Self {
        let [aa, ab, bb] = prior.covariance;
        let determinant = (aa * bb - ab * ab).max(0.0);
        let spread = noise + report.variance;
        let inverse_total = 1.0 / (aa + 2.0 * ab + bb + spread);
        let surprise = report.ln_units - prior.mean[0] - prior.mean[1];
        let step = surprise * inverse_total;

        let uu = (determinant + noise * bb + (aa + noise) * report.variance) * inverse_total;
        let au = (determinant + aa * report.variance - ab * noise) * inverse_total;
        let bu = (ab * report.variance - bb * noise - determinant) * inverse_total;
        let inverse_sd = 1.0 / uu.sqrt();
        let centre = prior.mean[0] + (aa + noise + ab) * step;
        let slice = Slices::new(&[(ln_done - centre) * inverse_sd], &[f64::INFINITY]);
        let push = slice.mean[0] * inverse_sd;
        let pull = (1.0 - slice.variance[0]) * inverse_sd * inverse_sd;
        Self {
            weight: slice.mass[0] * (inverse_total / (2.0 * PI)).sqrt(),
            exponent: slice.exponent - 0.5 * surprise * step,
            shift: [(aa + ab) * step + au * push, (ab + bb) * step + bu * push],
            covariance: [
                (determinant + aa * spread) * inverse_total - au * au * pull,
                (ab * spread - determinant) * inverse_total - au * bu * pull,
                (determinant + bb * spread) * inverse_total - bu * bu * pull,
            ],
        }
    }
}

/// Joins the parts into one normal by their first two moments.
fn mix(prior: &Pair, cuts: &[Cut; PARTS]) -> PairUpdate {
    // The widest part has the largest exponent: nothing overflows.
    let weights = from_fn(|i| WEIGHTS[i] * cuts[i].weight * libm::exp(cuts[i].exponent - cuts[0].exponent));
    let total = sum(&weights);
    let shares: [f64; PARTS] = weights.map(|weight| weight / total);
    let shift = [0, 1].map(|k| sum(&from_fn(|i| shares[i] * cuts[i].shift[k])));
    let covariance = [(0, 0), (0, 1), (1, 1)].map(|(k, l)| {
        sum(&from_fn(|i| {
            let apart = (cuts[i].shift[k] - shift[k]) * (cuts[i].shift[l] - shift[l]);
            shares[i] * (cuts[i].covariance[k + l] + apart)
        }))
    });
    PairUpdate {
        log_mass: libm::log(total) + cuts[0].exponent,
        posterior: Pair {
            mean: [prior.mean[0] + shift[0], prior.mean[1] + shift[1]],
            covariance: held(covariance, prior.covariance),
        },
    }
}

/// Holds both variances at or below the prior's, as the exact posterior does, keeping the correlation.
fn held([aa, ab, bb]: [f64; 3], prior: [f64; 3]) -> [f64; 3] {
    let kept = |variance: f64, limit: f64| if variance > limit { limit / variance } else { 1.0 };
    let (of_ability, of_bias) = (kept(aa, prior[0]), kept(bb, prior[2]));
    [aa * of_ability, ab * (of_ability * of_bias).sqrt(), bb * of_bias]
}
