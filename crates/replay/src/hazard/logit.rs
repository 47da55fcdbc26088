//! Logit: logistic regression with a ridge, by `linfa-logistic` 0.8.1.
//!
//! What is minimised is the sum over rows of the log loss plus `ridge / 2` times the sum of squared coefficients of the
//! standardised columns; the intercept is free. In the toolkit's words `ridge` is `alpha`, in those of scikit-learn `1 / C`:
//! read in its source, and held against scikit-learn's values by `tests/hazard/reference.rs`.
//!
//! Three things are done around the toolkit. Of two labels it calls that one positive of which there are more rows (and of
//! equals the one seen first), whatever its documentation says of order: signs are turned to speak of failing. It says nothing
//! when its search gave up (a failed line search, no more iterations): how far the end is from the minimum is measured here. And
//! its line search, met by a value that is no number, need not end: what could lead there is refused before.
//!
//! The toolkit takes `exp` and `ln` of the platform, and its products use what the processor has: the same bits on every run on
//! one machine, differences of the order of 1e-9 between machines. Nothing but this baseline rests on it.

use linfa::DatasetBase;
use linfa::traits::Fit;
use linfa_logistic::LogisticRegression;
use ndarray::{Array1, Array2, ShapeBuilder};
use serde::{Deserialize, Serialize};

use super::HazardError;

/// Least and most ridge.
pub const RIDGE: (f64, f64) = (1e-6, 1e9);
/// Farthest from the minimum that counts as fitted, in standard errors over all coefficients.
pub const MOST_OFF: f64 = 1e-3;
/// Size of the gradient of the sum at which the search ends. With many rows it ends before, when a step no longer changes the
/// objective by 2.2e-16, which rounding hides; [`Logit::off`] says where that was.
const GRADIENT: f64 = 1e-7;
/// Most iterations of the search.
const ITERATIONS: u64 = 1000;
/// Standard deviation over mean below which a column counts as constant.
const CONSTANT: f64 = 1e-9;

/// A fitted regression.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Logit {
    /// Log odds of failing where every column is at its mean.
    pub intercept: f64,
    /// Change of log odds per standard deviation of each column; 0 for one that never changed.
    pub coefficients: Vec<f64>,
    /// Means of the columns.
    pub means: Vec<f64>,
    /// Standard deviations of the columns, divided by rows and not by rows less one; 0 for one that never changed.
    pub deviations: Vec<f64>,
    /// What was minimised, at its minimum.
    pub objective: f64,
    /// Distance from the minimum, in standard errors over all coefficients: the root of `g' inverse(H) g`.
    pub off: f64,
}

impl Logit {
    /// One log odds whatever the columns.
    pub(super) fn flat(log_odds: f64, columns: usize) -> Self {
        let none = vec![0.0; columns];
        Self {
            intercept: log_odds,
            coefficients: none.clone(),
            means: none.clone(),
            deviations: none,
            objective: 0.0,
            off: 0.0,
        }
    }

    /// Log odds of failing for a row of columns as they were given to [`fit`].
    pub fn log_odds(&self, row: &[f64]) -> f64 {
        let scales = self.means.iter().zip(&self.deviations);
        let terms = row.iter().zip(scales).zip(&self.coefficients);
        terms.fold(self.intercept, |sum, ((value, (mean, deviation)), coefficient)| {
            if *deviation > 0.0 { sum + coefficient * (value - mean) / deviation } else { sum }
        })
    }
}

/// Fits `failed`, one per row, to `values`, row after row.
///
/// # Errors
///
/// Every [`HazardError`]: no rows, only one outcome, values that are not finite or fill no table, a ridge out of range, a
/// search that did not arrive.
pub fn fit(values: Vec<f64>, failed: &[bool], ridge: f64) -> Result<Logit, HazardError> {
    let rows = failed.len();
    if !(RIDGE.0..=RIDGE.1).contains(&ridge) {
        return Err(HazardError::Ridge { ridge });
    }
    let table = table(values, rows)?;
    let failures = failed.iter().filter(|failed| **failed).count();
    if failures == 0 || failures == rows {
        return Err(HazardError::OneSided { failures, rows });
    }
    // Column after column: the toolkit's products are several times as fast that way.
    let mut columns = Array2::zeros(table.raw_dim().f());
    columns.assign(&table);
    drop(table);
    let (means, deviations) = standardise(&mut columns)?;
    let dataset = DatasetBase::new(columns, Array1::from_vec(failed.to_vec()));
    let found = LogisticRegression::default()
        .alpha(ridge)
        .with_intercept(true)
        .gradient_tolerance(GRADIENT)
        .max_iterations(ITERATIONS)
        .fit(&dataset)
        .map_err(|source| HazardError::Search { source })?;
    let sign = if found.labels().pos.class { 1.0 } else { -1.0 };
    let coefficients = found.params().iter().map(|c| sign * c).collect();
    let (intercept, objective, off) = (sign * found.intercept(), 0.0, 0.0);
    let mut logit = Logit { intercept, coefficients, means, deviations, objective, off };
    let slope = Slope::at(&logit, &dataset.records, failed, ridge);
    (logit.objective, logit.off) = (slope.objective, slope.off());
    if logit.off <= MOST_OFF { Ok(logit) } else { Err(HazardError::NotConverged { off: logit.off }) }
}

/// Values as a table of so many rows.
pub(super) fn table(values: Vec<f64>, rows: usize) -> Result<Array2<f64>, HazardError> {
    if rows == 0 {
        return Err(HazardError::NoRows);
    }
    let (columns, shape) = (values.len() / rows, HazardError::Shape { values: values.len(), rows });
    Array2::from_shape_vec((rows, columns), values).map_err(|_| shape)
}

/// Takes off each column's mean and divides by its standard deviation; a constant column becomes 0.
pub(super) fn standardise(table: &mut Array2<f64>) -> Result<(Vec<f64>, Vec<f64>), HazardError> {
    let rows = table.nrows();
    let (mut means, mut deviations) = (Vec::new(), Vec::new());
    for (column, mut values) in table.columns_mut().into_iter().enumerate() {
        let count = count(rows);
        let mean = values.iter().sum::<f64>() / count;
        let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
        let deviation = (squares / count).sqrt();
        if !deviation.is_finite() {
            return Err(HazardError::NotFinite { column });
        }
        let deviation = if deviation > CONSTANT * mean.abs() { deviation } else { 0.0 };
        values.mapv_inplace(|v| if deviation > 0.0 { (v - mean) / deviation } else { 0.0 });
        means.push(mean);
        deviations.push(deviation);
    }
    Ok((means, deviations))
}

/// A count of rows as a number; exact up to 2^32, which no table reaches.
pub(super) fn count(rows: usize) -> f64 {
    f64::from(u32::try_from(rows).unwrap_or(u32::MAX))
}

/// Objective, gradient and second derivatives at a point, the intercept last.
struct Slope {
    objective: f64,
    gradient: Vec<f64>,
    /// Lower triangle, row after row.
    second: Vec<Vec<f64>>,
}

impl Slope {
    fn at(logit: &Logit, table: &Array2<f64>, failed: &[bool], ridge: f64) -> Self {
        let size = logit.coefficients.len();
        let mut gradient: Vec<f64> = logit.coefficients.iter().map(|c| ridge * c).collect();
        gradient.push(0.0);
        let mut second: Vec<Vec<f64>> = (0..=size).map(|row| vec![0.0; row + 1]).collect();
        for (row, values) in second.iter_mut().enumerate().take(size) {
            values[row] = ridge;
        }
        let mut objective = 0.5 * ridge * logit.coefficients.iter().map(|c| c * c).sum::<f64>();
        let mut row = vec![1.0; size + 1];
        for (values, failed) in table.rows().into_iter().zip(failed) {
            row.iter_mut().zip(values).for_each(|(to, from)| *to = *from);
            let terms = row.iter().zip(&logit.coefficients);
            let odds = logit.intercept + terms.map(|(value, c)| value * c).sum::<f64>();
            let chance = 1.0 / (1.0 + libm::exp(-odds));
            objective += softplus(if *failed { -odds } else { odds });
            let (residual, weight) = (if *failed { chance - 1.0 } else { chance }, chance * (1.0 - chance));
            for (at, value) in row.iter().enumerate() {
                gradient[at] += residual * value;
                let scaled = weight * value;
                second[at].iter_mut().zip(&row).for_each(|(sum, other)| *sum += scaled * other);
            }
        }
        Self { objective, gradient, second }
    }

    /// The root of `g' inverse(H) g`, by Cholesky's factor; infinite when `H` is not positive.
    fn off(&self) -> f64 {
        let mut factor: Vec<Vec<f64>> = Vec::with_capacity(self.second.len());
        let mut square = 0.0;
        let mut solved: Vec<f64> = Vec::with_capacity(self.second.len());
        for (at, values) in self.second.iter().enumerate() {
            let mut row: Vec<f64> = Vec::with_capacity(at + 1);
            for (column, value) in values.iter().enumerate() {
                let above = if column == at { &row } else { &factor[column] };
                let rest = value - row.iter().zip(above).map(|(a, b)| a * b).sum::<f64>();
                row.push(if column == at { rest.sqrt() } else { rest / factor[column][column] });
            }
            let rest = self.gradient[at] - row.iter().zip(&solved).map(|(a, b)| a * b).sum::<f64>();
            let value = rest / row[at];
            square += value * value;
            solved.push(value);
            factor.push(row);
        }
        if square.is_finite() { square.sqrt() } else { f64::INFINITY }
    }
}

/// `ln(1 + exp(x))`.
pub(super) fn softplus(x: f64) -> f64 {
    if x > 0.0 { x + libm::log1p(libm::exp(-x)) } else { libm::log1p(libm::exp(x)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_is_that_of_a_case_by_hand() {
        // H = [[4, 2], [2, 5]], g = (2, 3): inverse(H) g = (0.25, 0.5), so g' inverse(H) g = 2.
        let slope =
            Slope { objective: 0.0, gradient: vec![2.0, 3.0], second: vec![vec![4.0], vec![2.0, 5.0]] };
        assert!((slope.off() - 2.0_f64.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn a_point_away_from_the_minimum_is_seen_to_be_off() {
        let values: Vec<f64> = (0..40).map(f64::from).collect();
        let failed: Vec<bool> = (0..40).map(|n| n % 3 == 0 || n > 30).collect();
        let mut logit = fit(values.clone(), &failed, 1.0).expect("a fit");
        let table = values.iter().map(|v| (v - logit.means[0]) / logit.deviations[0]).collect();
        let table = Array2::from_shape_vec((40, 1), table).expect("a table");
        let off = |logit: &Logit| Slope::at(logit, &table, &failed, 1.0).off();
        assert!(off(&logit) < 1e-6, "{}", off(&logit));
        logit.coefficients[0] += 0.1;
        assert!(off(&logit) > 0.1, "{}", off(&logit));
    }

    #[test]
    fn softplus_has_both_ends() {
        assert_eq!((softplus(800.0), softplus(-800.0)), (800.0, 0.0));
        assert!((softplus(0.0) - std::f64::consts::LN_2).abs() < 1e-16);
    }
}
