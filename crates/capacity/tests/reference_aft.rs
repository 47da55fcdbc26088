//! The likelihood of the filter's observations against regressions of censored log times by R `survival`.
//!
//! Every term is the log mass of an observation at a belief without variance, so the sum is the likelihood that
//! `survreg` maximises. Reference: `tests/reference/r02_aft.R.out` (R 4.2, `survival`; printed to 10 or 12 digits) and, to
//! 16 digits, the search with scipy in `r02_aft.py.out`; data, sources and licences beside them.
//!
//! An exactly known time has a density and no mass. It is observed as an interval of [`WIDTH`] about its logarithm, and
//! the mass is divided by that width. Normal noise is exact; the logistic is the eight-part mixture, whose log mass is off
//! by up to about 2e-8 a term for likely sets and more for unlikely ones, so its tolerances are wider.

#![expect(clippy::expect_used, clippy::panic, reason = "a test that cannot read its data must fail")]

use std::array::from_fn;

use nextrung_capacity::logistic::{Noise, observe};
use nextrung_capacity::truncated::{Gaussian, Interval};

const REPS: &str = include_str!("../../../tests/reference/synthetic_reps.csv");
const ARRESTS: &str = include_str!("../../../tests/reference/rossi.csv");
const DIABETES: &str = include_str!("../../../tests/reference/diabetes.csv");

/// Width of the interval that stands for an exact value, ln units: the error of the midpoint rule and that of rounding the
/// ends are both near 1e-10 a term.
const WIDTH: f64 = 1.0 / 65_536.0;

/// What is known of one time: the interval of its logarithm, what to add to its log mass, and the covariates, the first of
/// which is 1.
struct Sighting<const P: usize> {
    interval: Interval,
    jacobian: f64,
    covariates: [f64; P],
}

impl<const P: usize> Sighting<P> {
    /// `lower` may be 0 and `upper` infinite; equal ends are an exact time.
    fn new(lower: f64, upper: f64, covariates: [f64; P]) -> Self {
        let (low, high) = (libm::log(lower), libm::log(upper));
        if lower < upper {
            return Self { interval: Interval::between(low, high), jacobian: 0.0, covariates };
        }
        let interval = Interval::between(low - 0.5 * WIDTH, low + 0.5 * WIDTH);
        Self { interval, jacobian: -libm::log(WIDTH) - low, covariates }
    }
}

/// Which noise, by its scale.
type Shape = fn(f64) -> Noise;

const NORMAL: Shape = |sd| Noise::Normal { sd };
const LOGISTIC: Shape = |scale| Noise::Logistic { scale };

/// Coefficients over the scale, then one over the scale: in these the log likelihood is concave, so that Newton's steps
/// find its one maximum from any start.
#[derive(Clone, Copy)]
struct Point<const P: usize> {
    slopes: [f64; P],
    precision: f64,
}

impl<const P: usize> Point<P> {
    fn moved(mut self, along: usize, by: f64) -> Self {
        let value = if along < P { &mut self.slopes[along] } else { &mut self.precision };
        *value += by;
        self
    }

    fn coefficients(&self) -> [f64; P] {
        self.slopes.map(|slope| slope / self.precision)
    }

    fn scale(&self) -> f64 {
        1.0 / self.precision
    }
}

fn log_likelihood<const P: usize>(data: &[Sighting<P>], shape: Shape, at: &Point<P>) -> f64 {
    let (coefficients, noise) = (at.coefficients(), shape(at.scale()));
    let term = |sighting: &Sighting<P>| {
        let mean = coefficients.iter().zip(&sighting.covariates).map(|(b, x)| b * x).sum();
        observe(Gaussian { mean, variance: 0.0 }, noise, sighting.interval).log_mass + sighting.jacobian
    };
    data.iter().map(term).sum()
}

struct Fit<const P: usize> {
    log_likelihood: f64,
    coefficients: [f64; P],
    scale: f64,
}

/// Newton's method with central differences, of fourth order for the slope; a step is halved until it does not descend.
fn fit<const P: usize>(data: &[Sighting<P>], shape: Shape) -> Fit<P> {
    let value = |at: &Point<P>| log_likelihood(data, shape, at);
    let spans: [f64; P] = from_fn(|k| data.iter().map(|s| s.covariates[k].abs()).fold(0.0, f64::max));
    let span = |k: usize| if k < P { spans[k] } else { 1.0 };
    let mut at = Point { slopes: [0.0; P], precision: 1.0 };
    at.slopes[0] = 2.0;
    for _ in 0..60 {
        let step = newton_step(&at, value, |k| 2e-3 / span(k));
        if step.iter().enumerate().all(|(k, by)| by.abs() * span(k) < 1e-8) {
            return Fit { log_likelihood: value(&at), coefficients: at.coefficients(), scale: at.scale() };
        }
        let stepped = |share: f64| step.iter().enumerate().fold(at, |p, (k, by)| p.moved(k, share * by));
        let least = value(&at) - 1e-9;
        let next = (0..30).map(|half| stepped(libm::ldexp(1.0, -half)));
        at = next.into_iter().find(|p| p.precision > 0.0 && value(p) > least).expect("a step that climbs");
    }
    panic!("no maximum after 60 steps");
}

fn newton_step<const P: usize>(
    at: &Point<P>,
    value: impl Fn(&Point<P>) -> f64,
    by: impl Fn(usize) -> f64,
) -> Vec<f64> {
    let apart = |k: usize, by: f64| value(&at.moved(k, by)) - value(&at.moved(k, -by));
    let slope = |k| (8.0 * apart(k, by(k)) - apart(k, 2.0 * by(k))) / (12.0 * by(k));
    let bend = |j, k| {
        let corner = |a: f64, b: f64| a * b * value(&at.moved(j, a * by(j)).moved(k, b * by(k)));
        let corners = corner(1.0, 1.0) + corner(1.0, -1.0) + corner(-1.0, 1.0) + corner(-1.0, -1.0);
        -corners / (4.0 * by(j) * by(k))
    };
    solve((0..=P).map(|j| (0..=P).map(|k| bend(j, k)).collect()).collect(), (0..=P).map(slope).collect())
}

/// Gaussian elimination with row pivots.
fn solve(mut matrix: Vec<Vec<f64>>, mut right: Vec<f64>) -> Vec<f64> {
    let n = right.len();
    for k in 0..n {
        let pivot = (k..n).max_by(|a, b| matrix[*a][k].abs().total_cmp(&matrix[*b][k].abs()));
        let pivot = pivot.expect("a row");
        matrix.swap(k, pivot);
        right.swap(k, pivot);
        let (upper, lower) = matrix.split_at_mut(k + 1);
        for (at, row) in (k + 1..n).zip(lower) {
            let factor = row[k] / upper[k][k];
            for (value, above) in row.iter_mut().zip(&upper[k]).skip(k) {
                *value -= factor * above;
            }
            right[at] -= factor * right[k];
        }
    }
    for k in (0..n).rev() {
        let known: f64 = (k + 1..n).map(|j| matrix[k][j] * right[j]).sum();
        right[k] = (right[k] - known) / matrix[k][k];
    }
    right
}

fn numbers(line: &str) -> Vec<f64> {
    line.split(',').map(|cell| cell.parse().expect("a number")).collect()
}

/// 600 invented sets on four rungs, 470 of them failed: `rung, k, failed, lower, upper`.
fn reps() -> Vec<Sighting<2>> {
    let read = |line| {
        let cells = numbers(line);
        Sighting::new(cells[3], cells[4], [1.0, cells[0]])
    };
    REPS.lines().skip(1).map(read).collect()
}

/// 432 people, weeks to arrest: `week, arrest, fin, age, race, wexp, mar, paro, prio`. An arrest is an exact week.
fn arrests() -> Vec<Sighting<8>> {
    let read = |line| {
        let cells = numbers(line);
        let upper = if cells[1] > 0.0 { cells[0] } else { f64::INFINITY };
        Sighting::new(cells[0], upper, from_fn(|k| if k == 0 { 1.0 } else { cells[k + 1] }))
    };
    ARRESTS.lines().skip(1).map(read).collect()
}

/// 731 people: `left, right, male`, exact where the ends are equal.
fn diabetes<const P: usize>() -> Vec<Sighting<P>> {
    let read = |line| {
        let cells = numbers(line);
        Sighting::new(cells[0], cells[1], from_fn(|k| if k == 0 { 1.0 } else { cells[2] }))
    };
    DIABETES.lines().skip(1).map(read).collect()
}

/// Holds a fit to a log likelihood, coefficients and a scale, each with what it may be off by.
fn holds<const P: usize>(
    found: &Fit<P>,
    log_likelihood: (f64, f64),
    coefficients: ([f64; P], f64),
    scale: (f64, f64),
) {
    let close = |what: &str, found: f64, (expected, tolerance): (f64, f64)| {
        assert!(
            (found - expected).abs() <= tolerance,
            "{what}: {found}, expected {expected} to {tolerance:e}"
        );
    };
    close("log likelihood", found.log_likelihood, log_likelihood);
    for (value, expected) in found.coefficients.into_iter().zip(coefficients.0) {
        close("coefficient", value, (expected, coefficients.1));
    }
    close("scale", found.scale, scale);
}

#[test]
fn sets_with_normal_noise_fit_as_in_r() {
    let found = fit(&reps(), NORMAL);
    let coefficients = [1.749_328_836_0, -0.436_273_428_4];
    holds(&found, (-702.030_222_286, 1e-9), (coefficients, 1e-10), (0.335_141_487_5, 1e-10));
}

/// Interval and right-censored terms only: off by 6.6e-7 in the sum of 600 terms, 1.2e-9 in the parameters.
#[test]
fn sets_with_logistic_noise_fit_as_in_r() {
    let found = fit(&reps(), LOGISTIC);
    let coefficients = [1.746_731_764_8, -0.431_040_322_3];
    holds(&found, (-701.715_087_185, 1e-6), (coefficients, 2e-9), (0.190_743_620_4, 2e-9));
}

#[test]
fn arrests_with_normal_noise_fit_as_in_r() {
    let found = fit(&arrests(), NORMAL);
    let coefficients = [
        4.267_665_703_82,
        0.342_847_679_24,
        0.027_201_841_50,
        -0.363_159_958_94,
        0.268_132_061_82,
        0.460_353_374_67,
        0.055_879_376_16,
        -0.065_517_510_14,
    ];
    holds(&found, (-683.234_625_278, 1e-8), (coefficients, 1e-7), (1.294_569_926, 1e-8));
}

/// The 114 exact weeks ask for the density of the mixture, which is further off than its mass: 5.3e-6 in a coefficient
/// whose standard error is 0.44.
#[test]
fn arrests_with_logistic_noise_fit_as_in_r() {
    let found = fit(&arrests(), LOGISTIC);
    let coefficients = [
        3.918_304_144_01,
        0.288_876_139_23,
        0.036_365_589_04,
        -0.279_149_259_08,
        0.178_423_814_55,
        0.347_303_977_06,
        0.050_798_169_85,
        -0.069_182_244_29,
    ];
    holds(&found, (-679.938_411_053, 1e-6), (coefficients, 1e-5), (0.647_134_755_9, 1e-6));
}

#[test]
fn diabetes_with_normal_noise_fits_as_in_r() {
    let found = fit(&diabetes(), NORMAL);
    let coefficients = [2.699_820_252_68, 0.086_428_441_63];
    holds(&found, (-2_026.118_211_56, 1e-8), (coefficients, 1e-9), (0.384_723_538_8, 1e-9));
    // One mean for all: lifelines 0.30.3, whose search stops a little earlier.
    let (mean, sd) = (2.752_717_220_378, 0.387_474_493_763);
    holds(&fit(&diabetes(), NORMAL), (-2_030.115_274_952, 1e-7), ([mean], 5e-6), (sd, 5e-6));
}

/// 595 of the 731 values are exact, and the tails of the mixture's density tell: 4e-5 in the sum, 6e-7 in a coefficient.
#[test]
fn diabetes_with_logistic_noise_fits_as_in_r() {
    let found = fit(&diabetes(), LOGISTIC);
    let coefficients = [2.723_539_625_52, 0.079_189_870_19];
    holds(&found, (-2_003.695_487_78, 1e-4), (coefficients, 1e-6), (0.205_561_454_2, 1e-6));
    // One scale for all: lifelines 0.30.3 gives the median and the inverse scale.
    let (median, inverse): (f64, f64) = (16.004_748_811_394, 4.829_897_044_426);
    let found = fit(&diabetes(), LOGISTIC);
    holds(&found, (-2_007.584_936_979, 1e-4), ([libm::log(median)], 1e-6), (1.0 / inverse, 1e-6));
}

/// The distribution function of the standard logistic, and one minus it, each without cancellation.
fn logistic(x: f64) -> (f64, f64) {
    let below =
        |x: f64| if x < 0.0 { libm::exp(x) / (1.0 + libm::exp(x)) } else { 1.0 / (1.0 + libm::exp(-x)) };
    (below(x), below(-x))
}

/// At the maximum of the sets, term by term against the exact logistic: the mass of an interval is off by no more than the
/// distribution function is at its two ends, 2.1e-9 each (`r11`). In ln that is 2e-8 for likely sets and 1.5e-7 for the
/// least likely of these.
#[test]
fn each_term_of_the_sets_is_the_logistic_one() {
    let mut worst: f64 = 0.0;
    for Sighting { interval, covariates, .. } in reps() {
        let (mean, scale) = (1.746_731_764_8 - 0.431_040_322_3 * covariates[1], 0.190_743_620_4);
        let found = observe(Gaussian { mean, variance: 0.0 }, LOGISTIC(scale), interval).log_mass;
        let (low, high) = ((interval.lower - mean) / scale, (interval.upper - mean) / scale);
        let mass =
            if low > 0.0 { logistic(low).1 - logistic(high).1 } else { logistic(high).0 - logistic(low).0 };
        let off = found - libm::log(mass);
        assert!(off.abs() * mass < 4.2e-9, "{interval:?}: {off:e}, mass {mass}");
        assert!(mass < 0.2 || off.abs() < 2e-8, "{interval:?}: {off:e}, mass {mass}");
        worst = worst.max(off.abs());
    }
    assert!(worst < 2e-7, "{worst:e}");
}
