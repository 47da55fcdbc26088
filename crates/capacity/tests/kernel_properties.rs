//! The kernel against exact values over its whole range, and what must hold for any input.

#[cfg(test)]
#[path = "golden/read.rs"]
mod read;

#[cfg(test)]
mod cases {
    use proptest::test_runner::{Config, RngSeed};

    /// Many cases from a fixed seed: a failure is the same failure everywhere.
    pub(crate) fn fixed_cases() -> Config {
        Config {
            cases: 2000,
            rng_seed: RngSeed::Fixed(1_969),
            failure_persistence: None,
            ..Config::default()
        }
    }
}

#[cfg(test)]
mod exact_values {
    use super::read::{Worst, parsed, relative};
    use nextrung_capacity::dynamics::Trend;
    use nextrung_capacity::normal;
    use serde::Deserialize;

    #[derive(Deserialize, Debug)]
    struct NormalRow {
        x: f64,
        erfcx: f64,
        survival: Option<f64>,
        log_distribution: Option<f64>,
        inverse_mills: Option<f64>,
    }

    /// `golden/normal.json`: 60 digits rounded to the nearest double.
    fn normal_rows() -> Vec<NormalRow> {
        let rows: Vec<NormalRow> = parsed(include_str!("golden/normal.json"));
        assert_eq!(rows.len(), 796);
        rows
    }

    #[test]
    fn erfcx_has_full_precision() {
        let (mut right, mut left) = (Worst::default(), Worst::default());
        for row in normal_rows() {
            let worst = if row.x >= 0.0 { &mut right } else { &mut left };
            // Left of zero the square of the argument is rounded before the exponential.
            let units = if row.x >= 0.0 { 1.0 } else { 1.0 + row.x * row.x };
            worst.note(relative(normal::erfcx(row.x), row.erfcx) / units, row.x);
        }
        right.within(7e-16, "erfcx");
        left.within(4e-16, "erfcx left of zero");
    }

    #[test]
    fn tails_have_full_precision() {
        let (mut tail, mut log, mut mills) = (Worst::default(), Worst::default(), Worst::default());
        for row in normal_rows() {
            let (Some(survival), Some(log_distribution), Some(inverse_mills)) =
                (row.survival, row.log_distribution, row.inverse_mills)
            else {
                continue;
            };
            let units = 1.0 + row.x * row.x;
            tail.note(relative(normal::survival(row.x), survival) / units, row.x);
            tail.note(relative(normal::distribution(-row.x), survival) / units, row.x);
            log.note(relative(normal::log_distribution(row.x), log_distribution) / units, row.x);
            mills.note(relative(normal::inverse_mills(row.x), inverse_mills) / units, row.x);
        }
        tail.within(6e-16, "survival");
        log.within(6e-16, "log distribution");
        mills.within(6e-16, "inverse Mills ratio");
    }

    #[test]
    fn erfcx_agrees_with_erfc() {
        for step in -500..=500_i32 {
            let x = f64::from(step) / 100.0;
            let expected = libm::erfc(x);
            let found = normal::erfcx(x) * libm::exp(-x * x);
            assert!(relative(found, expected) < 2e-14, "{x}: {found} is not {expected}");
        }
    }

    #[derive(Deserialize, Debug)]
    struct TrendRow {
        slope_days: Option<f64>,
        days: f64,
        level_noise: f64,
        slope_noise: f64,
        gain: f64,
        decay: f64,
        ll: f64,
        lv: f64,
        vv: f64,
    }

    /// `golden/dynamics.json`: quadrature of matrix exponentials at 30 digits, damped and undamped.
    #[test]
    fn transitions_agree_with_matrix_exponentials() {
        let rows: Vec<TrendRow> = parsed(include_str!("golden/dynamics.json"));
        assert_eq!(rows.len(), 30);
        let mut worst = Worst::default();
        for row in rows {
            let slope_days = row.slope_days.unwrap_or(f64::INFINITY);
            let trend = Trend { slope_days, level_noise: row.level_noise, slope_noise: row.slope_noise };
            let found = trend.transition(row.days);
            worst.note(relative(found.gain, row.gain), &row);
            worst.note(relative(found.decay, row.decay), &row);
            for (f, e) in found.noise.into_iter().zip([row.ll, row.lv, row.vv]) {
                worst.note(relative(f, e), &row);
            }
        }
        worst.within(2e-14, "transition");
    }
}

#[cfg(test)]
mod observations {
    use super::cases::fixed_cases;
    use nextrung_capacity::logistic::{
        Noise, Outlook, Pair, Report, band_probability, observe, observe_report, survival,
    };
    use nextrung_capacity::truncated::{Gaussian, Interval, Update};
    use proptest::prelude::*;

    fn noises() -> impl Strategy<Value = Noise> {
        prop_oneof![
            (0.02..1.0_f64).prop_map(|scale| Noise::Logistic { scale }),
            (0.02..1.0_f64).prop_map(|sd| Noise::Normal { sd }),
        ]
    }

    fn beliefs() -> impl Strategy<Value = Gaussian> {
        (-3.0..5.0_f64, -14.0..9.0_f64)
            .prop_map(|(mean, ln_variance)| Gaussian { mean, variance: libm::exp(ln_variance) })
    }

    fn intervals() -> impl Strategy<Value = Interval> {
        prop_oneof![
            (-4.0..6.0_f64).prop_map(Interval::at_least),
            (-4.0..6.0_f64).prop_map(Interval::below),
            (-4.0..6.0_f64, -9.0..2.0_f64)
                .prop_map(|(lower, ln_width)| Interval::between(lower, lower + libm::exp(ln_width))),
        ]
    }

    fn is_sound(prior: Gaussian, update: Update) -> bool {
        let after = update.posterior;
        update.log_mass.is_finite()
            && update.log_mass < 1e-12
            && after.mean.is_finite()
            && after.variance > 0.0
            && after.variance <= prior.variance
    }

    proptest! {
        #![proptest_config(fixed_cases())]

        #[test]
        fn doubt_never_grows(prior in beliefs(), noise in noises(), interval in intervals()) {
            let update = observe(prior, noise, interval);
            prop_assert!(is_sound(prior, update), "{:?}", update);
        }

        #[test]
        fn any_surprise_is_survived(
            z in -1000.0..1000.0_f64,
            ln_variance in -25.0..25.0_f64,
            ln_width in -15.0..5.0_f64,
            noise in noises(),
        ) {
            let prior = Gaussian { mean: 0.0, variance: libm::exp(ln_variance) };
            let spread = match noise {
                Noise::Logistic { scale } => scale * 4.2,
                Noise::Normal { sd } => sd,
            };
            let sd = (prior.variance + spread * spread).sqrt();
            let (lower, upper) = (z * sd, z * sd + libm::exp(ln_width) * sd);
            for interval in [Interval::at_least(lower), Interval::below(lower), Interval::between(lower, upper)] {
                let update = observe(prior, noise, interval);
                prop_assert!(is_sound(prior, update), "{:?} {:?}", interval, update);
            }
        }

        /// The exact mean levels off far out; there the mixture ripples about it by 1e-4 of the shift.
        #[test]
        fn more_units_never_lower_the_mean(
            prior in beliefs(), noise in noises(), z in -10.0..10.0_f64, further in 0.0..1.0_f64,
        ) {
            let spread = match noise {
                Noise::Logistic { scale } => scale,
                Noise::Normal { sd } => sd,
            };
            let after = |z: f64| observe(prior, noise, Interval::at_least(prior.mean + z * spread)).posterior.mean;
            let (few, many) = (after(z), after(z + further * (10.0 - z)));
            let slack = 1e-12 * (1.0 + few.abs()) + 1e-4 * (few - prior.mean);
            prop_assert!(few >= prior.mean - 1e-12);
            prop_assert!(many >= few - slack, "{} < {}", many, few);
        }

        #[test]
        fn a_shift_of_the_scale_shifts_the_belief(
            prior in beliefs(), noise in noises(), interval in intervals(), shift in -3.0..3.0_f64,
        ) {
            let here = observe(prior, noise, interval);
            let moved = observe(
                Gaussian { mean: prior.mean + shift, ..prior },
                noise,
                Interval::between(interval.lower + shift, interval.upper + shift),
            );
            // Rounding of the shifted ends is what is left, seen through the sharpest of prior and noise.
            let steep = 1.0 + here.log_mass.abs() / prior.variance.min(1e-3).sqrt();
            prop_assert!((moved.log_mass - here.log_mass).abs() < 1e-11 * steep);
            prop_assert!((moved.posterior.mean - shift - here.posterior.mean).abs() < 1e-10);
            prop_assert!((moved.posterior.variance / here.posterior.variance - 1.0).abs() < 1e-8);
        }

        #[test]
        fn complementary_intervals_share_the_whole(
            prior in beliefs(), noise in noises(), lower in -4.0..6.0_f64, width in 1e-4..3.0_f64,
        ) {
            let parts = [
                Interval::below(lower),
                Interval::between(lower, lower + width),
                Interval::at_least(lower + width),
            ];
            let updates = parts.map(|part| observe(prior, noise, part));
            let shares = updates.map(|update| libm::exp(update.log_mass));
            prop_assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-12);
            // What is expected of the belief afterwards is the belief before.
            let mean: f64 = shares.iter().zip(updates).map(|(p, u)| p * u.posterior.mean).sum();
            prop_assert!((mean - prior.mean).abs() < 1e-9 * (1.0 + prior.variance), "{} {}", mean, prior.mean);
            let outlook = Outlook::new(prior, noise);
            for (part, share) in parts.into_iter().zip(shares) {
                prop_assert!((outlook.band(part) - share).abs() < 1e-12);
                prop_assert!((band_probability(prior, noise, part) - share).abs() < 1e-12);
            }
        }

        #[test]
        fn survival_falls_with_the_units(
            prior in beliefs(), noise in noises(), lower in -4.0..6.0_f64, more in 0.0..2.0_f64,
        ) {
            let outlook = Outlook::new(prior, noise);
            let (few, many) = (outlook.survival(lower), outlook.survival(lower + more));
            prop_assert!((0.0..=1.0).contains(&few) && (0.0..=1.0).contains(&many));
            prop_assert!(many <= few * (1.0 + 1e-14), "{} > {}", many, few);
            prop_assert!((few + outlook.shortfall(lower) - 1.0).abs() < 1e-14);
            prop_assert!((few - survival(prior, noise, lower)).abs() < 1e-15);
        }

        #[test]
        fn a_report_narrows_both_beliefs(
            prior in beliefs(), noise in noises(), bias in -0.5..0.5_f64, ln_bias_variance in -8.0..0.0_f64,
            correlation in -0.95..0.95_f64, lower in -1.0..3.0_f64, more in 0.1..1.0_f64, variance in 0.005..0.5_f64,
        ) {
            let bias_variance = libm::exp(ln_bias_variance);
            let covariance = correlation * (prior.variance * bias_variance).sqrt();
            let before = Pair {
                mean: [prior.mean, bias],
                covariance: [prior.variance, covariance, bias_variance],
            };
            let report = Report { ln_units: lower + more, variance };
            let update = observe_report(&before, noise, lower, report);
            let [aa, ab, bb] = update.posterior.covariance;
            prop_assert!(update.log_mass.is_finite());
            prop_assert!(update.posterior.mean.iter().all(|value| value.is_finite()));
            prop_assert!(aa > 0.0 && aa <= prior.variance && bb > 0.0 && bb <= bias_variance);
            prop_assert!(ab * ab <= aa * bb * (1.0 + 1e-9), "{:?}", update);
        }

        /// A report worth nothing leaves what was done: the two paths through the code must meet.
        #[test]
        fn a_worthless_report_is_a_censored_set(
            prior in beliefs(), noise in noises(), lower in -1.0..3.0_f64,
        ) {
            let before = Pair { mean: [prior.mean, 0.0], covariance: [prior.variance, 0.0, 0.04] };
            let report = Report { ln_units: lower, variance: 1e12 };
            let with = observe_report(&before, noise, lower, report);
            let without = observe(prior, noise, Interval::at_least(lower));
            let sd = without.posterior.variance.sqrt();
            prop_assert!((with.posterior.mean[0] - without.posterior.mean).abs() < 1e-6 * sd);
            prop_assert!((with.posterior.covariance[0] / without.posterior.variance - 1.0).abs() < 1e-6);
        }
    }
}

#[cfg(test)]
mod passing_of_time {
    use super::cases::fixed_cases;
    use nextrung_capacity::dynamics::{Familiarisation, Idleness, Trend};
    use proptest::prelude::*;

    fn close(one: f64, other: f64, size: f64) -> bool {
        (one - other).abs() <= 1e-12 * size
    }

    proptest! {
        #![proptest_config(fixed_cases())]

        #[test]
        fn gaps_add_up(
            ln_slope_days in -2.0..30.0_f64, ln_first in -6.0..6.0_f64, ln_second in -6.0..6.0_f64,
            level_noise in 0.0..1e-2_f64, slope_noise in 0.0..1e-3_f64, undamped in any::<bool>(),
        ) {
            let slope_days = if undamped { f64::INFINITY } else { libm::exp(ln_slope_days) };
            let trend = Trend { slope_days, level_noise, slope_noise };
            let (first, second) = (libm::exp(ln_first), libm::exp(ln_second));
            let parts = trend.transition(first).then(&trend.transition(second));
            let whole = trend.transition(first + second);
            prop_assert!(close(parts.gain, whole.gain, whole.gain));
            prop_assert!(close(parts.decay, whole.decay, 1.0));
            for (part, all) in parts.noise.into_iter().zip(whole.noise) {
                prop_assert!(close(part, all, all), "{:?} {:?}", parts, whole);
            }
            let [ll, lv, vv] = whole.noise;
            prop_assert!(lv * lv <= ll * vv * (1.0 + 1e-12));
        }

        #[test]
        fn standing_still_adds_up_and_leaves_the_level_alone(
            ln_slope_days in -2.0..30.0_f64, first in 0.0..200.0_f64, second in 0.0..200.0_f64,
        ) {
            let trend = Trend { slope_days: libm::exp(ln_slope_days), level_noise: 1e-4, slope_noise: 1e-6 };
            let parts = trend.standstill(first).then(&trend.standstill(second));
            let whole = trend.standstill(first + second);
            prop_assert!(parts.gain == 0.0 && whole.gain == 0.0 && close(parts.decay, whole.decay, 1.0));
            for (part, all) in parts.noise.into_iter().zip(whole.noise) {
                prop_assert!(close(part, all, all), "{:?} {:?}", parts, whole);
            }
        }

        #[test]
        fn time_off_adds_up_and_waits_for_the_grace(
            idle in 0.0..60.0_f64, first in 0.0..60.0_f64, second in 0.0..60.0_f64,
        ) {
            let idleness = Idleness { grace_days: Idleness::GRACE_DAYS, loss: 0.002, loss_days: 150.0, doubt: 0.0005 };
            let whole = idleness.over(idle, first + second);
            let (one, two) = (idleness.over(idle, first), idleness.over(idle + first, second));
            prop_assert!(close(one.0 + two.0, whole.0, 1.0) && close(one.1 + two.1, whole.1, 1.0));
            prop_assert!(whole.0 <= 0.0 && whole.1 >= 0.0);
            if idle + first + second <= Idleness::GRACE_DAYS {
                prop_assert_eq!(whole, (-0.0, 0.0));
            }
        }

        #[test]
        fn familiarisation_adds_up_and_ends(
            since in 0.0..100.0_f64, first in 0.0..60.0_f64, second in 0.0..60.0_f64, days in 1.0..60.0_f64,
        ) {
            let start = Familiarisation { noise: 0.01, days };
            let whole = start.over(since, first + second);
            let parts = start.over(since, first) + start.over(since + first, second);
            prop_assert!(close(parts, whole, 0.01 * days));
            prop_assert!(whole >= 0.0 && start.over(0.0, since) + whole <= 0.01 * days * (1.0 + 1e-12));
        }
    }

    #[test]
    fn three_days_and_four_are_seven() {
        for slope_days in [3.0, 21.0, 60.0, f64::INFINITY] {
            let trend = Trend { slope_days, level_noise: 4e-4, slope_noise: 2e-5 };
            let parts = trend.transition(3.0).then(&trend.transition(4.0));
            let whole = trend.transition(7.0);
            assert!(close(parts.gain, whole.gain, whole.gain));
            for (part, all) in parts.noise.into_iter().zip(whole.noise) {
                assert!(close(part, all, all), "{parts:?} {whole:?}");
            }
        }
    }

    #[test]
    fn a_month_off_by_hand() {
        // Twenty days past the grace; -0.01 * 100 * (1 - exp(-20 / 100)).
        let idleness = Idleness { grace_days: 14.0, loss: 0.01, loss_days: 100.0, doubt: 0.001 };
        let (drift, doubt) = idleness.over(4.0, 30.0);
        assert!((drift + 0.181_269_246_922_018_2).abs() < 1e-15 && (doubt - 0.02).abs() < 1e-15);
    }

    #[test]
    fn years_off_cost_no_more_than_the_whole() {
        let idleness = Idleness { grace_days: 14.0, loss: 0.003, loss_days: 180.0, doubt: 0.0 };
        let (drift, _) = idleness.over(0.0, 3650.0);
        assert!((-0.54..-0.539).contains(&drift), "{drift}");
    }
}

#[cfg(test)]
mod covariances {
    use super::cases::fixed_cases;
    use nextrung_capacity::dynamics::Trend;
    use nextrung_capacity::linear::{Sym, absorb, absorb_pair, dot, observe_value};
    use nextrung_capacity::logistic::{self, Noise, Pair};
    use nextrung_capacity::truncated::{Gaussian, Interval};
    use proptest::prelude::*;

    const DIM: usize = 7;

    /// A random positive definite matrix as `A A' + small diagonal`, with a random mean.
    fn states() -> impl Strategy<Value = (Vec<f64>, Sym)> {
        (prop::collection::vec(-1.0..1.0_f64, DIM), prop::collection::vec(-1.0..1.0_f64, DIM * DIM)).prop_map(
            |(mean, root)| {
                let mut covariance = Sym::diagonal(&[1e-3; DIM]);
                for (i, left) in root.chunks_exact(DIM).enumerate() {
                    for (j, right) in root.chunks_exact(DIM).enumerate().take(i + 1) {
                        covariance.add(i, j, left.iter().zip(right).map(|(a, b)| a * b).sum());
                    }
                }
                (mean, covariance)
            },
        )
    }

    fn rows() -> impl Strategy<Value = Vec<(usize, f64)>> {
        prop::sample::subsequence((0..DIM).collect::<Vec<_>>(), 1..=4)
            .prop_flat_map(|indices| {
                let len = indices.len();
                (Just(indices), prop::collection::vec(0.2..2.0_f64, len))
            })
            .prop_map(|(indices, weights)| indices.into_iter().zip(weights).collect())
    }

    proptest! {
        #![proptest_config(fixed_cases())]

        #[test]
        fn packed_products_are_plain_products((mean, covariance) in states(), row in rows()) {
            let mut along = [0.0; DIM];
            covariance.mul_sparse(&row, &mut along);
            for (i, value) in along.iter().enumerate() {
                let plain: f64 = row.iter().map(|&(j, weight)| weight * covariance.get(i, j)).sum();
                prop_assert!((value - plain).abs() < 1e-12);
            }
            prop_assert!((dot(&row, &along) - covariance.quadratic(&row)).abs() < 1e-12);
            prop_assert_eq!(mean.len(), covariance.dim());
        }

        #[test]
        fn cholesky_multiplies_back((_, covariance) in states()) {
            let factor = covariance.cholesky().expect("the matrix is positive definite");
            for i in 0..DIM {
                for j in 0..=i {
                    let product: f64 = (0..=j).map(|k| factor.get(i, k) * factor.get(j, k)).sum();
                    prop_assert!((product - covariance.get(i, j)).abs() < 1e-13);
                }
            }
            let mut indefinite = covariance.clone();
            indefinite.set(3, 3, -1e-9);
            prop_assert!(!indefinite.is_positive_definite());
            let again = Sym::from_packed(covariance.packed().to_vec());
            prop_assert_eq!(again, Some(covariance));
        }

        /// After carrying a belief about a form back, the state implies exactly that belief.
        #[test]
        fn an_absorbed_belief_is_the_belief(
            (mut mean, mut covariance) in states(), row in rows(), lower in -2.0..2.0_f64, scale in 0.05..0.5_f64,
        ) {
            let mut along = [0.0; DIM];
            covariance.mul_sparse(&row, &mut along);
            let before = Gaussian { mean: dot(&row, &mean), variance: dot(&row, &along) };
            let after =
                logistic::observe(before, Noise::Logistic { scale }, Interval::at_least(lower)).posterior;
            absorb(&mut mean, &mut covariance, &along, (before, after));
            prop_assert!((dot(&row, &mean) - after.mean).abs() < 1e-10);
            prop_assert!((covariance.quadratic(&row) - after.variance).abs() < 1e-10);
            prop_assert!(covariance.is_positive_definite());
        }

        /// The same for two forms at once.
        #[test]
        fn an_absorbed_pair_is_the_pair(
            (mut mean, mut covariance) in states(), shrink in 0.1..1.0_f64, shift in -0.5..0.5_f64,
        ) {
            let rows: [&[(usize, f64)]; 2] = [&[(0, 1.0), (2, -1.0)], &[(4, 1.0)]];
            let mut along = [[0.0; DIM]; 2];
            for (row, out) in rows.iter().zip(&mut along) {
                covariance.mul_sparse(row, out);
            }
            let cross = covariance.form(rows[0], rows[1]);
            let before = Pair {
                mean: rows.map(|row| dot(row, &mean)),
                covariance: [dot(rows[0], &along[0]), cross, dot(rows[1], &along[1])],
            };
            let after = Pair {
                mean: [before.mean[0] + shift, before.mean[1] - shift],
                covariance: before.covariance.map(|value| value * shrink),
            };
            absorb_pair(&mut mean, &mut covariance, [&along[0], &along[1]], (&before, &after));
            for (row, expected) in rows.iter().zip(after.mean) {
                prop_assert!((dot(row, &mean) - expected).abs() < 1e-9);
            }
            let found = [covariance.quadratic(rows[0]), covariance.form(rows[0], rows[1]), covariance.quadratic(rows[1])];
            for (f, e) in found.into_iter().zip(after.covariance) {
                prop_assert!((f - e).abs() < 1e-9);
            }
            prop_assert!(covariance.is_positive_definite());
        }

        /// Propagation in place against the full product `F P F' + Q`.
        #[test]
        fn propagation_is_the_full_product((mut mean, mut covariance) in states(), days in 0.0..100.0_f64) {
            let transition = Trend { slope_days: 21.0, level_noise: 1e-3, slope_noise: 1e-4 }.transition(days);
            let (level, slope) = (4, 1);
            let mut matrix = [[0.0; DIM]; DIM];
            for (i, row) in matrix.iter_mut().enumerate() {
                row[i] = if i == slope { transition.decay } else { 1.0 };
            }
            matrix[level][slope] = transition.gain;
            let before = (mean.clone(), covariance.clone());
            covariance.propagate(&mut mean, (level, slope), &transition);
            for i in 0..DIM {
                let moved: f64 = (0..DIM).map(|k| matrix[i][k] * before.0[k]).sum();
                prop_assert!((mean[i] - moved).abs() < 1e-12 * (1.0 + moved.abs()));
                for j in 0..DIM {
                    let mut expected: f64 = (0..DIM)
                        .map(|k| (0..DIM).map(|l| matrix[i][k] * before.1.get(k, l) * matrix[j][l]).sum::<f64>())
                        .sum();
                    expected += match (i, j) {
                        (4, 4) => transition.noise[0],
                        (4, 1) | (1, 4) => transition.noise[1],
                        (1, 1) => transition.noise[2],
                        _ => 0.0,
                    };
                    prop_assert!((covariance.get(i, j) - expected).abs() < 1e-12 * (1.0 + expected.abs()));
                }
            }
            prop_assert!(covariance.is_positive_definite());
        }

        /// An exact observation through [`observe_value`] and the same through `absorb` agree.
        #[test]
        fn a_value_is_absorbed_like_a_belief((mean, covariance) in states(), row in rows(), y in -2.0..2.0_f64) {
            let noise = 0.3;
            let (mut one, mut one_covariance) = (mean.clone(), covariance.clone());
            let mut along = [0.0; DIM];
            let log_density = observe_value(&mut one, &mut one_covariance, &row, (y, noise), &mut along);
            let before = Gaussian { mean: dot(&row, &mean), variance: dot(&row, &along) };
            let weight = before.variance / (before.variance + noise);
            let after = Gaussian {
                mean: before.mean + weight * (y - before.mean),
                variance: before.variance * (1.0 - weight),
            };
            let (mut two, mut two_covariance) = (mean, covariance);
            absorb(&mut two, &mut two_covariance, &along, (before, after));
            for i in 0..DIM {
                prop_assert!((one[i] - two[i]).abs() < 1e-12);
                for j in 0..=i {
                    prop_assert!((one_covariance.get(i, j) - two_covariance.get(i, j)).abs() < 1e-12);
                }
            }
            prop_assert!(log_density.is_finite());
        }
    }

    #[test]
    fn coordinates_come_and_are_renewed() {
        let mut covariance = Sym::diagonal(&[1.0, 2.0]);
        covariance.set(1, 0, 0.5);
        assert_eq!(covariance.append(3.0), 2);
        assert_eq!((covariance.dim(), covariance.get(2, 2), covariance.get(0, 2)), (3, 3.0, 0.0));
        assert_eq!((covariance.get(0, 1), covariance.get(1, 0)), (0.5, 0.5));
        covariance.renew(1, 7.0);
        assert_eq!((covariance.get(0, 1), covariance.get(1, 1), covariance.get(0, 0)), (0.0, 7.0, 1.0));
        assert_eq!(Sym::from_packed(vec![1.0; 4]), None);
    }
}
