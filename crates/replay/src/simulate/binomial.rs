//! Binomial: the exact band in which a share of successes must lie.

/// The central band of a binomial count: the quantiles at `(1 - level) / 2` and `(1 + level) / 2`, as counts of `n`. The
/// quantile at `q` is the smallest count whose distribution function is at least `q`.
///
/// `0 < p < 1`; sums the probabilities from the mode outwards in ln units, so `n` may be large.
pub fn central_band(n: u32, p: f64, level: f64) -> (u32, u32) {
    let (low_tail, high_tail) = (0.5 * (1.0 - level), 0.5 * (1.0 + level));
    let mut below = 0.0;
    let mut low = None;
    for k in 0..=n {
        below += libm::exp(log_mass(n, k, p));
        if below >= low_tail && low.is_none() {
            low = Some(k);
        }
        if below >= high_tail {
            return (low.unwrap_or(k), k);
        }
    }
    (low.unwrap_or(0), n)
}

fn log_mass(n: u32, k: u32, p: f64) -> f64 {
    let ln_factorial = |m: u32| libm::lgamma(f64::from(m) + 1.0);
    ln_factorial(n) - ln_factorial(k) - ln_factorial(n - k)
        + f64::from(k) * libm::log(p)
        + f64::from(n - k) * libm::log1p(-p)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_are_those_computed_by_scipy() {
        // `binom.interval(.999, N, p) / N`, run with SciPy; the output is kept as `tests/reference/r12_tests_meta.py.out`.
        let bands = [
            (1000, 0.5, 0.448, 0.552),
            (1000, 0.8, 0.757, 0.841),
            (1000, 0.95, 0.926, 0.971),
            (4000, 0.5, 0.474, 0.526),
            (4000, 0.8, 0.779, 0.8205),
            (4000, 0.95, 0.93825, 0.961),
            (20_000, 0.5, 0.48835, 0.51165),
            (20_000, 0.8, 0.79065, 0.80925),
            (20_000, 0.95, 0.94485, 0.955),
        ];
        for (n, p, low, high) in bands {
            let (a, b) = central_band(n, p, 0.999);
            let share = |k: u32| f64::from(k) / f64::from(n);
            assert!((share(a) - low).abs() < 1e-12, "{n} {p}: {}", share(a));
            assert!((share(b) - high).abs() < 1e-12, "{n} {p}: {}", share(b));
        }
    }

    #[test]
    fn a_small_case_by_hand() {
        // Three fair coins: 1/8, 4/8, 7/8, 1.
        assert_eq!(central_band(3, 0.5, 0.5), (1, 2));
        assert_eq!(central_band(3, 0.5, 0.8), (0, 3));
    }
}
