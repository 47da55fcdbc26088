//! Small dense symmetric matrices and the linear-Gaussian steps built on them.
//!
//! A covariance is kept as its packed lower triangle, so it cannot become asymmetric. Sums run in index order, so the
//! same input gives the same bits. Observations touch a few coordinates only and are given as a short list of
//! (index, weight) pairs, called a row here.

mod smoothing;

pub use smoothing::{Moments, Step, smooth_step};

use crate::dynamics::Transition;
use crate::logistic::Pair;
use crate::truncated::Gaussian;
use std::f64::consts::PI;

/// A symmetric matrix in packed lower-triangular storage, rows one after another.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Sym {
    dim: usize,
    packed: Vec<f64>,
}

/// Position of (row, column), `column <= row`.
#[inline]
fn slot(row: usize, column: usize) -> usize {
    row * (row + 1) / 2 + column
}

impl Sym {
    /// The zero matrix of the given dimension.
    #[must_use]
    pub fn zeros(dim: usize) -> Self {
        Self { dim, packed: vec![0.0; slot(dim, 0)] }
    }

    /// Independent coordinates with these variances.
    #[must_use]
    pub fn diagonal(variances: &[f64]) -> Self {
        let mut matrix = Self::default();
        for &variance in variances {
            matrix.append(variance);
        }
        matrix
    }

    /// Number of coordinates.
    #[inline]
    #[must_use]
    pub fn dim(&self) -> usize {
        self.dim
    }

    /// The packed lower triangle, rows one after another: `dim (dim + 1) / 2` values.
    #[must_use]
    pub fn packed(&self) -> &[f64] {
        &self.packed
    }

    /// From a packed lower triangle; `None` unless its length is that of a triangle.
    #[must_use]
    pub fn from_packed(packed: Vec<f64>) -> Option<Self> {
        let mut dim = 0;
        while slot(dim, 0) < packed.len() {
            dim += 1;
        }
        (slot(dim, 0) == packed.len()).then_some(Self { dim, packed })
    }

    /// Element at (`i`, `j`), in either order.
    #[inline]
    #[must_use]
    pub fn get(&self, i: usize, j: usize) -> f64 {
        self.packed[if j <= i { slot(i, j) } else { slot(j, i) }]
    }

    /// Sets element (`i`, `j`) and so (`j`, `i`).
    #[inline]
    pub fn set(&mut self, i: usize, j: usize, value: f64) {
        self.packed[if j <= i { slot(i, j) } else { slot(j, i) }] = value;
    }

    /// Adds to element (`i`, `j`) and so to (`j`, `i`).
    #[inline]
    pub fn add(&mut self, i: usize, j: usize, value: f64) {
        self.packed[if j <= i { slot(i, j) } else { slot(j, i) }] += value;
    }

    /// Appends a coordinate independent of all others and returns its index.
    pub fn append(&mut self, variance: f64) -> usize {
        let index = self.dim;
        self.packed.resize(self.packed.len() + index, 0.0);
        self.packed.push(variance);
        self.dim += 1;
        index
    }

    /// Makes coordinate `i` independent of all others with this variance: a quantity drawn anew.
    pub fn renew(&mut self, i: usize, variance: f64) {
        for j in 0..self.dim {
            self.set(i, j, 0.0);
        }
        self.set(i, i, variance);
    }

    /// `out = self * row`. `out` must have length `dim`.
    #[inline]
    pub fn mul_sparse(&self, row: &[(usize, f64)], out: &mut [f64]) {
        out.fill(0.0);
        for &(j, weight) in row {
            for (value, element) in out.iter_mut().zip(&self.packed[slot(j, 0)..=slot(j, j)]) {
                *value += weight * element;
            }
            for (i, value) in out.iter_mut().enumerate().skip(j + 1) {
                *value += weight * self.packed[slot(i, j)];
            }
        }
    }

    /// Covariance of two linear forms: `left' * self * right`.
    #[must_use]
    pub fn form(&self, left: &[(usize, f64)], right: &[(usize, f64)]) -> f64 {
        left.iter().map(|&(i, a)| a * right.iter().map(|&(j, b)| b * self.get(i, j)).sum::<f64>()).sum()
    }

    /// Variance of a linear form: `row' * self * row`.
    #[must_use]
    pub fn quadratic(&self, row: &[(usize, f64)]) -> f64 {
        self.form(row, row)
    }

    /// `self -= c * w w'`.
    #[inline]
    pub fn downdate(&mut self, w: &[f64], c: f64) {
        for (i, &wi) in w.iter().enumerate().take(self.dim) {
            let scaled = c * wi;
            for (element, &wj) in self.packed[slot(i, 0)..=slot(i, i)].iter_mut().zip(w) {
                *element -= scaled * wj;
            }
        }
    }

    /// Moves one (level, slope) across a gap, in place: the means and every covariance with them.
    pub fn propagate(&mut self, mean: &mut [f64], (level, slope): (usize, usize), by: &Transition) {
        mean[level] += by.gain * mean[slope];
        mean[slope] *= by.decay;
        let before = [self.get(level, level), self.get(level, slope), self.get(slope, slope)];
        for j in (0..self.dim).filter(|&j| j != level && j != slope) {
            let with_slope = self.get(slope, j);
            self.add(level, j, by.gain * with_slope);
            self.set(slope, j, by.decay * with_slope);
        }
        let (_, after) = by.apply([0.0; 2], before);
        self.set(level, level, after[0]);
        self.set(level, slope, after[1]);
        self.set(slope, slope, after[2]);
    }

    /// Cholesky factor, packed like the matrix; `None` unless the matrix is positive definite.
    #[must_use]
    pub fn cholesky(&self) -> Option<Self> {
        let mut factor = self.clone();
        for i in 0..self.dim {
            for j in 0..=i {
                let inner: f64 = (0..j).map(|k| factor.packed[slot(i, k)] * factor.packed[slot(j, k)]).sum();
                let left = self.packed[slot(i, j)] - inner;
                factor.packed[slot(i, j)] = if i > j {
                    left / factor.packed[slot(j, j)]
                } else if left > 0.0 {
                    left.sqrt()
                } else {
                    return None;
                };
            }
        }
        Some(factor)
    }

    /// Whether the matrix is positive definite.
    #[must_use]
    pub fn is_positive_definite(&self) -> bool {
        self.cholesky().is_some()
    }
}

/// Value of a linear form at a mean: `row' * mean`.
#[inline]
#[must_use]
pub fn dot(row: &[(usize, f64)], mean: &[f64]) -> f64 {
    row.iter().map(|&(i, weight)| weight * mean[i]).sum()
}

/// Carries a changed belief about one linear form back to the whole state.
///
/// `along` is `covariance * row` (see [`Sym::mul_sparse`]), `before` and `after` the belief about the form. A rank-1
/// change; nothing happens if the form had no variance.
#[inline]
pub fn absorb(mean: &mut [f64], covariance: &mut Sym, along: &[f64], (before, after): (Gaussian, Gaussian)) {
    if before.variance <= 0.0 {
        return;
    }
    let inverse = 1.0 / before.variance;
    let step = (after.mean - before.mean) * inverse;
    for (value, &w) in mean.iter_mut().zip(along) {
        *value += step * w;
    }
    covariance.downdate(along, (before.variance - after.variance) * inverse * inverse);
}

/// Share of the product of two variances under which a determinant counts as rounding.
const ONE_FORM_ONLY: f64 = 1e-14;

/// Carries a changed joint belief about two linear forms back to the whole state.
///
/// `along` holds `covariance * row` of both forms, `before` and `after` the joint belief. When the forms are one and the
/// same up to a factor, or the second is known exactly, only the first is carried back.
pub fn absorb_pair(
    mean: &mut [f64],
    covariance: &mut Sym,
    along: [&[f64]; 2],
    (before, after): (&Pair, &Pair),
) {
    let [aa, ab, bb] = before.covariance;
    let determinant = aa * bb - ab * ab;
    if determinant <= ONE_FORM_ONLY * aa * bb {
        let first = |pair: &Pair| Gaussian { mean: pair.mean[0], variance: pair.covariance[0] };
        return absorb(mean, covariance, along[0], (first(before), first(after)));
    }
    let [waa, wab, wbb] = [bb, -ab, aa].map(|cofactor| cofactor / determinant);
    let lost = [0, 1, 2].map(|k| before.covariance[k] - after.covariance[k]);
    let shift = [after.mean[0] - before.mean[0], after.mean[1] - before.mean[1]];
    let gain = |i: usize| {
        let (on_first, on_second) = (along[0][i], along[1][i]);
        [waa * on_first + wab * on_second, wab * on_first + wbb * on_second]
    };
    for (i, value) in mean.iter_mut().enumerate() {
        let [a, b] = gain(i);
        *value += a * shift[0] + b * shift[1];
        let drop = [lost[0] * a + lost[1] * b, lost[1] * a + lost[2] * b];
        for j in 0..=i {
            let [c, d] = gain(j);
            covariance.add(i, j, -(drop[0] * c + drop[1] * d));
        }
    }
}

/// Exact update by `y = row' * state + N(0, noise_variance)`; returns the log density of `y`.
///
/// `along` is scratch of length `dim`; afterwards it holds the covariance of the state with the form, before the update.
#[inline]
pub fn observe_value(
    mean: &mut [f64],
    covariance: &mut Sym,
    row: &[(usize, f64)],
    (y, noise_variance): (f64, f64),
    along: &mut [f64],
) -> f64 {
    covariance.mul_sparse(row, along);
    let total = dot(row, along) + noise_variance;
    let surprise = y - dot(row, mean);
    for (value, &w) in mean.iter_mut().zip(along.iter()) {
        *value += w * (surprise / total);
    }
    covariance.downdate(along, 1.0 / total);
    -0.5 * (libm::log(2.0 * PI * total) + surprise * surprise / total)
}
