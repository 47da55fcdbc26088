//! What the end of a set does to the belief (F-05), over drawn and invented logs on the fixture catalog.

#[cfg(test)]
#[path = "fixtures/catalog.rs"]
mod catalog;

#[cfg(test)]
#[path = "fixtures/drawn.rs"]
mod drawn;

#[cfg(test)]
#[path = "fixtures/logs.rs"]
mod logs;

#[cfg(test)]
mod stops {
    use super::catalog::{done, model, task};
    use super::drawn::{RUNGS, config, fold, raw_log, read};
    use super::logs::{Habit, log};
    use nextrung_capacity::done::Done;
    use nextrung_capacity::evidence::{self, Evidence, Standing};
    use nextrung_capacity::filter::Scratch;
    use nextrung_capacity::load::ln_threshold;
    use nextrung_capacity::logistic::{self, Pair};
    use nextrung_capacity::model::Model;
    use nextrung_capacity::params::Parameters;
    use nextrung_capacity::state::AthleteState;
    use nextrung_capacity::task::Task;
    use nextrung_capacity::truncated::Gaussian;
    use nextrung_domain::ability::AbilityKind;
    use nextrung_domain::stop::Stop;
    use proptest::prelude::*;

    const BOUNDS: [Stop; 4] = [Stop::Target, Stop::Pain, Stop::Interrupted, Stop::Other];

    fn last_day(state: &AthleteState) -> i32 {
        state.blocks.iter().map(|b| b.day).max().unwrap_or(0)
    }

    fn after(model: &Model, state: &AthleteState, (task, done): (&Task, Done)) -> AthleteState {
        let mut state = state.clone();
        state.observe(model, &mut Scratch::default(), (task, &done));
        state
    }

    /// Beliefs about a task's predictors at the start of a new session of `day`.
    fn beliefs(model: &Model, state: &AthleteState, (task, day): (&Task, i32)) -> Vec<Gaussian> {
        state.on(&model.parameters, day).outlook(model, task).demands().map(|d| d.belief).collect()
    }

    proptest! {
        #![proptest_config(config(200))]

        #[test]
        fn a_bound_never_lowers_a_belief(raw in raw_log(0..60), units in 0..30_u16, gap in 0..60_i32) {
            let model = model(Parameters::default());
            let state = fold(&model, &read(&model, &raw));
            let day = last_day(&state) + gap;
            for task in RUNGS.map(|rung| task(&model, rung, &["slow"])) {
                let before = beliefs(&model, &state, (&task, day));
                for stop in BOUNDS {
                    let state = after(&model, &state, (&task, done(day, units, stop)));
                    for (now, before) in beliefs(&model, &state, (&task, day)).iter().zip(&before) {
                        prop_assert!(now.mean >= before.mean - 1e-12, "{stop:?}: {before:?} {now:?}");
                    }
                }
            }
        }

        /// Neither now nor later: time off goes on, no work is carried, and a report with nothing done is not heard.
        #[test]
        fn nothing_done_and_nothing_tried_changes_nothing(raw in raw_log(0..60), gap in 0..60_i32, later in 0..60_i32) {
            let model = model(Parameters::default());
            let state = fold(&model, &read(&model, &raw));
            let day = last_day(&state) + gap;
            for task in RUNGS.map(|rung| task(&model, rung, &[])) {
                for stop in BOUNDS.into_iter().chain([Stop::Chosen]) {
                    let none = Done { reserve: Some(3), target: Some(5), ..done(day, 0, stop) };
                    let same = after(&model, &state, (&task, none));
                    prop_assert_eq!(same.chosen_counts, state.chosen_counts);
                    for demand in task.demands().iter().filter(|d| state.block(d.ability).is_some()) {
                        let (was, is) = (state.block(demand.ability).unwrap(), same.block(demand.ability).unwrap());
                        prop_assert!(is.work <= was.work && is.last_work == was.last_work);
                    }
                    let (was, is) = (beliefs(&model, &state, (&task, day + later)), beliefs(&model, &same, (&task, day + later)));
                    for ((was, is), demand) in was.iter().zip(&is).zip(task.demands()) {
                        if state.block(demand.ability).is_some() {
                            prop_assert!((was.mean - is.mean).abs() < 1e-10, "{stop:?}: {was:?} {is:?}");
                            prop_assert!((was.variance - is.variance).abs() < 1e-10, "{stop:?}: {was:?} {is:?}");
                        }
                    }
                }
            }
        }

        /// Between having failed of it for sure and having failed of something else for sure.
        #[test]
        fn blame_not_said_lies_between_the_extremes(raw in raw_log(0..60), units in 0..20_u16) {
            let model = model(Parameters::default());
            let state = fold(&model, &read(&model, &raw));
            let day = last_day(&state) + 1;
            for rung in ["pull/archer", "press/free-press"] {
                let task = task(&model, rung, &[]);
                let mean = |stop: Stop, at: usize| {
                    beliefs(&model, &after(&model, &state, (&task, done(day, units, stop))), (&task, day))[at].mean
                };
                for (at, demand) in task.demands().iter().enumerate() {
                    let own = cause(demand.kind);
                    let other = task.demands().iter().map(|d| cause(d.kind)).find(|stop| *stop != own).unwrap();
                    let (broke, held, unsaid) = (mean(own, at), mean(other, at), mean(Stop::Failed, at));
                    prop_assert!(broke - 1e-9 <= unsaid && unsaid <= held + 1e-9, "{broke} {unsaid} {held}");
                }
            }
        }
    }

    fn cause(kind: AbilityKind) -> Stop {
        match kind {
            AbilityKind::Strength => Stop::Strength,
            AbilityKind::Balance => Stop::Balance,
            AbilityKind::Line => Stop::Line,
        }
    }

    /// Largest fall of ln of the median expected next day on a rung, when one set has one unit more and all else is
    /// equal.
    fn largest_fall(model: &Model, rung: &str, set: Done) -> f64 {
        let habit = Habit {
            rungs: &[
                ("pull/pull-up", &[]),
                ("pull/archer", &[]),
                ("press/free-press", &[]),
                ("pull/over-the-bar", &[]),
            ],
            sessions: 20,
            sets: 5,
            rise: 0.003,
        };
        let task = task(model, rung, &[]);
        let mut fall = 0.0_f64;
        for seed in 0..5 {
            let sets = log(model, &habit, seed);
            for known in [0, 5, 20, 100] {
                let state = fold(model, &sets[..known]);
                let median = |units: u16| {
                    let state = after(model, &state, (&task, Done { units, ..set }));
                    libm::log(state.on(&model.parameters, set.day + 1).outlook(model, &task).quantile(0.5))
                };
                let medians: Vec<f64> = (set.units..14).map(median).collect();
                fall = medians.windows(2).map(|pair| pair[0] - pair[1]).fold(fall, f64::max);
            }
        }
        fall
    }

    const COUNTED: [&str; 4] = ["pull/pull-up", "pull/archer", "pull/over-the-bar", "press/free-press"];

    /// To 2e-5 ln units, for past some twenty noise scales the mixture falls away faster than the logistic.
    #[test]
    fn more_units_never_lower_the_median_when_the_end_is_said() {
        let model = model(Parameters::default());
        for rung in COUNTED {
            for stop in BOUNDS.into_iter().chain([Stop::Strength, Stop::Balance, Stop::Line]) {
                let fall = largest_fall(&model, rung, done(90, 0, stop));
                assert!(fall < 2e-5, "{rung} {stop:?}: {fall}");
            }
        }
    }

    /// An end that may be one of two things need not be told in the order of the counts: far below what is expected,
    /// a stop by choice was surely far from the limit and a failure surely that of the noisier ability, and either
    /// says little; nearer to it, it may well have been the limit. Reports are heard the more exactly the more units
    /// they claim, with the same effect. The falls stay small; those seen stand beside the bounds.
    #[test]
    fn more_units_lower_the_median_little_when_the_end_is_in_doubt() {
        let model = model(Parameters::default());
        for rung in COUNTED {
            let chosen = largest_fall(&model, rung, done(90, 1, Stop::Chosen));
            let aimed = largest_fall(&model, rung, Done { target: Some(12), ..done(90, 1, Stop::Chosen) });
            let failed = largest_fall(&model, rung, done(90, 0, Stop::Failed));
            assert!(chosen < 0.15 && aimed < 0.15, "{rung}, 0.11 and 0.12 seen: {chosen} {aimed}");
            assert!(failed < 0.1, "{rung}, 0.08 seen: {failed}");
            for reserve in [0, 2, 5] {
                let told =
                    largest_fall(&model, rung, Done { reserve: Some(reserve), ..done(90, 1, Stop::Chosen) });
                assert!(told < 0.06, "{rung} {reserve}, 0.05 seen: {told}");
            }
        }
    }

    /// The belief about the rung after each of two sets of the same end, at a given share for repeated bounds.
    fn twice(share: f64, stop: Stop) -> [Gaussian; 2] {
        let model = model(Parameters { repeated_bound: share, ..Parameters::default() });
        let mut state = AthleteState::new(&model.parameters);
        let task = task(&model, "pull/pull-up", &[]);
        [(); 2].map(|()| {
            state = after(&model, &state, (&task, done(100, 5, stop)));
            state
                .block(task.demands()[0].ability)
                .unwrap()
                .belief(model.parameters.of(AbilityKind::Strength), &task.demands()[0])
        })
    }

    /// Pull-ups with this part of the usual mass.
    fn helped(model: &Model, ratio: f64) -> Task {
        let mut task = task(model, "pull/pull-up", &[]);
        task.mass_ratio = ratio;
        task
    }

    /// With kilograms taken off, what was done stands for fewer units without, and at last for none, where the logarithm has no
    /// bound. A failure there used to be read as next to no strength at all, or not to be read, by half a kilogram more or less.
    #[test]
    fn repro_a_failure_with_help_near_no_units_took_all_strength_away() {
        let model = model(Parameters::default());
        let mean = |ratio: f64, units: u16| {
            let task = helped(&model, ratio);
            let state = after(
                &model,
                &AthleteState::new(&model.parameters),
                (&task, done(100, units, Stop::Strength)),
            );
            state.blocks[0].belief(model.parameters.of(AbilityKind::Strength), &task.demands()[0]).mean
        };
        let none = mean(1.0, 0);
        for percent in 50..=100 {
            let ratio = f64::from(percent) / 100.0;
            let means: Vec<f64> = (0..=20).map(|units| mean(ratio, units)).collect();
            assert!(means.is_sorted(), "more units, and no less strength: {ratio} {means:?}");
            // Less than half a unit, where without help it would be less than one.
            assert!(means[0] > none - 1.0, "{ratio} {means:?} {none}");
        }
    }

    #[test]
    fn a_repeated_bound_narrows_less_than_the_first() {
        let ([first, second], [same, whole]) = (twice(0.7, Stop::Target), twice(1.0, Stop::Target));
        assert_eq!(first, same, "the first set of a rung is exact");
        assert!((second.mean - whole.mean).abs() < 1e-12, "{second:?} {whole:?}");
        let (narrowed, exact) = (first.variance - second.variance, first.variance - whole.variance);
        assert!(exact > 1e-3 && (narrowed / exact - 0.7).abs() < 1e-9, "{narrowed} of {exact}");
        assert_eq!(twice(0.7, Stop::Strength), twice(1.0, Stop::Strength), "a failure is no bound");
    }

    /// A few foot-supported pull-ups say nothing of whoever does many pull-ups, so the next set on that rung is heard as the
    /// first. What they left of rounding used to decide, at some levels one way, at others the other.
    #[test]
    fn repro_an_easy_set_that_told_nothing_cost_the_next_one_a_third() {
        let mut parameters = Parameters::default();
        parameters.kinds.iter_mut().for_each(|kind| kind.fatigue = 0.0);
        let model = model(parameters);
        let (strong, easy) = (task(&model, "pull/pull-up", &[]), task(&model, "pull/foot-supported", &[]));
        let variance = |state: &AthleteState| {
            let p = model.parameters.of(AbilityKind::Strength);
            state.blocks[0].belief(p, &easy.demands()[0]).variance
        };
        for units in 5..=60 {
            let state = AthleteState::new(&model.parameters);
            let state = after(&model, &state, (&strong, done(100, units, Stop::Strength)));
            let bound = (&easy, done(100, 5 * units, Stop::Target));
            let alone = after(&model, &state, bound);
            let (alone, before) = (variance(&alone), variance(&state));
            assert!(alone < 0.99 * before, "{units}: it tells something");
            // Nor does any other easy set before it cost what it did not tell.
            for warm in 1..=2 * units {
                let easy_set = after(&model, &state, (&easy, done(100, warm, Stop::Target)));
                let behind = variance(&after(&model, &easy_set, bound));
                assert!(behind < 1.02 * alone, "{units}, {warm} before: {behind}, {alone} without");
            }
        }
    }

    /// On what is no great surprise (within two standard deviations of what is expected): a surprising failure is
    /// read as a bad set and narrows nothing, so that no report could narrow less.
    #[test]
    fn a_report_never_tells_more_than_a_failure_at_the_count_it_claims() {
        let mut compared = 0;
        for (error, growth) in [(0.8, 0.25), (0.3, 0.1), (0.0, 0.0)] {
            let mut parameters = Parameters::default();
            (parameters.reserve.error, parameters.reserve.growth) = (error, growth);
            let model = model(parameters);
            for ratio in [1.0, 0.93, 1.2] {
                let pull_up = helped(&model, ratio);
                for (units, reserve) in
                    [(1, 0), (1, 3), (2, 2), (3, 0), (3, 1), (5, 3), (8, 0), (12, 2), (20, 1)]
                {
                    for mean in [0.0, 0.7, 1.1, 1.6, 2.0, 2.5, 3.0] {
                        for sd in [0.03, 0.05, 0.1, 0.2, 0.4, 0.9] {
                            let belief = Gaussian { mean, variance: sd * sd };
                            let said = Done { reserve: Some(reserve), ..done(1, units, Stop::Interrupted) };
                            let failed = done(1, units + u16::from(reserve), Stop::Strength);
                            let claimed = ln_threshold(f64::from(failed.units) + 0.5, ratio);
                            let is_unbounded = ln_threshold(f64::from(failed.units), ratio).is_infinite();
                            if (claimed - mean).abs() > 2.0 * sd || is_unbounded {
                                continue;
                            }
                            let left = |done: Done| variance_after(&model, (&pull_up, &done), belief);
                            let (told, seen) = (left(said), left(failed));
                            assert!(told >= seen, "{units}+{reserve} at {mean}, {sd}: {told} {seen}");
                            compared += 1;
                        }
                    }
                }
            }
        }
        assert!(compared > 800, "{compared}");
    }

    /// Variance of the predictor after one set, for an athlete not heard before.
    fn variance_after(model: &Model, (task, done): (&Task, &Done), belief: Gaussian) -> f64 {
        let p = &model.parameters;
        let noise = p.of(AbilityKind::Strength).noise();
        let verdict = evidence::read(p, task, done, &[Standing { belief, noise }], 0.5);
        match verdict.by_demand[0] {
            Evidence::Within(interval) => logistic::observe(belief, noise, interval).posterior.variance,
            Evidence::Reported { ln_done, report } => {
                let mean = [belief.mean, p.reserve.bias_mean];
                let covariance = [belief.variance, 0.0, p.reserve.bias_sd * p.reserve.bias_sd];
                logistic::observe_report(&Pair { mean, covariance }, noise, ln_done, report)
                    .posterior
                    .covariance[0]
            }
            Evidence::Nothing | Evidence::Either(_) => panic!("one interval or a report was asked for"),
        }
    }
}
