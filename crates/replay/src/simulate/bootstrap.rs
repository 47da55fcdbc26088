//! Bootstrap: how far a mean over athletes may be off, by drawing the athletes anew.

use serde::{Deserialize, Serialize};

use crate::dice::Dice;

/// Draws of the bootstrap.
pub const DRAWS: usize = 2000;

/// A mean over athletes with its percentile interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// The mean.
    pub mean: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// What one athlete brings to a mean: a sum of values and their weight.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Part {
    /// Sum of weight times value.
    pub sum: f64,
    /// Sum of the weights, above 0.
    pub weight: f64,
}

/// Mean and 99 % percentile interval of one value per athlete. Zeros when there is no athlete.
pub fn mean_interval(values: &[f64], dice: &mut Dice) -> Estimate {
    let parts: Vec<Part> = values.iter().map(|&sum| Part { sum, weight: 1.0 }).collect();
    weighted_mean_interval(&parts, dice).unwrap_or(Estimate { mean: 0.0, low: 0.0, high: 0.0 })
}

/// Weighted mean over all athletes' values and its 99 % percentile interval, an athlete drawn with all they bring. Nothing
/// when there is no athlete.
pub fn weighted_mean_interval(parts: &[Part], dice: &mut Dice) -> Option<Estimate> {
    if parts.is_empty() {
        return None;
    }
    let mut means: Vec<f64> =
        (0..DRAWS).map(|_| mean((0..parts.len()).filter_map(|_| dice.pick(parts).copied()))).collect();
    means.sort_by(f64::total_cmp);
    let at = |permille: usize| means.get(DRAWS * permille / 1000).copied().unwrap_or(0.0);
    Some(Estimate { mean: mean(parts.iter().copied()), low: at(5), high: at(994) })
}

/// A figure made from sums over athletes; no number when there is nothing to make it from.
pub type Statistic<'s> = Box<dyn Fn(&[f64]) -> f64 + 's>;

/// Figures made from sums over all athletes, each with its 99 % percentile interval over athletes drawn anew. A row is what
/// one athlete brings to the sums. A figure is nothing when it, or more than a tenth of its draws, is no number, or when there
/// are fewer than two athletes.
pub fn intervals(rows: &[Vec<f64>], figures: &[Statistic<'_>], dice: &mut Dice) -> Vec<Option<Estimate>> {
    let Some(width) = rows.first().map(Vec::len) else { return vec![None; figures.len()] };
    let total = |picked: &mut dyn Iterator<Item = &Vec<f64>>| {
        let mut sums = vec![0.0; width];
        picked.for_each(|row| sums.iter_mut().zip(row).for_each(|(sum, value)| *sum += value));
        sums
    };
    let mut drawn = vec![Vec::with_capacity(DRAWS); figures.len()];
    if rows.len() > 1 {
        for _ in 0..DRAWS {
            let sums = total(&mut (0..rows.len()).filter_map(|_| dice.pick(rows)));
            drawn.iter_mut().zip(figures).for_each(|(values, figure)| values.push(figure(&sums)));
        }
    }
    let whole = total(&mut rows.iter());
    figures.iter().zip(drawn).map(|(figure, values)| interval(figure(&whole), values)).collect()
}

fn interval(mean: f64, mut values: Vec<f64>) -> Option<Estimate> {
    values.retain(|value| value.is_finite());
    if !mean.is_finite() || 10 * values.len() < 9 * DRAWS {
        return None;
    }
    values.sort_by(f64::total_cmp);
    let at = |permille: usize| values.get(values.len() * permille / 1000).copied().unwrap_or(mean);
    Some(Estimate { mean, low: at(5), high: at(994) })
}

fn mean(parts: impl Iterator<Item = Part>) -> f64 {
    let (sum, weight) = parts.fold((0.0, 0.0), |(sum, weight), part| (sum + part.sum, weight + part.weight));
    sum / weight
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

    #[test]
    fn one_value_an_athlete_gives_the_same_bits_as_ever() {
        let found = mean_interval(&[0.5, 0.25, 3.0, -1.0, 0.7], &mut Dice::new(1, 0));
        let bits = [found.mean, found.low, found.high].map(f64::to_bits);
        assert_eq!(bits, [4_604_390_187_031_047_701, 13_826_050_856_027_422_720, 4_612_136_378_390_124_954]);
        let none = mean_interval(&[], &mut Dice::new(1, 0));
        assert_eq!([none.mean, none.low, none.high], [0.0; 3]);
    }

    #[test]
    fn figures_of_sums_have_the_intervals_of_their_means() {
        let parts = [
            Part { sum: 30.0, weight: 10.0 },
            Part { sum: -2.0, weight: 2.0 },
            Part { sum: 7.0, weight: 9.0 },
        ];
        let rows: Vec<Vec<f64>> = parts.iter().map(|p| vec![p.sum, p.weight, 0.0]).collect();
        let figures: [Statistic<'_>; 2] = [Box::new(|s| s[0] / s[1]), Box::new(|s| s[0] / s[2])];
        let found = intervals(&rows, &figures, &mut Dice::new(1, 0));
        assert_eq!(found[0], weighted_mean_interval(&parts, &mut Dice::new(1, 0)));
        assert_eq!(found[1], None, "nothing divided by nothing");
        assert_eq!(intervals(&rows[..1], &figures, &mut Dice::new(1, 0)), [None, None]);
        assert_eq!(intervals(&[], &figures, &mut Dice::new(1, 0)), [None, None]);
    }

    #[test]
    fn two_athletes_bound_each_other() {
        // Drawn anew, two athletes are the one twice (a quarter), both (a half) or the other twice (a quarter).
        let parts = [Part { sum: 30.0, weight: 10.0 }, Part { sum: -2.0, weight: 2.0 }];
        let found = weighted_mean_interval(&parts, &mut Dice::new(1, 0));
        assert_eq!(found, Some(Estimate { mean: 28.0 / 12.0, low: -1.0, high: 3.0 }));
        assert_eq!(weighted_mean_interval(&[], &mut Dice::new(1, 0)), None);
    }
}
