//! Bootstrap: how far a mean over athletes may be off, by drawing the athletes anew.

use crate::dice::Dice;

/// Draws of the bootstrap.
const DRAWS: usize = 2000;

/// A mean over athletes with its percentile interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The mean.
    pub mean: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Mean and 99 % percentile interval of one value per athlete. Zeros when there is no athlete.
pub fn mean_interval(values: &[f64], dice: &mut Dice) -> Estimate {
    let mean = |sum: f64| sum / count(values.len().max(1));
    let mut means: Vec<f64> =
        (0..DRAWS).map(|_| mean((0..values.len()).filter_map(|_| dice.pick(values)).sum())).collect();
    means.sort_by(f64::total_cmp);
    let at = |permille: usize| means.get(DRAWS * permille / 1000).copied().unwrap_or(0.0);
    Estimate { mean: mean(values.iter().sum()), low: at(5), high: at(994) }
}

/// A count as a number.
pub fn count(n: usize) -> f64 {
    u32::try_from(n).map_or(f64::INFINITY, f64::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_interval_has_the_width_of_the_standard_error() {
        let mut dice = Dice::new(5, 0);
        let values: Vec<f64> = (0..400).map(|_| 3.0 + dice.normal()).collect();
        let found = mean_interval(&values, &mut dice);
        // 2.576 standard errors of 1 / sqrt(400) either way, within a fifth.
        let half = 0.5 * (found.high - found.low);
        assert!((half / (2.576 / 20.0) - 1.0).abs() < 0.2, "{half}");
        assert!(found.low < found.mean && found.mean < found.high);
        assert!((found.mean - 3.0).abs() < 0.2);
    }
}
