//! Limits: too little to fit, what cannot be fitted, and what a model says of any set.

use nextrung_domain::measure::Unit;
use nextrung_domain::stop::Stop;
use nextrung_replay::hazard::HazardError;
use nextrung_replay::hazard::features::{Before, COLUMNS, Features, SET_COLUMNS};
use nextrung_replay::hazard::logit;
use nextrung_replay::hazard::model::{HazardModel, fit};
use nextrung_replay::hazard::sample::{RowSample, SetName};
use proptest::prelude::*;

use crate::scene::{Heard, heard, sample};

fn only(stop: Stop) -> RowSample {
    let sets: Vec<Heard> = heard(9, 5).into_iter().filter(|set| set.stop == stop).collect();
    sample(&sets, 10_000)
}

#[test]
fn an_empty_sample_has_no_rows() {
    let empty = RowSample::new(10);
    assert!(matches!(fit(&empty, 1.0), Err(HazardError::NoRows)));
    let half = HazardModel::pooled(&empty).survival(&heard(1, 1)[0].features, 2);
    assert!((half[0] - 0.5).abs() < 1e-15 && (half[1] - 0.25).abs() < 1e-15, "{half:?}");
}

#[test]
fn no_failure_is_told_apart_from_a_small_chance() {
    let passed = only(Stop::Target);
    let rows = passed.kept().rows;
    assert!(rows > 50, "{rows}");
    let said = fit(&passed, 1.0);
    assert!(matches!(said, Err(HazardError::OneSided { failures: 0, .. })), "{said:?}");
    let set = heard(3, 5).into_iter().find(|set| set.features.unit == Unit::Reps).expect("a set of reps");
    let first = HazardModel::pooled(&passed).survival(&set.features, 1)[0];
    let rows = f64::from(u32::try_from(rows).expect("few rows"));
    assert!((first - (rows + 0.5) / (rows + 1.0)).abs() < 1e-12, "{first}");
}

#[test]
fn nothing_but_failures_is_refused() {
    let mut failures = RowSample::new(1000);
    for set in heard(3, 5) {
        let name = SetName { athlete: &set.athlete, set: &set.set, block: 0 };
        failures.add(&name, set.features, (0, Stop::Failed)).expect("finite features");
    }
    let said = fit(&failures, 1.0);
    assert!(matches!(said, Err(HazardError::OneSided { failures: 120, rows: 120 })), "{said:?}");
}

#[test]
fn one_row_and_two() {
    let one = logit::fit(vec![1.0, 2.0], &[true], 1.0);
    assert!(matches!(one, Err(HazardError::OneSided { failures: 1, rows: 1 })), "{one:?}");
    let two = logit::fit(vec![0.0, 1.0], &[false, true], 1.0).expect("a fit");
    // Values become -1 and 1: the minimum of 2 softplus(-c) + c^2 / 2 is where c = 2 / (1 + exp(c)).
    let c = two.coefficients[0];
    assert!((c - 2.0 / (1.0 + libm::exp(c))).abs() < 1e-7, "{c}");
    assert!(two.intercept.abs() < 1e-7);
}

#[test]
fn columns_that_never_change_have_no_part() {
    let with = |constant: f64| (0..60).flat_map(|n| [f64::from(n % 7), constant]).collect::<Vec<_>>();
    let failed: Vec<bool> = (0..60).map(|n| n % 7 > 3 || n % 11 == 0).collect();
    let fits = [0.0, 3.7, -1e12].map(|constant| logit::fit(with(constant), &failed, 1.0).expect("a fit"));
    for fit in &fits {
        assert_eq!((fit.coefficients[1], fit.deviations[1]), (0.0, 0.0));
        assert_eq!((fit.intercept, fit.coefficients[0]), (fits[0].intercept, fits[0].coefficients[0]));
        assert_eq!(fit.log_odds(&[3.0, 5.0]), fit.log_odds(&[3.0, -9.0]));
    }
    let only = logit::fit(vec![2.0; 60], &failed, 1.0).expect("a fit");
    let failures = f64::from(u32::try_from(failed.iter().filter(|f| **f).count()).expect("few"));
    assert!((only.intercept - libm::log(failures / (60.0 - failures))).abs() < 1e-7, "{only:?}");
}

#[test]
fn what_is_no_number_is_refused() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX] {
        let said = logit::fit(vec![0.0, 1.0, 0.0, bad, 1.0, 2.0], &[true, false, true], 1.0);
        assert!(matches!(said, Err(HazardError::NotFinite { column: 1 })), "{bad}: {said:?}");
    }
    let mut set = heard(1, 1).remove(0);
    set.features.of_set[6] = f64::NAN;
    let mut into = RowSample::new(100);
    let name = SetName { athlete: "a", set: "s", block: 0 };
    let said = into.add(&name, set.features, (1, Stop::Failed));
    assert!(matches!(said, Err(HazardError::NotFinite { column: 6 })), "{said:?}");
    assert_eq!((into.seen().sets, into.kept().sets), (0, 0));
}

#[test]
fn ridges_and_shapes_out_of_range_are_refused() {
    for ridge in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e10, 1e-7] {
        let said = logit::fit(vec![0.0, 1.0], &[true, false], ridge);
        assert!(matches!(said, Err(HazardError::Ridge { .. })), "{ridge}: {said:?}");
    }
    let said = logit::fit(vec![0.0, 1.0, 2.0], &[true, false], 1.0);
    assert!(matches!(said, Err(HazardError::Shape { values: 3, rows: 2 })), "{said:?}");
}

#[test]
fn a_column_that_parts_the_outcomes_is_held_by_the_ridge() {
    let values: Vec<f64> = (0..200).map(f64::from).collect();
    let failed: Vec<bool> = (0..200).map(|n| n >= 100).collect();
    for ridge in [logit::RIDGE.0, 1.0, logit::RIDGE.1] {
        match logit::fit(values.clone(), &failed, ridge) {
            Ok(fit) => assert!(fit.coefficients[0] > 0.0 && fit.off <= logit::MOST_OFF, "{ridge}: {fit:?}"),
            Err(error) => {
                assert!(
                    ridge < 1.0 && matches!(error, HazardError::NotConverged { .. }),
                    "{ridge}: {error:?}"
                );
            }
        }
    }
}

#[test]
fn the_same_bits_every_time() {
    let sets = heard(20, 9);
    let fits: Vec<HazardModel> = (0..3).map(|_| fit(&sample(&sets, 4000), 1.0).expect("a fit")).collect();
    let bits = |model: &HazardModel| {
        let logit = model.logit();
        let numbers = logit.coefficients.iter().chain([&logit.intercept, &logit.objective, &logit.off]);
        numbers.map(|c| c.to_bits()).collect::<Vec<u64>>()
    };
    assert!(fits.iter().all(|fit| bits(fit) == bits(&fits[0])));
    assert!(fits[0].logit().off < logit::MOST_OFF, "{}", fits[0].logit().off);
}

fn any_features() -> impl Strategy<Value = Features> {
    let unit = prop::sample::select(Unit::ALL.to_vec());
    let before = prop::option::of((-9.0..9.0, any::<bool>(), -9.0..9.0));
    let set = prop::collection::vec(-30.0..30.0, SET_COLUMNS);
    (unit, 0.3..2.0, set, before).prop_map(|(unit, mass_ratio, set, before)| Features {
        unit,
        mass_ratio,
        of_set: set.try_into().expect("as many"),
        before: before.map(|(last, failed, level)| Before { last, failed, level }),
    })
}

proptest! {
    #[test]
    fn survival_never_rises_and_is_a_chance(features in any_features(), upto in 0_u16..2500) {
        static MODEL: std::sync::LazyLock<HazardModel> =
            std::sync::LazyLock::new(|| fit(&sample(&heard(20, 9), 4000), 1.0).expect("a fit"));
        let chances = MODEL.survival(&features, upto);
        prop_assert_eq!(chances.len(), usize::from(upto));
        prop_assert!(chances.iter().all(|c| *c > 0.0 && *c <= 1.0));
        prop_assert!(chances.windows(2).all(|two| two[1] <= two[0]));
        let shorter = MODEL.survival(&features, upto / 2);
        prop_assert_eq!(&shorter[..], &chances[..usize::from(upto / 2)]);
    }
}

/// Mean log score of what was done.
fn loss(model: &HazardModel, sets: &[Heard]) -> f64 {
    let score = |set: &Heard| {
        let lasts = model.survival(&set.features, set.done + 1);
        let [reached, more] = [0, 1].map(|on| match usize::from(set.done) + on {
            0 => 1.0,
            units => lasts[units - 1],
        });
        -libm::log(if set.stop.is_failure() { reached - more } else { reached })
    };
    sets.iter().map(score).sum::<f64>() / f64::from(u32::try_from(sets.len()).expect("few"))
}

#[test]
fn strangers_are_forecast_better_than_by_one_hazard_for_all() {
    let (known, strangers) = (sample(&heard(40, 9), 40_000), heard(20, 10));
    let model = fit(&known, 1.0).expect("a fit");
    assert_eq!(model.logit().coefficients.len(), COLUMNS);
    let (fitted, pooled) = (loss(&model, &strangers), loss(&HazardModel::pooled(&known), &strangers));
    println!("log score {fitted:.3} fitted, {pooled:.3} pooled");
    assert!(fitted < pooled - 0.3, "{fitted} {pooled}");
}
