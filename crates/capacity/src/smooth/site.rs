//! Site: what one set says, as a Gaussian factor on the two numbers it depends on (F-08).
//!
//! The two numbers are the set's linear form of the state and the reporting bias; most sets say nothing of the
//! second. Symmetric 2x2 matrices are kept as `[first, both, second]`. Nothing here inverts a covariance, so a number
//! that is known exactly, or a set that says nothing, is no special case.

use crate::logistic::Pair;

/// The factor `exp(pull' z - z' precision z / 2)` of a pair of numbers z.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Site {
    /// Positive semi-definite.
    pub precision: [f64; 3],
    /// Precision times the value told.
    pub pull: [f64; 2],
}

/// What a site does to a belief with covariance P around forms H: `mean += P H' push`, `covariance -= P H' inner H P`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// Positive semi-definite.
    pub inner: [f64; 3],
    /// By form.
    pub push: [f64; 2],
}

/// Share of the product of two variances under which a determinant counts as rounding.
const ONE_FORM_ONLY: f64 = 1e-14;

impl Site {
    /// The factor that turns `before` into `after`, with the closest one of no negative precision when a belief
    /// widened: a posterior mean is always met, a variance only if it shrank. `joint` tells whether the second number
    /// counts.
    ///
    /// Of all normals no wider than `before`, the one reached is nearest to `after` in the sense of expectation
    /// propagation.
    #[must_use]
    pub fn between(before: &Pair, after: &Pair, joint: bool) -> Self {
        let one_form = !joint || determinant(before.covariance) <= lost_in_rounding(before.covariance);
        let (wide, precision) = if one_form {
            let (wide, narrow) = (before.covariance[0], after.covariance[0].min(before.covariance[0]));
            if wide <= 0.0 || narrow <= 0.0 {
                return Self::default();
            }
            ([1.0 / wide, 0.0, 0.0], [(wide - narrow) / (wide * narrow), 0.0, 0.0])
        } else {
            let (wide, narrow) = (inverse(before.covariance), inverse(after.covariance));
            (wide, without_negative([0, 1, 2].map(|k| narrow[k] - wide[k])))
        };
        let moved = times([0, 1, 2].map(|k| wide[k] + precision[k]), apart(&after.mean, &before.mean));
        let held = times(precision, before.mean);
        Self { precision, pull: [moved[0] + held[0], moved[1] + held[1]] }
    }

    /// What the site does to a belief of which `before` is the part it speaks of.
    #[must_use]
    pub fn gain(&self, before: &Pair) -> Gain {
        let missing = apart(&self.pull, &times(self.precision, before.mean));
        Gain {
            inner: joined(self.precision, before.covariance),
            push: damped(self.precision, before.covariance, missing),
        }
    }

    /// The belief once the site is taken in.
    #[must_use]
    pub fn applied(&self, before: &Pair) -> Pair {
        let push = times(before.covariance, self.gain(before).push);
        Pair {
            mean: [before.mean[0] + push[0], before.mean[1] + push[1]],
            covariance: joined(before.covariance, self.precision),
        }
    }

    /// Logarithm of the integral of the site over a belief.
    #[must_use]
    pub fn log_mass(&self, before: &Pair) -> f64 {
        let push = self.gain(before).push;
        let after = self.applied(before).mean;
        let exponent = inner(before.mean, push) + inner(self.pull, after);
        0.5 * (exponent - libm::log(growth(self.precision, before.covariance)))
    }
}

/// `(A^-1 + B)^-1 = (I + A B)^-1 A`, for positive semi-definite A and B.
pub(super) fn joined(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    let (of_a, by) = (determinant(a), 1.0 / growth(a, b));
    [(a[0] + of_a * b[2]) * by, (a[1] - of_a * b[1]) * by, (a[2] + of_a * b[0]) * by]
}

/// `(I + A B)^-1 v`.
pub(super) fn damped(a: [f64; 3], b: [f64; 3], v: [f64; 2]) -> [f64; 2] {
    let by = 1.0 / growth(a, b);
    let [m00, m01] = [1.0 + a[0] * b[0] + a[1] * b[1], a[0] * b[1] + a[1] * b[2]];
    let [m10, m11] = [a[1] * b[0] + a[2] * b[1], 1.0 + a[1] * b[1] + a[2] * b[2]];
    [(m11 * v[0] - m01 * v[1]) * by, (m00 * v[1] - m10 * v[0]) * by]
}

/// `A v`.
pub(super) fn times(a: [f64; 3], v: [f64; 2]) -> [f64; 2] {
    [a[0] * v[0] + a[1] * v[1], a[1] * v[0] + a[2] * v[1]]
}

/// Determinant of `I + A B`, at least 1: every term is one of two positive semi-definite matrices.
fn growth(a: [f64; 3], b: [f64; 3]) -> f64 {
    let trace = a[0] * b[0] + 2.0 * a[1] * b[1] + a[2] * b[2];
    1.0 + trace + determinant(a) * determinant(b)
}

fn determinant([aa, ab, bb]: [f64; 3]) -> f64 {
    (aa * bb - ab * ab).max(0.0)
}

fn lost_in_rounding([aa, _, bb]: [f64; 3]) -> f64 {
    ONE_FORM_ONLY * aa * bb
}

fn inverse([aa, ab, bb]: [f64; 3]) -> [f64; 3] {
    let by = 1.0 / (aa * bb - ab * ab);
    [bb * by, -ab * by, aa * by]
}

fn inner(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn apart(a: &[f64; 2], b: &[f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

/// A positive semi-definite matrix near this one: the first entry stands if it is positive, the last grows as needed.
fn without_negative([aa, ab, bb]: [f64; 3]) -> [f64; 3] {
    if aa > 0.0 { [aa, ab, bb.max(ab * ab / aa)] } else { [0.0, 0.0, bb.max(0.0)] }
}
