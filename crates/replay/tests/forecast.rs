//! Forecast: what is told of the weeks ahead against what becomes of athletes whose truth is known. The large run and its
//! figures stand in `RESULTS.md`.

#![expect(clippy::panic, reason = "a test that cannot read the ladders must fail")]
#![expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]

use std::path::Path;
use std::sync::Arc;

use nextrung_domain::catalog::Catalog;
use nextrung_replay::ladders;
use nextrung_replay::simulate::binomial::central_band;
use nextrung_replay::simulate::forecast::{AHEAD, Experiment, LOOKS, Outcome, Tally, run, run_in, tally};
use nextrung_replay::simulate::noise::Noise;
use nextrung_replay::simulate::trainee::{Setup, Telling};
use nextrung_replay::simulate::world::{LEVER, PRESS, PULL, World};

const SEED: u64 = 20_260_401;

fn catalog() -> Arc<Catalog> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data");
    Arc::new(ladders::read(&data).unwrap_or_else(|e| panic!("{e}")))
}

fn outcomes(world: World, athletes: u64) -> Vec<Outcome> {
    run(&catalog(), &Experiment { world, athletes, seed: SEED }).unwrap_or_else(|e| panic!("{e}"))
}

/// True when a count lies in the 99.9 % binomial band of 80 %.
fn is_eighty(count: u32, of: u32) -> bool {
    let (low, high) = central_band(of, 0.8, 0.999);
    (low..=high).contains(&count)
}

fn print(what: &str, found: &Tally) {
    println!(
        "{what}: sets {:?} of {}, first weeks {:.3} in intervals of {:.3}, central {:.3}, beyond {:.3}",
        found.looks,
        found.athletes,
        found.share(found.inside),
        found.mean_stated(),
        found.share(found.central),
        found.share(found.beyond)
    );
}

/// Intervals hold what they say, within the 99.9 % band of chance, and chances come true on average.
fn holds(world: World, athletes: u64) {
    let all = outcomes(world, athletes);
    let found = tally(&all);
    print(world.name, &found);
    let n = found.athletes;
    assert_eq!(u64::from(n), athletes);
    for (week, [_, inside, _]) in LOOKS.iter().zip(found.looks) {
        let share = found.share(inside);
        assert!((0.72..=0.88).contains(&share), "{}: after {week} weeks {share:.3}", world.name);
        assert!(is_eighty(inside, n), "{}: after {week} weeks {inside} of {n}", world.name);
    }
    assert!(
        (0.72..=0.88).contains(&found.share(found.central)),
        "{}: {:.3}",
        world.name,
        found.share(found.central)
    );
    assert!(is_eighty(found.central, n), "{}: {} of {n}", world.name, found.central);
    // Where most of the chance lies beyond the horizon the interval told holds more than 80 %, and says so.
    let (low, high) = central_band(n, found.mean_stated().min(0.999), 0.999);
    assert!((low..=high).contains(&found.inside), "{}: {} of {n}", world.name, found.inside);
    for week in LOOKS {
        let told = |one: &Outcome| one.chances[usize::from(week) - 1];
        let mean = all.iter().map(told).sum::<f64>() / f64::from(n);
        let came = all.iter().map(|one| f64::from(u8::from(one.came <= week))).sum::<f64>() / f64::from(n);
        // Four standard errors of a share.
        let slack = 4.0 * (mean * (1.0 - mean) / f64::from(n)).sqrt();
        println!("{}: by week {week} told {mean:.3}, came {came:.3}", world.name);
        assert!((mean - came).abs() < slack, "{}: by week {week} told {mean:.3}, came {came:.3}", world.name);
    }
}

#[test]
fn on_one_strength_forecasts_come_true_as_told() {
    holds(PULL, 300);
}

#[test]
fn on_holds_forecasts_come_true_as_told() {
    holds(LEVER, 300);
}

#[test]
fn where_several_abilities_share_a_rung_forecasts_come_true_as_told() {
    holds(PRESS, 200);
}

#[test]
fn chances_sort_those_who_come_from_those_who_do_not() {
    let all = outcomes(PULL, 200);
    let mean = |wanted: bool| {
        let of: Vec<f64> =
            all.iter().filter(|one| (one.came <= AHEAD) == wanted).map(|one| one.chances[11]).collect();
        of.iter().sum::<f64>() / of.iter().map(|_| 1.0).sum::<f64>()
    };
    assert!(mean(true) > mean(false) + 0.1, "{} {}", mean(true), mean(false));
}

#[test]
fn a_world_that_moves_more_than_the_model_thinks_is_caught() {
    let setup = Setup::of_world(&catalog(), &PULL, Noise::Logistic, Telling::PLAIN);
    let mut setup = setup.unwrap_or_else(|e| panic!("{e}"));
    for kind in &mut setup.truth.kinds {
        kind.level_sd *= 4.0;
    }
    let experiment = Experiment { world: PULL, athletes: 200, seed: SEED };
    let found = tally(&run_in(&setup, &experiment).unwrap_or_else(|e| panic!("{e}")));
    print("moves more", &found);
    let [.., [_, inside, _]] = found.looks;
    assert!(!is_eighty(inside, found.athletes), "{inside} of {}", found.athletes);
}

#[test]
fn the_same_seed_gives_the_same_forecasts() {
    let once = || outcomes(LEVER, 5);
    assert_eq!(once(), once());
}
