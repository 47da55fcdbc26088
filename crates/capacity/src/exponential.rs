//! Exponentials of several numbers at once: most of the work of the filter and of every chance it gives.
//!
//! One after another, `libm::exp` takes two thirds of the time of a normal tail. Here every stage runs over all numbers
//! without a branch, so that the compiler can put them side by side in the processor. Sums and products are plain, never
//! fused, so that the bits are the same on every machine.

use std::array::from_fn;
use std::f64::consts::LOG2_E;

/// Natural logarithm of 2 in two parts: the first has 21 zero bits at its end, so that its product with a whole number
/// below 2^20 is exact (the split is that of the library fdlibm, from memory; `tests` below hold it against `LN_2`).
const LN_2_HIGH: f64 = 6.931_471_803_691_238e-1;
const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
/// 1.5 times 2^52: added and taken away it rounds to the nearest whole number, which it leaves in the lowest bits.
const ROUNDING: f64 = 6_755_399_441_055_744.0;
/// Below this the exponential is less than half the smallest number there is.
const NOTHING_BELOW: f64 = -746.0;
/// Above this it is infinite.
const INFINITE_ABOVE: f64 = 710.0;
/// Bits of the number one.
const ONE: u64 = 1.0_f64.to_bits();
/// `1 / n!`, n = 2 to 13 in pairs: the series of `(exp(r) - 1 - r) / r^2`. What is left out is below 5e-18 for `|r|` up to half
/// the logarithm of 2.
const SERIES: [[f64; 2]; 6] = [
    [1.0 / 2.0, 1.0 / 6.0],
    [1.0 / 24.0, 1.0 / 120.0],
    [1.0 / 720.0, 1.0 / 5_040.0],
    [1.0 / 40_320.0, 1.0 / 362_880.0],
    [1.0 / 3_628_800.0, 1.0 / 39_916_800.0],
    [1.0 / 479_001_600.0, 1.0 / 6_227_020_800.0],
];

/// `exp(x)` of each number, within one unit in the last place; zero and infinity where the result is beyond the range.
#[inline(always)]
pub(crate) fn exponentials<const N: usize>(x: &[f64; N]) -> [f64; N] {
    let x = x.map(|x| x.clamp(NOTHING_BELOW, INFINITE_ABOVE));
    let doublings = x.map(|x| rounded(x * LOG2_E));
    let rest: [f64; N] = from_fn(|i| (x[i] - doublings[i] * LN_2_HIGH) - doublings[i] * LN_2_LOW);
    let squares = rest.map(|r| r * r);
    let mut series = [0.0; N];
    // By pairs from the smallest, so that a number waits for half as many steps.
    for [even, odd] in SERIES.into_iter().rev() {
        for i in 0..N {
            series[i] = series[i] * squares[i] + (even + odd * rest[i]);
        }
    }
    // By two halves, since the power of two alone may be beyond the range where the product is not.
    let half = doublings.map(|k| rounded(0.5 * k));
    from_fn(|i| {
        let reduced = 1.0 + (rest[i] + squares[i] * series[i]);
        reduced * power_of_two(half[i]) * power_of_two(doublings[i] - half[i])
    })
}

/// The nearest whole number to one of at most 2^51 either way.
#[inline(always)]
fn rounded(x: f64) -> f64 {
    (x + ROUNDING) - ROUNDING
}

/// 2 to a whole power from -1022 to 1023.
#[inline(always)]
fn power_of_two(power: f64) -> f64 {
    f64::from_bits(ONE.wrapping_add((power + ROUNDING).to_bits() << 52))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether two numbers are the same or neighbours.
    fn is_near(a: f64, b: f64) -> bool {
        a.to_bits().abs_diff(b.to_bits()) <= 1
    }

    #[test]
    fn the_logarithm_of_two_is_split_in_two() {
        assert_eq!(LN_2_HIGH + LN_2_LOW, std::f64::consts::LN_2);
        assert_eq!(LN_2_HIGH.to_bits() & 0x1f_ffff, 0);
    }

    #[test]
    fn exponentials_are_those_of_the_library_to_a_neighbour() {
        let mut x = -745.2;
        let mut seen = 0;
        while x < 709.7 {
            let points = [x, 0.37 * x, 1e-3 * x, 1e-9 * x];
            for (point, ours) in points.iter().zip(exponentials(&points)) {
                assert!(is_near(ours, libm::exp(*point)), "exp({point}) = {ours}");
            }
            x += 0.003_71;
            seen += 1;
        }
        assert!(seen > 390_000);
    }

    #[test]
    fn beyond_the_range_are_zero_and_infinity() {
        let ends = [f64::NEG_INFINITY, -1e300, -746.0, 0.0, 710.0, 1e300, f64::INFINITY];
        assert_eq!(exponentials(&ends), [0.0, 0.0, 0.0, 1.0, f64::INFINITY, f64::INFINITY, f64::INFINITY]);
        assert!(exponentials(&[f64::NAN])[0].is_nan());
    }
}
