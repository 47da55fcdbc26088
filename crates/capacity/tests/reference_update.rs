//! One observation against quadrature, and several in a row against published-style references.

#[cfg(test)]
#[path = "golden/read.rs"]
mod read;

#[cfg(test)]
mod update {
    use super::read::{Worst, parsed, relative};
    use nextrung_capacity::logistic::{self, Noise, Outlook, Pair, Report};
    use nextrung_capacity::truncated::{self, Gaussian, Interval, Update};
    use serde::Deserialize;

    fn ln_units(units: u32) -> f64 {
        if units == 0 { f64::NEG_INFINITY } else { libm::log(f64::from(units)) }
    }

    fn counted(done: u32, upper: Option<u32>) -> Interval {
        Interval { lower: ln_units(done), upper: upper.map_or(f64::INFINITY, ln_units) }
    }

    #[derive(Deserialize, Debug)]
    struct UpdateRow {
        noise: String,
        m: f64,
        v: f64,
        s: f64,
        k: u32,
        upper: Option<u32>,
        log_mass: f64,
        mean: f64,
        variance: f64,
    }

    /// `golden/update.json`: quadrature of the definition at 40 digits.
    fn update_rows(noise: &str) -> Vec<(UpdateRow, Gaussian, Interval)> {
        let rows: Vec<UpdateRow> = parsed(include_str!("golden/update.json"));
        let rows: Vec<_> = rows
            .into_iter()
            .filter(|row| row.noise == noise)
            .map(|row| {
                let prior = Gaussian { mean: row.m, variance: row.v };
                let interval = counted(row.k, row.upper);
                (row, prior, interval)
            })
            .collect();
        assert_eq!(rows.len(), 7);
        rows
    }

    #[test]
    fn normal_noise_agrees_with_quadrature() {
        let mut worst = Worst::default();
        for (row, prior, interval) in update_rows("normal") {
            let found = logistic::observe(prior, Noise::Normal { sd: row.s }, interval);
            worst.note(relative(found.log_mass, row.log_mass), &row);
            worst.note(relative(found.posterior.mean, row.mean), &row);
            worst.note(relative(found.posterior.variance, row.variance), &row);
        }
        worst.within(2e-14, "relative error");
    }

    #[test]
    fn logistic_noise_agrees_with_quadrature() {
        let (mut mass, mut mean, mut sd) = (Worst::default(), Worst::default(), Worst::default());
        for (row, prior, interval) in update_rows("logistic") {
            let found = logistic::observe(prior, Noise::Logistic { scale: row.s }, interval);
            mass.note((found.log_mass - row.log_mass).abs(), &row);
            mean.note((found.posterior.mean - row.mean).abs() / row.variance.sqrt(), &row);
            sd.note(((found.posterior.variance / row.variance).sqrt() - 1.0).abs(), &row);
        }
        mass.within(1.7e-8, "log mass");
        mean.within(3e-7, "mean, posterior sds");
        sd.within(3e-7, "ratio of sds");
    }

    #[test]
    fn mixture_follows_the_logistic_distribution() {
        let sure = Outlook::new(Gaussian { mean: 0.0, variance: 0.0 }, Noise::Logistic { scale: 1.0 });
        let mut worst = 0.0_f64;
        for step in 0..=60_000_u32 {
            let x = f64::from(step) / 2000.0;
            let exact = 1.0 / (1.0 + libm::exp(x));
            worst = worst.max((sure.survival(x) - exact).abs()).max((sure.shortfall(-x) - exact).abs());
        }
        // The reference sums distribution functions near one, good to a few units in the last place.
        assert!((worst - 2.108_562_4e-9).abs() < 3e-15, "{worst:e}");
    }

    #[derive(Deserialize, Debug)]
    struct TruncatedRow {
        m: f64,
        v: f64,
        s2: f64,
        lower: Option<f64>,
        upper: Option<f64>,
        log_mass: f64,
        mean: f64,
        variance: f64,
    }

    /// `golden/truncated.json`: the closed form at 120 digits, out to 1000 standard deviations.
    #[test]
    fn extreme_slices_keep_their_precision() {
        let rows: Vec<TruncatedRow> = parsed(include_str!("golden/truncated.json"));
        assert_eq!(rows.len(), 1360);
        let (mut mass, mut mean, mut variance) = (Worst::default(), Worst::default(), Worst::default());
        for row in rows {
            let prior = Gaussian { mean: row.m, variance: row.v };
            let interval = Interval {
                lower: row.lower.unwrap_or(f64::NEG_INFINITY),
                upper: row.upper.unwrap_or(f64::INFINITY),
            };
            let found = truncated::observe(prior, row.s2, interval);
            let sd = row.variance.sqrt();
            mass.note((found.log_mass - row.log_mass).abs() / row.log_mass.abs().max(1.0), &row);
            mean.note((found.posterior.mean - row.mean).abs() / sd.max(row.mean.abs()), &row);
            variance.note(relative(found.posterior.variance, row.variance), &row);
        }
        mass.within(1e-10, "log mass");
        mean.within(1e-12, "mean");
        variance.within(1e-10, "variance");
    }

    #[derive(Deserialize, Debug)]
    struct ReportRow {
        mean: [f64; 2],
        covariance: [f64; 3],
        s: f64,
        done: u32,
        claimed: f64,
        variance: f64,
        noise: String,
        log_mass: f64,
        new_mean: [f64; 2],
        new_covariance: [f64; 3],
    }

    /// `golden/report.json`: a plain grid over (ability, capacity of the set).
    #[test]
    fn reports_agree_with_a_grid() {
        let rows: Vec<ReportRow> = parsed(include_str!("golden/report.json"));
        assert_eq!(rows.len(), 12);
        let (mut normal, mut mixture) = (Worst::default(), Worst::default());
        for row in rows {
            let (noise, worst) = match row.noise.as_str() {
                "normal" => (Noise::Normal { sd: row.s }, &mut normal),
                _ => (Noise::Logistic { scale: row.s }, &mut mixture),
            };
            let prior = Pair { mean: row.mean, covariance: row.covariance };
            let report = Report { ln_units: libm::log(row.claimed), variance: row.variance };
            let found = logistic::observe_report(&prior, noise, ln_units(row.done), report);
            let [sd, bias_sd] = [row.new_covariance[0].sqrt(), row.new_covariance[2].sqrt()];
            let scales = [sd * sd, sd * bias_sd, bias_sd * bias_sd];
            worst.note((found.log_mass - row.log_mass).abs(), &row);
            worst.note((found.posterior.mean[0] - row.new_mean[0]).abs() / sd, &row);
            worst.note((found.posterior.mean[1] - row.new_mean[1]).abs() / bias_sd, &row);
            for (k, scale) in scales.into_iter().enumerate() {
                let error = found.posterior.covariance[k] - row.new_covariance[k];
                worst.note(error.abs() / scale, &row);
            }
        }
        normal.within(1e-11, "normal noise");
        mixture.within(1e-7, "logistic noise");
    }

    const SCALE: f64 = 0.28;
    const PRIOR: Gaussian = Gaussian { mean: 1.8, variance: 0.36 };

    /// Eight invented sets on three rungs: (rung, units done, upper end if the set failed).
    const SETS: [(usize, u32, Option<u32>); 8] = [
        (0, 5, None),
        (1, 4, Some(5)),
        (2, 2, Some(3)),
        (1, 5, None),
        (2, 3, Some(4)),
        (0, 6, None),
        (2, 1, Some(2)),
        (1, 3, None),
    ];

    fn seen(prior: Gaussian, noise: Noise, (rung, done, upper): (usize, u32, Option<u32>)) -> Update {
        let difficulty = [0.0, 0.35, 0.7][rung];
        let Interval { lower, upper } = counted(done, upper);
        logistic::observe(prior, noise, Interval::between(lower + difficulty, upper + difficulty))
    }

    fn one_pass(sets: impl Iterator<Item = (usize, u32, Option<u32>)>) -> [f64; 3] {
        let start = (0.0, PRIOR);
        let (log_mass, last) = sets.fold(start, |(log_mass, belief), set| {
            let update = seen(belief, Noise::Normal { sd: SCALE }, set);
            (log_mass + update.log_mass, update.posterior)
        });
        [log_mass, last.mean, last.variance.sqrt()]
    }

    fn assert_close(found: [f64; 3], expected: [f64; 3], limit: f64) {
        let mut worst = Worst::default();
        for (f, e) in found.into_iter().zip(expected) {
            worst.note(relative(f, e), (f, e));
        }
        worst.within(limit, "log mass, mean, sd");
    }

    /// Independent numpy implementation of the same recursion (double precision).
    #[test]
    fn one_pass_over_eight_sets() {
        assert_close(
            one_pass(SETS.into_iter()),
            [-9.790_091_741_292_247, 1.841_345_023_268_517_6, 0.120_969_712_595_548_06],
            1e-12,
        );
        assert_close(
            one_pass(SETS.into_iter().rev()),
            [-9.723_114_805_688_283, 1.850_830_082_298_98, 0.118_905_184_851_588_84],
            1e-12,
        );
    }

    /// Natural parameters of a normal: precision and precision times mean.
    #[derive(Clone, Copy, Default)]
    struct Site {
        precision: f64,
        pull: f64,
    }

    impl Site {
        fn of(belief: Gaussian) -> Self {
            Self { precision: 1.0 / belief.variance, pull: belief.mean / belief.variance }
        }

        fn without(self, other: Self) -> Self {
            Self { precision: self.precision - other.precision, pull: self.pull - other.pull }
        }

        fn belief(self) -> Gaussian {
            Gaussian { mean: self.pull / self.precision, variance: 1.0 / self.precision }
        }

        /// Log of the integral of `exp(pull x - precision x^2 / 2)`, up to a constant.
        fn log_volume(self) -> f64 {
            0.5 * (self.pull * self.pull / self.precision - libm::log(self.precision))
        }
    }

    /// Expectation propagation to its fixed point: log evidence, mean, standard deviation.
    fn fixed_point(noise: Noise) -> [f64; 3] {
        let mut sites = [Site::default(); 8];
        let mut whole = Site::of(PRIOR);
        for _sweep in 0..300 {
            for (site, set) in sites.iter_mut().zip(SETS) {
                let cavity = whole.without(*site);
                whole = Site::of(seen(cavity.belief(), noise, set).posterior);
                *site = whole.without(cavity);
            }
        }
        let evidence: f64 = sites
            .iter()
            .zip(SETS)
            .map(|(site, set)| {
                let cavity = whole.without(*site);
                seen(cavity.belief(), noise, set).log_mass + cavity.log_volume() - whole.log_volume()
            })
            .sum();
        let belief = whole.belief();
        [evidence + whole.log_volume() - Site::of(PRIOR).log_volume(), belief.mean, belief.variance.sqrt()]
    }

    /// Independent numpy implementation (double precision).
    #[test]
    fn fixed_point_of_eight_sets_with_normal_noise() {
        assert_close(
            fixed_point(Noise::Normal { sd: SCALE }),
            [-9.631_154_738_014_814, 1.837_722_264_898_971, 0.116_525_942_406_714_32],
            1e-11,
        );
    }

    /// The exact posteriors by quadrature at 40 digits: the approximation stays within a small part of a deviation.
    #[test]
    fn fixed_points_are_near_the_exact_posteriors() {
        let cases = [
            (
                Noise::Normal { sd: SCALE },
                [-9.630_942_542_523_23, 1.837_730_760_738_150_2, 0.116_599_343_233_356],
            ),
            (
                Noise::Logistic { scale: SCALE },
                [-9.416_546_829_301_725, 1.910_149_083_126_171_9, 0.183_910_121_867_501_45],
            ),
        ];
        for (noise, [log_mass, mean, sd]) in cases {
            let found = fixed_point(noise);
            assert!((found[0] - log_mass).abs() < 2e-3, "{found:?}");
            assert!((found[1] - mean).abs() < 5e-3 * sd, "{found:?}");
            assert!((found[2] / sd - 1.0).abs() < 5e-3, "{found:?}");
        }
    }

    /// Normal distribution functions from scipy 1.17.1: chances of 0, 1-2, 3-5 and at least 6 units.
    #[test]
    fn choice_probabilities() {
        let cases = [
            (
                1.4452,
                0.01,
                [
                    5.847_577_136_952_609e-7,
                    0.121_867_169_803_215_32,
                    0.756_245_280_639_025_2,
                    0.121_886_964_800_045_74,
                ],
            ),
            (
                1.6,
                0.25,
                [
                    0.002_619_011_982_652_575,
                    0.188_187_641_290_009_87,
                    0.440_238_442_339_037_4,
                    0.368_954_904_388_300_14,
                ],
            ),
            (
                0.55,
                0.04,
                [
                    0.054_976_432_656_739_46,
                    0.889_597_206_164_848,
                    0.055_272_547_020_344_88,
                    0.000_153_814_158_067_556,
                ],
            ),
            (
                0.0,
                0.04,
                [0.5, 0.499_295_441_663_547_33, 0.000_704_462_478_252_513_3, 9.585_820_014_777_62e-8],
            ),
        ];
        let mut worst = Worst::default();
        for (mean, variance, expected) in cases {
            let outlook = Outlook::new(Gaussian { mean, variance }, Noise::Normal { sd: SCALE });
            let found = [
                outlook.shortfall(0.0),
                outlook.band(counted(1, Some(3))),
                outlook.band(counted(3, Some(6))),
                outlook.survival(ln_units(6)),
            ];
            for (f, e) in found.into_iter().zip(expected) {
                // The reference is itself a difference of distribution functions near one.
                worst.note((f - e).abs() / e.max(1e-4), (mean, variance, f, e));
            }
        }
        worst.within(1e-12, "probability");
    }
}
