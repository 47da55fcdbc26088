//! The table of stops, row by row (F-05), on one rung that asks for a strength, a balance and a line.

#[cfg(test)]
#[path = "fixtures/catalog.rs"]
mod catalog;

#[cfg(test)]
mod table {
    use super::catalog::{done, model, task};
    use nextrung_capacity::done::Done;
    use nextrung_capacity::evidence::{Either, Evidence, Standing, Verdict, observe_either, read};
    use nextrung_capacity::logistic::{self, Noise};
    use nextrung_capacity::params::Parameters;
    use nextrung_capacity::truncated::{Gaussian, Interval};
    use nextrung_domain::stop::Stop;

    const NOISE: Noise = Noise::Logistic { scale: 0.1 };
    const RUNG: &str = "press/free-press";
    const NEAR: f64 = 0.4;

    fn standings() -> [Standing; 3] {
        [(1.2, 0.04), (1.5, 0.09), (1.4, 0.16)]
            .map(|(mean, variance)| Standing { belief: Gaussian { mean, variance }, noise: NOISE })
    }

    fn verdict(rung: &str, set: &Done) -> Verdict {
        let parameters = Parameters::default();
        let task = task(&model(parameters.clone()), rung, &[]);
        read(&parameters, &task, set, &standings()[..task.demands().len()], NEAR)
    }

    fn at_least(units: f64) -> Evidence {
        Evidence::Within(Interval::at_least(libm::log(units)))
    }

    fn between(low: f64, high: f64) -> Evidence {
        Evidence::Within(Interval::between(libm::log(low), libm::log(high)))
    }

    #[test]
    fn said_causes_and_bounds_are_read_as_written() {
        let (broke, held, reached) = (between(3.0, 4.0), at_least(3.5), at_least(3.0));
        let rows = [
            (Stop::Target, [reached; 3], false),
            (Stop::Strength, [broke, held, held], false),
            (Stop::Balance, [held, broke, held], false),
            (Stop::Line, [held, held, broke], false),
            (Stop::Pain, [reached; 3], true),
            (Stop::Interrupted, [reached; 3], true),
            (Stop::Other, [reached; 3], true),
        ];
        for (stop, expected, flagged) in rows {
            let found = verdict(RUNG, &done(1, 3, stop));
            assert_eq!(found.by_demand[..3], expected, "{stop:?}");
            assert_eq!(found.flagged, flagged, "{stop:?}");
        }
    }

    #[test]
    fn a_first_unit_that_fails_is_below_one() {
        let found = verdict(RUNG, &done(1, 0, Stop::Line));
        let below_one = Evidence::Within(Interval::below(0.0));
        assert_eq!(found.by_demand[..3], [at_least(0.5), at_least(0.5), below_one]);
    }

    #[test]
    fn a_cause_the_rung_does_not_know_is_a_flagged_bound() {
        let found = verdict("press/wall-press", &done(1, 3, Stop::Balance));
        assert_eq!((found.by_demand[0], found.flagged), (at_least(3.0), true));
        let alone = verdict("press/wall-press", &done(1, 3, Stop::Failed));
        assert_eq!((alone.by_demand[0], alone.flagged), (between(3.0, 4.0), false));
    }

    /// Near the limit (window 2) with weight 0.4 / 2, far from it with 0.6 over the 5 places below the target.
    #[test]
    fn a_stop_by_choice_is_near_the_limit_or_a_bound() {
        let set = Done { target: Some(5), ..done(1, 3, Stop::Chosen) };
        let found = verdict(RUNG, &set);
        let near = (Interval::between(libm::log(3.0), libm::log(5.0)), libm::log(0.2));
        let far = (Interval::at_least(libm::log(3.0)), libm::log(0.12));
        let Evidence::Either(Either { first, second, shared: false }) = found.by_demand[0] else {
            panic!("{found:?}");
        };
        for (found, expected) in [(first, near), (second, far)] {
            assert_eq!(found.0, expected.0);
            assert!((found.1 - expected.1).abs() < 1e-15, "{found:?}");
        }
        assert_eq!(found.by_demand[1..3], [at_least(3.0); 2]);
    }

    /// With a reserve of 2 after 3: a claim of 5.5, off by (0.8 + 0.25 x 2) / 5.5.
    #[test]
    fn a_report_of_reserve_speaks_of_the_strength() {
        let set = Done { reserve: Some(2), ..done(1, 3, Stop::Target) };
        let found = verdict(RUNG, &set);
        let Evidence::Reported { ln_done, report } = found.by_demand[0] else { panic!("{found:?}") };
        assert!((ln_done - libm::log(3.0)).abs() < 1e-15);
        assert!((report.ln_units - libm::log(5.5)).abs() < 1e-15);
        assert!((report.variance - (1.3 / 5.5) * (1.3 / 5.5)).abs() < 1e-15, "{report:?}");
        assert_eq!(found.by_demand[1..3], [at_least(3.0); 2]);
    }

    /// The chance that an ability broke is that it broke and the others held, over the same for each; all three tell the
    /// same total. Chances from the outlook, which is another path than the one that shares the blame.
    #[test]
    fn blame_not_said_is_shared_by_the_chances() {
        let found = verdict(RUNG, &done(1, 3, Stop::Failed));
        let chance =
            |at: usize, interval| logistic::band_probability(standings()[at].belief, NOISE, interval);
        let broke: [f64; 3] =
            [0, 1, 2].map(|at| chance(at, Interval::between(libm::log(3.0), libm::log(4.0))));
        let held: [f64; 3] = [0, 1, 2].map(|at| chance(at, Interval::at_least(libm::log(3.5))));
        let alone = [0, 1, 2].map(|at| broke[at] * held[(at + 1) % 3] * held[(at + 2) % 3]);
        let total: f64 = alone.iter().sum();
        for (at, alone) in alone.into_iter().enumerate() {
            let Evidence::Either(either) = found.by_demand[at] else { panic!("{found:?}") };
            assert!(either.shared);
            let (update, share) = observe_either(standings()[at].belief, NOISE, &either);
            assert!((share - alone / total).abs() < 1e-12, "{at}: {share}");
            assert!((update.log_mass - libm::log(total)).abs() < 1e-12, "{at}: {update:?}");
        }
    }
}
