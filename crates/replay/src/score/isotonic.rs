//! Isotonic regression: the rising step function nearest to points, by weighted least squares.
//!
//! Pooling of adjacent violators (Ayer et al. 1955, from memory): points at the same place become one with their mean; from
//! left to right, a step that lies below the one before it is pooled with it until none does. Linear after the sort.
//!
//! Of our own because the one in the toolkit otherwise used does other work: `linfa-linear` 0.8.1 joins its steps by sloping
//! lines, so that fitted points are not the means CORP asks for (1, 1.75, 2.5, ... where scikit-learn has 1, 2.5, 2.5, ... on
//! the small case of `tests/reference/r07_scoring.py`), turns the function round when the correlation is negative, leaves
//! ties unpooled, and after one pooling backwards goes on to pool steps that are in order: of 0, 1, 5, 6, 0 its last step is
//! the mean of the last four, 3, where that of the last three, 11/3, is nearer.

use crate::score::{ScoreError, finite, weight};

/// A point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Where.
    pub at: f64,
    /// What was seen there.
    pub value: f64,
    /// How much it counts, above 0.
    pub weight: f64,
}

/// A step of the fitted function.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The first place on it.
    pub from: f64,
    /// The last place on it.
    pub to: f64,
    /// Sum of weight times what was seen there: of counts it is exact, so that equal means are seen to be equal.
    pub sum: f64,
    /// Sum of the weights of its points.
    pub weight: f64,
}

impl Step {
    /// Its value: the weighted mean of what was seen there.
    pub fn value(&self) -> f64 {
        self.sum / self.weight
    }

    fn pooled(self, next: Self) -> Self {
        Self { from: self.from, to: next.to, sum: self.sum + next.sum, weight: self.weight + next.weight }
    }
}

/// The steps of the regression from left to right, each value above the one before.
///
/// # Errors
///
/// [`ScoreError::Empty`] without points, [`ScoreError::Value`] when a place, a value or the sum of values is not finite,
/// [`ScoreError::Weight`] when a weight or their sum is none.
pub fn isotonic(points: &[Point]) -> Result<Vec<Step>, ScoreError> {
    if points.is_empty() {
        return Err(ScoreError::Empty);
    }
    for point in points {
        finite(point.at)?;
        finite(point.value)?;
        weight(point.weight)?;
    }
    weight(points.iter().map(|p| p.weight).sum())?;
    finite(points.iter().map(|p| p.weight * p.value.abs()).sum())?;
    let mut sorted: Vec<Step> = points
        .iter()
        .map(|p| Step { from: p.at, to: p.at, sum: p.weight * p.value, weight: p.weight })
        .collect();
    sorted.sort_by(|a, b| a.from.total_cmp(&b.from));
    let mut steps: Vec<Step> = Vec::new();
    for place in sorted.chunk_by(|a, b| a.from == b.from) {
        let Some(mut step) = place.iter().copied().reduce(Step::pooled) else { continue };
        while let Some(before) = steps.pop_if(|before| before.value() >= step.value()) {
            step = before.pooled(step);
        }
        steps.push(step);
    }
    Ok(steps)
}
