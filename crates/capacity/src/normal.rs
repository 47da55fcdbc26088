//! The standard normal distribution, stable in both tails.
//!
//! Everything rests on `erfcx`, the scaled complementary error function, so that no tail is ever found as one minus a
//! number near one. Coefficients: W. J. Cody, "Rational Chebyshev approximations for the error function", Mathematics of
//! Computation 23 (1969) 631-637, as published in the CALERF routine (from memory; checked against 40-digit values in
//! `tests/kernel_properties.rs`).

use crate::exponential::exponentials;
use std::array::from_fn;
use std::f64::consts::{FRAC_1_SQRT_2, LN_2};

/// `1 / sqrt(2 pi)`, the height of the standard normal density at zero.
pub const DENSITY_AT_ZERO: f64 = 0.398_942_280_401_432_7;
const FRAC_1_SQRT_PI: f64 = 0.564_189_583_547_756_3;
const SQRT_PI: f64 = 1.772_453_850_905_516;
const SQRT_FRAC_PI_2: f64 = 1.253_314_137_315_500_3;

/// Distances from the centre above this lie outside Cody's first range.
pub(crate) const CENTRE_DISTANCE: f64 = 0.663;
const CENTRE_LIMIT: f64 = 0.468_75;
const TAIL_START: f64 = 4.0;
/// Distances from the centre above this lie in Cody's last range.
pub(crate) const TAIL_DISTANCE: f64 = 5.657;
/// Below this argument `2 exp(x^2)` exceeds the largest finite number.
const OVERFLOW_LIMIT: f64 = -26.628;

const CENTRE_NUMERATOR: [f64; 5] = [
    1.857_777_061_846_031_5e-1,
    3.161_123_743_870_565_6,
    1.138_641_541_510_501_6e2,
    3.774_852_376_853_02e2,
    3.209_377_589_138_469_4e3,
];
const CENTRE_DENOMINATOR: [f64; 5] = [
    1.0,
    2.360_129_095_234_412_2e1,
    2.440_246_379_344_441_7e2,
    1.282_616_526_077_372_3e3,
    2.844_236_833_439_171e3,
];
const MIDDLE_NUMERATOR: [f64; 9] = [
    2.153_115_354_744_038_3e-8,
    5.641_884_969_886_701e-1,
    8.883_149_794_388_377,
    6.611_919_063_714_163e1,
    2.986_351_381_974_001e2,
    8.819_522_212_417_69e2,
    1.712_047_612_634_070_7e3,
    2.051_078_377_826_071_6e3,
    1.230_339_354_797_997_2e3,
];
const MIDDLE_DENOMINATOR: [f64; 9] = [
    1.0,
    1.574_492_611_070_983_5e1,
    1.176_939_508_913_125e2,
    5.371_811_018_620_099e2,
    1.621_389_574_566_690_3e3,
    3.290_799_235_733_459_7e3,
    4.362_619_090_143_247e3,
    3.439_367_674_143_721_6e3,
    1.230_339_354_803_749_5e3,
];
const TAIL_NUMERATOR: [f64; 6] = [
    1.631_538_713_730_209_7e-2,
    3.053_266_349_612_323_6e-1,
    3.603_448_999_498_044_5e-1,
    1.257_817_261_112_292_6e-1,
    1.608_378_514_874_227_5e-2,
    6.587_491_615_298_378e-4,
];
const TAIL_DENOMINATOR: [f64; 6] = [
    1.0,
    2.568_520_192_289_822,
    1.872_952_849_923_467_3,
    5.279_051_029_514_285e-1,
    6.051_834_131_244_132e-2,
    2.335_204_976_268_691_8e-3,
];

#[inline(always)]
fn polynomial<const N: usize>(coefficients: &[f64; N], x: f64) -> f64 {
    coefficients.iter().fold(0.0, |sum, c| sum * x + c)
}

/// `erf(y)` for `|y| <= 0.46875`.
#[inline(always)]
fn erf_centre(y: f64) -> f64 {
    let square = y * y;
    y * polynomial(&CENTRE_NUMERATOR, square) / polynomial(&CENTRE_DENOMINATOR, square)
}

/// `erfcx(y)` for `0.46875 < y <= 4`.
#[inline]
fn erfcx_middle(y: f64) -> f64 {
    polynomial(&MIDDLE_NUMERATOR, y) / polynomial(&MIDDLE_DENOMINATOR, y)
}

/// `1/sqrt(pi) - y erfcx(y)` for `y > 4`, found without that difference.
#[inline(always)]
fn erfcx_tail_gap(y: f64) -> f64 {
    let square = 1.0 / (y * y);
    square * polynomial(&TAIL_NUMERATOR, square) / polynomial(&TAIL_DENOMINATOR, square)
}

/// `erfcx(y)` for `y >= 0`.
#[inline]
fn erfcx_right(y: f64) -> f64 {
    if y <= CENTRE_LIMIT {
        libm::exp(y * y) * (1.0 - erf_centre(y))
    } else if y <= TAIL_START {
        erfcx_middle(y)
    } else {
        erfcx_tail(y)
    }
}

/// `erfcx(y)` for `y > 4`.
#[inline(always)]
fn erfcx_tail(y: f64) -> f64 {
    (FRAC_1_SQRT_PI - erfcx_tail_gap(y)) / y
}

/// Scaled complementary error function `exp(x^2) erfc(x)`.
///
/// Finite for every `x` above about -26.6; below that the value exceeds the range of `f64` and infinity is returned.
///
/// Source: Cody 1969 (module docs).
#[inline]
#[must_use]
pub fn erfcx(x: f64) -> f64 {
    if x >= 0.0 {
        erfcx_right(x)
    } else if x < OVERFLOW_LIMIT {
        f64::INFINITY
    } else {
        2.0 * libm::exp(x * x) - erfcx_right(-x)
    }
}

/// Standard normal density at `x`.
#[inline]
#[must_use]
pub fn density(x: f64) -> f64 {
    DENSITY_AT_ZERO * libm::exp(-0.5 * x * x)
}

/// Standard normal densities at several points, over `exp(exponent)`.
#[inline(always)]
pub(crate) fn densities<const N: usize>(points: &[f64; N], exponent: f64) -> [f64; N] {
    exponentials(&points.map(|x| -0.5 * x * x - exponent)).map(|share| DENSITY_AT_ZERO * share)
}

/// Upper tail `P(Z > x)` of the standard normal, full relative precision however far out.
#[inline]
#[must_use]
pub fn survival(x: f64) -> f64 {
    let [tail] = survivals(&[x]);
    tail
}

/// [`survival`] of several points at once. The stages run over all points, so that they overlap in the processor.
#[inline(always)]
pub(crate) fn survivals<const N: usize>(points: &[f64; N]) -> [f64; N] {
    let distances = points.map(f64::abs);
    let tails = beyond(&distances, &densities(&distances, 0.0));
    from_fn(|i| if points[i] < 0.0 { 1.0 - tails[i] } else { tails[i] })
}

/// Mass past each of several distances `>= 0` from the centre, given the densities there.
///
/// The densities may carry a common factor, which the masses then carry too, unless a distance is under
/// [`CENTRE_DISTANCE`].
#[inline(always)]
pub(crate) fn beyond<const N: usize>(distances: &[f64; N], densities: &[f64; N]) -> [f64; N] {
    let y = distances.map(|distance| distance * FRAC_1_SQRT_2);
    let (mut numerator, mut denominator) = ([0.0; N], [0.0; N]);
    for (above, below) in MIDDLE_NUMERATOR.iter().zip(&MIDDLE_DENOMINATOR) {
        for i in 0..N {
            numerator[i] = numerator[i] * y[i] + above;
            denominator[i] = denominator[i] * y[i] + below;
        }
    }
    let mut tails = [0.0; N];
    for i in 0..N {
        tails[i] = densities[i] * SQRT_FRAC_PI_2 * (numerator[i] / denominator[i]);
    }
    // Whole rows, then a choice: so that they too go side by side.
    if y.iter().any(|&y| y <= CENTRE_LIMIT) {
        for i in 0..N {
            let near = 0.5 - 0.5 * erf_centre(y[i]);
            tails[i] = if y[i] <= CENTRE_LIMIT { near } else { tails[i] };
        }
    }
    if y.iter().any(|&y| y > TAIL_START) {
        for i in 0..N {
            let far = densities[i] * SQRT_FRAC_PI_2 * erfcx_tail(y[i]);
            tails[i] = if y[i] > TAIL_START { far } else { tails[i] };
        }
    }
    tails
}

/// Distribution function `P(Z <= x)` of the standard normal.
#[inline]
#[must_use]
pub fn distribution(x: f64) -> f64 {
    survival(-x)
}

/// Natural logarithm of `P(Z <= x)`, full relative precision in both tails.
#[inline]
#[must_use]
pub fn log_distribution(x: f64) -> f64 {
    if x < 0.0 {
        libm::log(erfcx_right(-x * FRAC_1_SQRT_2)) - LN_2 - 0.5 * x * x
    } else {
        libm::log1p(-survival(x))
    }
}

/// Inverse Mills ratio `density(x) / distribution(x)`: the mean of a standard normal known to lie above `-x`.
#[inline]
#[must_use]
pub fn inverse_mills(x: f64) -> f64 {
    if x < 0.0 { 1.0 / mills(-x) } else { density(x) / distribution(x) }
}

/// Mills ratio `survival(x) / density(x)` for `x >= 0`.
#[inline]
fn mills(x: f64) -> f64 {
    SQRT_FRAC_PI_2 * erfcx_right(x * FRAC_1_SQRT_2)
}

/// Integrals of `t^n exp(-z t - t^2/2)` over `t >= 0`, for n = 0, 1, 2.
///
/// They are the unnormalised moments of the distance past `z` of a standard normal known to exceed `z`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TailMoments {
    /// n = 0: the Mills ratio.
    pub(crate) zeroth: f64,
    /// n = 1: `1 - z * zeroth`.
    pub(crate) first: f64,
    /// n = 2: `zeroth - z * first`.
    pub(crate) second: f64,
}

/// Beyond this `z` the asymptotic series of the second moment is good to 1e-13.
const ASYMPTOTIC_START: f64 = 30.0;
/// `(-1)^n (2n+2)! / (2^n n!)`, highest power first.
const SECOND_MOMENT_SERIES: [f64; 8] =
    [-32_432_400.0, 1_891_890.0, -124_740.0, 9_450.0, -840.0, 90.0, -12.0, 2.0];

impl TailMoments {
    /// Moments past a `z` above [`TAIL_DISTANCE`].
    #[inline(always)]
    pub(crate) fn past(z: f64) -> Self {
        let first = SQRT_PI * erfcx_tail_gap(z * FRAC_1_SQRT_2);
        let zeroth = (1.0 - first) / z;
        let second = if z < ASYMPTOTIC_START {
            zeroth - z * first
        } else {
            let square = 1.0 / (z * z);
            polynomial(&SECOND_MOMENT_SERIES, square) * square / z
        };
        Self { zeroth, first, second }
    }
}
