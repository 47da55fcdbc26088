//! Drift: the mean and the spread of the ranks of about the last 1000 sets foretold, older ones fading.
//!
//! Each new rank has weight 1/500, the first ones that of a plain mean; weights that fade so hold as much as a plain mean of
//! 999 (common practice: (2 - a) / a for weight a). A mean of 999 even ranks strays from 1/2 by 0.009 (one standard error,
//! the square root of 1 / (12 * 999)), so that 0.03 off is no chance any more.

use std::sync::{Mutex, PoisonError};

use nextrung_engine::foretelling::Rank;

/// Weight of a new rank once many have been seen.
const WEIGHT: f64 = 1.0 / 500.0;

/// Mean and spread of ranks.
#[derive(Debug, Default)]
pub(super) struct Drift {
    sums: Mutex<Sums>,
}

#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    count: u32,
    mean: f64,
    /// Of the squared distance from 1/2.
    square: f64,
    /// Of what that square is if what was foretold is right.
    foretold: f64,
}

impl Drift {
    /// Takes in a rank; gives the mean and the spread over the one foretold, 1 while nothing could spread.
    pub(super) fn take(&self, rank: Rank) -> (f64, f64) {
        let mut sums = self.sums.lock().unwrap_or_else(PoisonError::into_inner);
        sums.count = sums.count.saturating_add(1);
        let weight = WEIGHT.max(1.0 / f64::from(sums.count));
        let off = rank.middle - 0.5;
        let Sums { mean, square, foretold, .. } = *sums;
        sums.mean = mean + weight * (rank.middle - mean);
        sums.square = square + weight * (off * off - square);
        sums.foretold = foretold + weight * (rank.variance - foretold);
        let spread = if sums.foretold > 0.0 { (sums.square / sums.foretold).sqrt() } else { 1.0 };
        (sums.mean, spread)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Outcomes drawn in a fixed even order from `true_chances`, ranked among `foretold`.
    fn settled(true_chances: [f64; 4], foretold: [f64; 4]) -> (f64, f64) {
        let drift = Drift::default();
        let mut last = (0.0, 0.0);
        for n in 0_u32..5000 {
            // Steps of the golden section fill the unit interval evenly.
            let mut left = (f64::from(n) * 0.618_033_988_749_894_9).fract();
            let at = true_chances.iter().position(|p| {
                left -= p;
                left < 0.0
            });
            last = drift.take(Rank::of(&foretold, at.unwrap_or(3)).unwrap());
        }
        last
    }

    #[test]
    fn a_right_model_stays_at_one_half_and_one() {
        let chances = [0.1, 0.3, 0.4, 0.2];
        let (mean, spread) = settled(chances, chances);
        assert!((mean - 0.5).abs() < 0.01 && (spread - 1.0).abs() < 0.02, "{mean} {spread}");
    }

    #[test]
    fn athletes_who_do_better_and_doubt_that_is_too_narrow_are_seen() {
        let (mean, _) = settled([0.02, 0.13, 0.4, 0.45], [0.1, 0.3, 0.4, 0.2]);
        assert!(mean > 0.6, "{mean}");
        let (mean, spread) = settled([0.3, 0.2, 0.2, 0.3], [0.05, 0.45, 0.45, 0.05]);
        assert!((mean - 0.5).abs() < 0.02 && spread > 1.2, "{mean} {spread}");
    }
}
