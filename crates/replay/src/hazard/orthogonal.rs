//! Orthogonal: columns freed of those before them.
//!
//! The columns of a set overlap much (a margin, the same margin times evidence, ...), and the toolkit's search needs a thousand
//! steps where they do, a few dozen where they do not. So each column is replaced by what the columns before it do not say, at
//! standard deviation 1; a column of which they say all but a millionth is left out. The fit without a ridge stays the same;
//! the ridge acts on the freed columns, so that the first of a group that overlaps is shrunk least.

use ndarray::{Array2, ArrayViewMut1};

use super::HazardError;
use super::logit::{self, Logit};

/// Share of a column's variance below which it is left out.
const LEAST_SHARE: f64 = 1e-6;

/// Fits as [`logit::fit`] does, on freed columns. Coefficients, means and deviations are those of the columns as given;
/// objective and distance are those of the freed ones.
///
/// # Errors
///
/// As [`logit::fit`].
pub fn fit(values: Vec<f64>, failed: &[bool], ridge: f64) -> Result<Logit, HazardError> {
    let mut table = logit::table(values, failed.len())?;
    let (means, deviations) = logit::standardise(&mut table)?;
    let factor = Factor::of(&table);
    table.rows_mut().into_iter().for_each(|row| factor.free(row));
    let (freed, _) = table.into_raw_vec_and_offset();
    let found = logit::fit(freed, failed, ridge)?;
    // Freed columns have mean 0 and deviation 1 but for rounding; what is left of it is taken out of the coefficients.
    let scaled = found.coefficients.iter().zip(&found.deviations);
    let scaled: Vec<f64> = scaled.map(|(c, sd)| if *sd > 0.0 { c / sd } else { 0.0 }).collect();
    let intercept = found.intercept - scaled.iter().zip(&found.means).map(|(c, mean)| c * mean).sum::<f64>();
    Ok(Logit { intercept, coefficients: factor.bind(&scaled), means, deviations, ..found })
}

/// Cholesky's factor of the columns' correlations, row after row; columns left out have 0 on the diagonal.
struct Factor(Vec<Vec<f64>>);

impl Factor {
    fn of(table: &Array2<f64>) -> Self {
        let columns = table.ncols();
        let mut products: Vec<Vec<f64>> = (0..columns).map(|row| vec![0.0; row + 1]).collect();
        for row in table.rows() {
            for (sums, a) in products.iter_mut().zip(row) {
                sums.iter_mut().zip(row).for_each(|(sum, b)| *sum += a * b);
            }
        }
        let rows = logit::count(table.nrows());
        let mut factor: Vec<Vec<f64>> = Vec::with_capacity(columns);
        for (at, products) in products.iter().enumerate() {
            let mut row: Vec<f64> = Vec::with_capacity(at + 1);
            for (column, product) in products.iter().enumerate() {
                let other = if column == at { &row } else { &factor[column] };
                let rest = product / rows - row.iter().zip(other).map(|(a, b)| a * b).sum::<f64>();
                let pivot = if column == at { 1.0 } else { factor[column][column] };
                row.push(match column == at {
                    true if rest > LEAST_SHARE => rest.sqrt(),
                    false if pivot > 0.0 => rest / pivot,
                    true | false => 0.0,
                });
            }
            factor.push(row);
        }
        Self(factor)
    }

    /// Frees one row in place.
    fn free(&self, mut row: ArrayViewMut1<'_, f64>) {
        for (at, factors) in self.0.iter().enumerate() {
            let said: f64 = factors.iter().take(at).zip(&row).map(|(f, z)| f * z).sum();
            row[at] = if factors[at] > 0.0 { (row[at] - said) / factors[at] } else { 0.0 };
        }
    }

    /// Coefficients of the columns as they were, from those of the freed.
    fn bind(&self, freed: &[f64]) -> Vec<f64> {
        let mut bound = freed.to_vec();
        for (at, factors) in self.0.iter().enumerate().rev() {
            bound[at] = if factors[at] > 0.0 { bound[at] / factors[at] } else { 0.0 };
            let coefficient = bound[at];
            bound.iter_mut().zip(factors).take(at).for_each(|(to, f)| *to -= f * coefficient);
        }
        bound
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dice::Dice;

    /// Three columns that overlap, a constant, a copy of the first two, and outcomes that hang on them.
    fn overlapping() -> (Vec<f64>, Vec<bool>) {
        let mut dice = Dice::new(3, 0);
        let (mut values, mut failed) = (Vec::new(), Vec::new());
        for _ in 0..3000 {
            let (a, b) = (dice.normal(), dice.normal());
            let c = a + 0.1 * b;
            values.extend([a, c, 4.0, 2.0 * a - c + 1.0, 10.0 * dice.unit() + a]);
            failed.push(dice.logistic() < a - 0.5 * b - 1.0);
        }
        (values, failed)
    }

    #[test]
    fn with_hardly_a_ridge_both_fits_say_the_same() {
        let (values, failed) = overlapping();
        let plain = logit::fit(values.clone(), &failed, 1e-3).expect("a fit");
        let freed = fit(values.clone(), &failed, 1e-3).expect("a fit");
        for row in values.chunks(5).take(200) {
            let (plain, freed) = (plain.log_odds(row), freed.log_odds(row));
            assert!((plain - freed).abs() < 1e-3, "{plain} and {freed}");
        }
        assert!((plain.objective - freed.objective).abs() < 1e-2);
    }

    #[test]
    fn columns_said_by_others_are_left_out() {
        let (values, failed) = overlapping();
        let fit = fit(values, &failed, 1.0).expect("a fit");
        assert_eq!((fit.coefficients[2], fit.coefficients[3]), (0.0, 0.0));
        assert!([0, 1, 4].iter().all(|at| fit.coefficients[*at] != 0.0), "{:?}", fit.coefficients);
    }

    #[test]
    fn freed_columns_do_not_overlap() {
        let (values, failed) = overlapping();
        let mut table = logit::table(values, failed.len()).expect("a table");
        logit::standardise(&mut table).expect("finite");
        let factor = Factor::of(&table);
        table.rows_mut().into_iter().for_each(|row| factor.free(row));
        let left = Factor::of(&table);
        for (at, row) in left.0.iter().enumerate() {
            let wanted = if [2, 3].contains(&at) { 0.0 } else { 1.0 };
            assert!((row[at] - wanted).abs() < 1e-9 && row[..at].iter().all(|f| f.abs() < 1e-9), "{row:?}");
        }
    }
}
