//! The linear steps and the trend dynamics on the flow of the Nile, against references in `golden/nile.py`.

#[cfg(test)]
#[path = "golden/read.rs"]
mod read;

#[cfg(test)]
mod nile {
    use super::read::{Worst, parsed, relative};
    use nextrung_capacity::dynamics::{Transition, Trend};
    use nextrung_capacity::linear::{Moments, Step, Sym, observe_value, smooth_step};
    use serde::Deserialize;

    const NOISE: f64 = 15_099.0;
    const LEVEL_NOISE: f64 = 1_469.1;
    const LIMIT: f64 = 1e-12;

    #[derive(Deserialize)]
    struct Series {
        log_likelihood: f64,
        filtered: Vec<(Vec<f64>, Vec<Vec<f64>>)>,
        smoothed: Vec<(Vec<f64>, Vec<Vec<f64>>)>,
    }

    #[derive(Deserialize)]
    struct Golden {
        level: Series,
        level_missing: Series,
        exact_diffuse: f64,
        trend: Series,
        trend_dense: f64,
    }

    fn golden() -> Golden {
        parsed(include_str!("golden/nile.json"))
    }

    fn flow() -> Vec<f64> {
        let flow: Vec<f64> = include_str!("golden/nile.csv")
            .lines()
            .filter(|line| !line.starts_with('#'))
            .skip(1)
            .map(|line| line.split_once(',').expect("two columns").1.parse().expect("a number"))
            .collect();
        assert_eq!(flow.len(), 100);
        flow
    }

    /// The pass of a filter: what came in and out of each observation, and the transition into the next.
    struct Pass {
        log_likelihood: f64,
        predicted: Vec<Moments>,
        filtered: Vec<Moments>,
        transitions: Vec<Transition>,
    }

    /// Level and slope, the level observed, gaps in between; a missing observation is `None`.
    fn filter(trend: Trend, start: ([f64; 2], [f64; 2]), flow: &[Option<f64>], gaps: &[f64]) -> Pass {
        let mut mean = start.0.to_vec();
        let mut covariance = Sym::diagonal(&start.1);
        let mut along = [0.0; 2];
        let mut pass = Pass {
            log_likelihood: 0.0,
            predicted: Vec::new(),
            filtered: Vec::new(),
            transitions: Vec::new(),
        };
        for (i, observed) in flow.iter().enumerate() {
            if i > 0 {
                let transition = trend.transition(gaps[i - 1]);
                covariance.propagate(&mut mean, (0, 1), &transition);
                pass.transitions.push(transition);
            }
            pass.predicted.push(Moments { mean: mean.clone(), covariance: covariance.clone() });
            if let Some(y) = *observed {
                pass.log_likelihood +=
                    observe_value(&mut mean, &mut covariance, &[(0, 1.0)], (y, NOISE), &mut along);
            }
            pass.filtered.push(Moments { mean: mean.clone(), covariance: covariance.clone() });
        }
        pass
    }

    fn smooth(pass: &Pass) -> Vec<Moments> {
        let last = pass.filtered.len() - 1;
        let mut smoothed = vec![pass.filtered[last].clone()];
        for i in (0..last).rev() {
            let Transition { gain, decay, .. } = pass.transitions[i];
            let step = Step {
                filtered: &pass.filtered[i],
                transition: &[1.0, gain, 0.0, decay],
                predicted: &pass.predicted[i + 1],
            };
            let next = smooth_step(step, &smoothed[smoothed.len() - 1]);
            smoothed.push(next);
        }
        smoothed.reverse();
        smoothed
    }

    /// The local level model is the trend with a slope that is known to be zero.
    fn local_level(flow: &[Option<f64>], start: (f64, f64)) -> Pass {
        let trend = Trend { slope_days: f64::INFINITY, level_noise: LEVEL_NOISE, slope_noise: 0.0 };
        filter(trend, ([start.0, 0.0], [start.1, 0.0]), flow, &vec![1.0; flow.len()])
    }

    fn assert_states(found: &[Moments], expected: &[(Vec<f64>, Vec<Vec<f64>>)]) {
        assert_eq!(found.len(), expected.len());
        let mut worst = Worst::default();
        for (at, (found, (mean, covariance))) in found.iter().zip(expected).enumerate() {
            let size = |i: usize| covariance[i][i].sqrt();
            for (i, row) in covariance.iter().enumerate() {
                worst.note((found.mean[i] - mean[i]).abs() / mean[i].abs().max(size(i)), (at, i));
                for (j, value) in row.iter().enumerate() {
                    let error = found.covariance.get(i, j) - value;
                    worst.note(error.abs() / (size(i) * size(j)), (at, i, j));
                }
            }
        }
        worst.within(LIMIT, "states");
    }

    fn assert_likelihood(found: f64, expected: f64) {
        assert!(relative(found, expected) < 1e-12, "{found} is not {expected}");
    }

    #[test]
    fn local_level_with_a_proper_prior() {
        let golden = golden().level;
        let flow: Vec<_> = flow().into_iter().map(Some).collect();
        let pass = local_level(&flow, (1000.0, 1e6));
        assert_likelihood(pass.log_likelihood, -640.380_540_820_731_3);
        assert_likelihood(pass.log_likelihood, golden.log_likelihood);
        assert_states(&pass.filtered, &golden.filtered);
        assert_states(&smooth(&pass), &golden.smoothed);
    }

    #[test]
    fn local_level_with_missing_blocks() {
        let golden = golden().level_missing;
        let mut flow: Vec<_> = flow().into_iter().map(Some).collect();
        flow[20..40].fill(None);
        flow[60..80].fill(None);
        let pass = local_level(&flow, (1000.0, 1e6));
        assert_likelihood(pass.log_likelihood, -388.421_939_919_917_75);
        assert_likelihood(pass.log_likelihood, golden.log_likelihood);
        assert_states(&pass.filtered, &golden.filtered);
        assert_states(&smooth(&pass), &golden.smoothed);
    }

    /// With nothing known before, the first observation is the prior and contributes `-ln(2 pi) / 2` by convention.
    #[test]
    fn local_level_with_a_diffuse_start() {
        let flow = flow();
        let rest: Vec<_> = flow[1..].iter().copied().map(Some).collect();
        let pass = local_level(&rest, (flow[0], NOISE + LEVEL_NOISE));
        let found = pass.log_likelihood - 0.5 * libm::log(2.0 * std::f64::consts::PI);
        assert_likelihood(found, golden().exact_diffuse);
        assert_likelihood(found, -633.464_563_648_878_7);
    }

    /// Published steady state of the model with these variances.
    #[test]
    fn variances_settle() {
        let flow: Vec<_> = flow().into_iter().map(Some).collect();
        let pass = local_level(&flow, (1000.0, 1e6));
        let filtered = pass.filtered[99].covariance.get(0, 0);
        let smoothed = smooth(&pass)[49].covariance.get(0, 0);
        assert!(relative(filtered, 4_032.157_941_808_477) < LIMIT, "{filtered}");
        assert!(relative(smoothed, 2_326.756_869_814_193) < LIMIT, "{smoothed}");
        // Steady state in closed form: P^2 + P q - q R = 0 for the filtered variance P.
        let (q, r) = (LEVEL_NOISE, NOISE);
        let exact = 0.5 * ((q * q + 4.0 * q * r).sqrt() - q);
        assert!(relative(filtered, exact) < LIMIT, "{filtered} is not {exact}");
    }

    /// Forty observations at gaps of half a day to three days, an undamped slope.
    #[test]
    fn trend_at_irregular_gaps() {
        let golden = golden();
        let flow: Vec<_> = flow()[..40].iter().copied().map(Some).collect();
        let gaps: Vec<f64> = [0.5, 2.0, 1.0, 3.0, 0.25].into_iter().cycle().take(39).collect();
        let trend = Trend { slope_days: f64::INFINITY, level_noise: LEVEL_NOISE, slope_noise: 5.0 };
        let pass = filter(trend, ([1000.0, 0.0], [1e6, 100.0]), &flow, &gaps);
        assert_likelihood(pass.log_likelihood, -261.920_481_742_434_5);
        assert_likelihood(pass.log_likelihood, golden.trend_dense);
        assert_likelihood(pass.log_likelihood, golden.trend.log_likelihood);
        assert_states(&pass.filtered, &golden.trend.filtered);
        assert_states(&smooth(&pass), &golden.trend.smoothed);

        let last = &pass.filtered[39];
        assert!((last.mean[0] - 930.138_381_334_615_8).abs() < 1e-9, "{:?}", last.mean);
        assert!((last.mean[1] + 2.102_058_380_496_459_7).abs() < 1e-11, "{:?}", last.mean);
    }

    /// Splitting every gap changes nothing.
    #[test]
    fn a_gap_in_two_parts_is_the_same_gap() {
        let flow = flow();
        let trend = Trend { slope_days: 9.0, level_noise: LEVEL_NOISE, slope_noise: 5.0 };
        let start = ([1000.0, 0.0], [1e6, 100.0]);
        let whole: Vec<_> = flow[..20].iter().copied().map(Some).collect();
        let split: Vec<_> = whole.iter().flat_map(|y| [*y, None]).take(39).collect();
        let sevens = filter(trend, start, &whole, &[7.0; 19]);
        let parts: Vec<f64> = [3.0, 4.0].into_iter().cycle().take(38).collect();
        let threes_and_fours = filter(trend, start, &split, &parts);
        assert_likelihood(threes_and_fours.log_likelihood, sevens.log_likelihood);
        let (one, two) = (&sevens.filtered[19], &threes_and_fours.filtered[38]);
        for i in 0..2 {
            assert!((one.mean[i] - two.mean[i]).abs() <= 1e-12 * one.mean[i].abs(), "{one:?} {two:?}");
        }
    }
}
