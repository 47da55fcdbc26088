//! Lean: which way one athlete's history pulls the difficulties and the start of an ability, and how hard (F-09).
//!
//! Given the smoothed history, the log evidence has the derivative that the complete-data score has in the mean (Fisher's
//! identity), and minus its second derivative is the complete information less the variance of that score (Louis 1982,
//! from memory). Both are closed form: everything a set told stands as a Gaussian factor, so that the posterior of the
//! starting level and of the departures on the rungs is normal. Checked against differences of the evidence in
//! `tests/refit/slopes.rs`.

use nextrung_capacity::linear::Sym;
use nextrung_capacity::smooth::SmoothedAbility;
use nextrung_capacity::state::{LEVEL, OFFSETS};
use nextrung_domain::catalog::RungIx;

/// Place of the mean starting level.
pub const START: usize = 0;
/// Place of the logarithm of its spread.
pub const SPREAD: usize = 1;
/// Place of the first difficulty.
pub const STEPS: usize = 2;

/// Gradient and information about (mean start, ln of its spread, difficulties of some rungs).
#[derive(Debug, Clone, PartialEq)]
pub struct Lean {
    /// The rungs, in order of places from [`STEPS`].
    pub rungs: Vec<RungIx>,
    /// Derivatives of the log evidence.
    pub gradient: Vec<f64>,
    /// Minus its second derivatives.
    pub information: Sym,
}

/// What the athletes are believed to be before any set: mean start and its standard deviation, and the standard
/// deviation of their own departures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Mean starting level, ln units.
    pub level: f64,
    /// Its standard deviation between athletes, above 0.
    pub start_sd: f64,
    /// Standard deviation of the departures on a rung, above 0.
    pub offset_sd: f64,
}

impl Lean {
    /// No pull at all on these rungs.
    pub fn none(rungs: Vec<RungIx>) -> Self {
        let places = STEPS + rungs.len();
        Self { rungs, gradient: vec![0.0; places], information: Sym::zeros(places) }
    }

    /// Of one athlete's smoothed ability, about those of `free` that the athlete trained; `free` is in rung order.
    pub fn of(smoothed: &SmoothedAbility, spread: Spread, free: &[RungIx]) -> Self {
        let Some(first) = smoothed.nodes.first() else { return Self::none(Vec::new()) };
        let met = first.keys.iter().enumerate().filter_map(|(at, key)| Some((key.as_rung()?, OFFSETS + at)));
        let met: Vec<(RungIx, usize)> = met.filter(|(rung, _)| free.binary_search(rung).is_ok()).collect();
        let mut lean = Self::none(met.iter().map(|(rung, _)| *rung).collect());
        let covariance = |i, j| first.covariance.get(i, j);
        let by = 1.0 / (spread.start_sd * spread.start_sd);
        let own = 1.0 / (spread.offset_sd * spread.offset_sd);
        let (off, v) = (first.mean[LEVEL] - spread.level, covariance(LEVEL, LEVEL));
        let square = off * off + v;
        lean.gradient[START] = off * by;
        lean.gradient[SPREAD] = square * by - 1.0;
        lean.information.set(START, START, by - v * by * by);
        lean.information.set(SPREAD, START, 2.0 * off * by - 2.0 * off * v * by * by);
        let of_square = 2.0 * v * v + 4.0 * off * off * v;
        lean.information.set(SPREAD, SPREAD, 2.0 * square * by - of_square * by * by);
        for (place, (_, at)) in met.iter().enumerate() {
            let place = STEPS + place;
            lean.gradient[place] = -first.mean[*at] * own;
            let with_level = covariance(LEVEL, *at) * by * own;
            lean.information.set(place, START, with_level);
            lean.information.set(place, SPREAD, 2.0 * off * with_level);
            for (other, (_, beside)) in met.iter().enumerate().take(place - STEPS + 1) {
                let other = STEPS + other;
                let complete = if other == place { own } else { 0.0 };
                lean.information.set(place, other, complete - covariance(*at, *beside) * own * own);
            }
        }
        lean
    }

    /// Adds another's pull; its rungs are among these, both in any order.
    pub fn add(&mut self, other: &Self) {
        let place = |of: usize| match other.rungs.get(of.wrapping_sub(STEPS)) {
            Some(rung) => self.rungs.iter().position(|own| own == rung).map_or(START, |at| STEPS + at),
            None => of,
        };
        let places: Vec<usize> = (0..other.gradient.len()).map(place).collect();
        for (i, &to) in places.iter().enumerate() {
            self.gradient[to] += other.gradient[i];
            for (j, &beside) in places.iter().enumerate().take(i + 1) {
                self.information.add(to, beside, other.information.get(i, j));
            }
        }
    }

    /// Pulls a place towards a value with a normal prior: `off` from it, with standard deviation `sd`.
    pub fn hold(&mut self, place: usize, off: f64, sd: f64) {
        self.gradient[place] -= off / (sd * sd);
        self.information.add(place, place, 1.0 / (sd * sd));
    }

    /// Makes a place stay where it is.
    pub fn pin(&mut self, place: usize) {
        self.gradient[place] = 0.0;
        self.information.renew(place, 1.0);
    }
}
