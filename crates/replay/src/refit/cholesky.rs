//! Cholesky: small symmetric systems, solved by the root of their matrix.

use nextrung_capacity::linear::Sym;

/// The lower root `L` of a positive definite matrix `L L'`.
#[derive(Debug, Clone)]
pub struct Cholesky {
    root: Sym,
}

impl Cholesky {
    /// Nothing when the matrix is not positive definite.
    pub fn of(matrix: &Sym) -> Option<Self> {
        let mut root = matrix.clone();
        for j in 0..matrix.dim() {
            for i in j..matrix.dim() {
                let inner: f64 = (0..j).map(|k| root.get(i, k) * root.get(j, k)).sum();
                let left = matrix.get(i, j) - inner;
                let value = if i == j { left.sqrt() } else { left / root.get(j, j) };
                if i == j && !(left > 0.0 && left.is_finite()) {
                    return None;
                }
                root.set(i, j, value);
            }
        }
        Some(Self { root })
    }

    /// `matrix^-1 right`.
    #[must_use]
    pub fn solve(&self, right: &[f64]) -> Vec<f64> {
        let n = self.root.dim();
        let mut x = right.to_vec();
        for i in 0..n {
            let known: f64 = (0..i).map(|k| self.root.get(i, k) * x[k]).sum();
            x[i] = (x[i] - known) / self.root.get(i, i);
        }
        for i in (0..n).rev() {
            let known: f64 = (i + 1..n).map(|k| self.root.get(k, i) * x[k]).sum();
            x[i] = (x[i] - known) / self.root.get(i, i);
        }
        x
    }

    /// ln of the determinant of the matrix.
    #[must_use]
    pub fn ln_determinant(&self) -> f64 {
        (0..self.root.dim()).map(|at| 2.0 * libm::log(self.root.get(at, at))).sum()
    }

    /// The inverse matrix.
    #[must_use]
    pub fn inverse(&self) -> Sym {
        let n = self.root.dim();
        let mut inverse = Sym::zeros(n);
        for j in 0..n {
            let mut unit = vec![0.0; n];
            unit[j] = 1.0;
            for (i, value) in self.solve(&unit).into_iter().enumerate().skip(j) {
                inverse.set(i, j, value);
            }
        }
        inverse
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_is_solved_and_inverted() {
        // By hand: [[4, 2], [2, 3]] (1, 2)' = (8, 8)', inverse [[3, -2], [-2, 4]] / 8.
        let mut matrix = Sym::diagonal(&[4.0, 3.0]);
        matrix.set(1, 0, 2.0);
        let root = Cholesky::of(&matrix).unwrap();
        let x = root.solve(&[8.0, 8.0]);
        assert!((x[0] - 1.0).abs() < 1e-15 && (x[1] - 2.0).abs() < 1e-15, "{x:?}");
        let inverse = root.inverse();
        for (i, j, value) in [(0, 0, 0.375), (1, 0, -0.25), (1, 1, 0.5)] {
            assert!((inverse.get(i, j) - value).abs() < 1e-15);
        }
        assert!((root.ln_determinant() - libm::log(8.0)).abs() < 1e-15);
    }

    #[test]
    fn what_is_not_positive_definite_has_no_root() {
        let mut matrix = Sym::diagonal(&[1.0, 1.0]);
        matrix.set(1, 0, 2.0);
        assert!(Cholesky::of(&matrix).is_none());
        assert!(Cholesky::of(&Sym::diagonal(&[f64::NAN])).is_none());
    }
}
