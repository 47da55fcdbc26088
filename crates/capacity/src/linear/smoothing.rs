//! The backward step of a fixed-interval smoother for a general linear-Gaussian transition.
//!
//! Source: Rauch, Tung and Striebel 1965 (from memory); checked against the Nile series in `tests/reference_nile.rs`.

use super::{Sym, slot};

/// Mean and covariance of a state.
#[derive(Clone, Debug, PartialEq)]
pub struct Moments {
    /// Mean, one value per coordinate.
    pub mean: Vec<f64>,
    /// Covariance of the same dimension.
    pub covariance: Sym,
}

/// One step of a filter as the smoother needs it.
#[derive(Clone, Copy, Debug)]
pub struct Step<'a> {
    /// After the observations of this step.
    pub filtered: &'a Moments,
    /// Transition to the next step, row-major, `next dim` rows of `this dim` values.
    pub transition: &'a [f64],
    /// Before the observations of the next step.
    pub predicted: &'a Moments,
}

/// Share of a coordinate's own variance under which what is left counts as rounding.
const NOTHING_LEFT: f64 = 1e-13;

/// Smoothed moments of a step, from the filter's record of it and the smoothed moments of the next step.
///
/// Next coordinates with no variance of their own left, given those before them, carry nothing back and are passed over.
/// The two steps may differ in dimension. Cost is cubic in the dimension; meant for dimensions up to some tens.
#[must_use]
pub fn smooth_step(step: Step<'_>, next: &Moments) -> Moments {
    let (here, there) = (step.filtered.mean.len(), step.predicted.mean.len());
    let factor = semidefinite_factor(&step.predicted.covariance);
    let mut gain = vec![0.0; here * there];
    let mut image = vec![0.0; here];
    for (row, target) in step.transition.chunks_exact(here).zip(0..there) {
        for (i, value) in image.iter_mut().enumerate() {
            *value = row.iter().enumerate().map(|(j, f)| f * step.filtered.covariance.get(i, j)).sum();
            gain[i * there + target] = *value;
        }
    }
    let mut smoothed = step.filtered.clone();
    let shift: Vec<f64> = next.mean.iter().zip(&step.predicted.mean).map(|(s, p)| s - p).collect();
    for (row, value) in gain.chunks_exact_mut(there).zip(&mut smoothed.mean) {
        solve(&factor, row);
        *value += row.iter().zip(&shift).map(|(g, d)| g * d).sum::<f64>();
    }
    widen(&mut smoothed.covariance, &gain, &next.covariance, &step.predicted.covariance);
    smoothed
}

/// `covariance += G (next - predicted) G'`.
fn widen(covariance: &mut Sym, gain: &[f64], next: &Sym, predicted: &Sym) {
    let there = next.dim();
    if there == 0 {
        return;
    }
    let mut spread = vec![0.0; there];
    for (i, row) in gain.chunks_exact(there).enumerate() {
        for (k, value) in spread.iter_mut().enumerate() {
            *value = row.iter().enumerate().map(|(l, g)| g * (next.get(k, l) - predicted.get(k, l))).sum();
        }
        for (j, other) in gain.chunks_exact(there).enumerate().take(i + 1) {
            covariance.add(i, j, other.iter().zip(&spread).map(|(g, s)| g * s).sum());
        }
    }
}

/// Cholesky factor of a positive semi-definite matrix; a coordinate with nothing left gets a zero column.
fn semidefinite_factor(matrix: &Sym) -> Sym {
    let mut factor = matrix.clone();
    for j in 0..matrix.dim {
        for i in j..matrix.dim {
            let inner: f64 = (0..j).map(|k| factor.packed[slot(i, k)] * factor.packed[slot(j, k)]).sum();
            let left = matrix.packed[slot(i, j)] - inner;
            let pivot = factor.packed[slot(j, j)];
            factor.packed[slot(i, j)] = if i > j {
                if pivot > 0.0 { left / pivot } else { 0.0 }
            } else if left > NOTHING_LEFT * matrix.packed[slot(j, j)] {
                left.sqrt()
            } else {
                0.0
            };
        }
    }
    factor
}

/// Solves `L L' x = b` in place, `x = 0` where the pivot is zero.
fn solve(factor: &Sym, b: &mut [f64]) {
    let n = factor.dim;
    for i in 0..n {
        let inner: f64 = (0..i).map(|k| factor.packed[slot(i, k)] * b[k]).sum();
        let pivot = factor.packed[slot(i, i)];
        b[i] = if pivot > 0.0 { (b[i] - inner) / pivot } else { 0.0 };
    }
    for i in (0..n).rev() {
        let inner: f64 = (i + 1..n).map(|k| factor.packed[slot(k, i)] * b[k]).sum();
        let pivot = factor.packed[slot(i, i)];
        b[i] = if pivot > 0.0 { (b[i] - inner) / pivot } else { 0.0 };
    }
}
