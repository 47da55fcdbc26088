//! Coverage: the model's 50, 80 and 95 % intervals against athletes whose truth is known, trained by the service's own
//! choice of rungs. The large run and its figures stand in `RESULTS.md`.

#![expect(clippy::panic, reason = "a test that cannot read the ladders must fail")]
#![expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::Catalog;
use nextrung_replay::ladders;
use nextrung_replay::simulate::coverage::{CHECKPOINTS, Experiment, Key, LEVELS, Tally, Whose, run, run_in};
use nextrung_replay::simulate::noise::Noise;
use nextrung_replay::simulate::trainee::{Setup, Telling};
use nextrung_replay::simulate::world::{LEVER, PRESS, PULL, World};

const SEED: u64 = 20_260_105;
/// Athletes of a world; the bands are exact for whatever number comes to a checkpoint.
const ATHLETES: u64 = 1000;

fn catalog() -> Arc<Catalog> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data");
    Arc::new(ladders::read(&data).unwrap_or_else(|e| panic!("{e}")))
}

fn experiment(world: World, noise: Noise, telling: Telling) -> Experiment {
    // Presses come with balance practice, whose sets take three times as long to run.
    let athletes = if world == PRESS { ATHLETES / 2 } else { ATHLETES };
    Experiment { world, noise, telling, athletes, seed: SEED }
}

fn tallies(world: World, noise: Noise, telling: Telling) -> BTreeMap<Key, Tally> {
    run(&catalog(), &experiment(world, noise, telling)).unwrap_or_else(|e| panic!("{e}"))
}

fn print(what: &str, tallies: &BTreeMap<Key, Tally>) {
    for ((sets, kind, whose), t) in tallies {
        let (mean, sd) = t.error_moments();
        println!(
            "{what}: {whose:?}, {}, {sets} sets, {} athletes: {:.3} {:.3} {:.3}, KS {:.3} of {:.3}, error {mean:.3} {sd:.3}",
            kind.word(),
            t.athletes(),
            t.share(0),
            t.share(1),
            t.share(2),
            t.ks_distance(),
            t.ks_limit()
        );
    }
}

/// Every interval inside the 99.9 % binomial band of its nominal share, and ranks uniform at 0.1 %.
fn is_sound(t: &Tally) -> bool {
    (0..LEVELS.len()).all(|level| t.is_in_band(level)) && t.ks_distance() <= t.ks_limit()
}

/// Cells in which at least this many athletes were compared.
const ENOUGH: u32 = 200;

#[test]
fn on_one_strength_the_intervals_hold_the_truth() {
    let found = tallies(PULL, Noise::Logistic, Telling::PLAIN);
    print("pull", &found);
    for sets in CHECKPOINTS {
        for whose in [Whose::Prescribed, Whose::Reference] {
            let t = &found[&(sets, AbilityKind::Strength, whose)];
            assert!(t.athletes() >= 990, "{} athletes came to {sets} sets", t.athletes());
            assert!(is_sound(t), "{sets} sets, {whose:?}: {:?} of {}", t.inside, t.athletes());
        }
    }
    holds_the_known_shortfall(&PULL, &found);
}

#[test]
fn on_holds_the_intervals_hold_the_truth() {
    let found = tallies(LEVER, Noise::Logistic, Telling::PLAIN);
    print("front lever", &found);
    for sets in CHECKPOINTS {
        for whose in [Whose::Prescribed, Whose::Reference] {
            let t = &found[&(sets, AbilityKind::Strength, whose)];
            assert!(is_sound(t), "{sets} sets, {whose:?}: {:?} of {}", t.inside, t.athletes());
        }
    }
    holds_the_known_shortfall(&LEVER, &found);
}

#[test]
fn where_several_abilities_share_a_rung_balance_and_line_hold_the_truth() {
    let found = tallies(PRESS, Noise::Logistic, Telling::PLAIN);
    print("press", &found);
    let mut compared = 0;
    for ((sets, kind, whose), t) in &found {
        if *kind != AbilityKind::Strength && *whose == Whose::Reference && t.athletes() >= ENOUGH {
            assert!(is_sound(t), "{sets} sets, {}: {:?} of {}", kind.word(), t.inside, t.athletes());
            compared += 1;
        }
    }
    assert!(compared >= 4, "{compared} cells compared");
    holds_the_known_shortfall(&PRESS, &found);
}

/// Straight after a set, and where two strengths of one rung cannot be told apart, the filter is known to be too sure
/// (`RESULTS.md`): its normal curve stands for a belief shaped like a box, and blame that is shared stays wrong for long.
/// The shortfall is held to its size.
fn holds_the_known_shortfall(world: &World, found: &BTreeMap<Key, Tally>) {
    let mut compared = 0;
    for ((sets, kind, whose), t) in found.iter().filter(|(_, t)| t.athletes() >= ENOUGH) {
        let cell = format!("{}, {sets} sets, {}, {whose:?}", world.name, kind.word());
        assert!(t.share(1) >= 0.68, "{cell}: 80 % interval held {:.3}", t.share(1));
        assert!(t.share(2) >= 0.90, "{cell}: 95 % interval held {:.3}", t.share(2));
        compared += 1;
    }
    assert!(compared >= 8, "{compared} cells compared");
}

/// Noise of another shape and the same spread: how far each interval falls short of its nominal share.
fn falls_short_by_little(noise: Noise) {
    let found = tallies(PULL, noise, Telling::PLAIN);
    print(noise.name(), &found);
    for sets in CHECKPOINTS {
        for whose in [Whose::Prescribed, Whose::Reference] {
            let t = &found[&(sets, AbilityKind::Strength, whose)];
            for (level, (nominal, _)) in LEVELS.iter().enumerate() {
                let shortfall = nominal - t.share(level);
                assert!(shortfall < 0.08, "{}, {sets} sets, {whose:?}: {shortfall:.3}", noise.name());
            }
        }
    }
}

#[test]
fn normal_noise_costs_little() {
    falls_short_by_little(Noise::Normal);
}

#[test]
fn heavy_tailed_noise_costs_little() {
    falls_short_by_little(Noise::StudentThree);
}

#[test]
fn reserve_stops_by_choice_and_unsaid_causes_cost_little() {
    let found = tallies(PULL, Noise::Logistic, Telling::MIXED);
    print("pull, mixed", &found);
    for sets in CHECKPOINTS {
        let t = &found[&(sets, AbilityKind::Strength, Whose::Prescribed)];
        let in_bands = (0..LEVELS.len()).all(|level| t.is_in_band(level));
        assert!(in_bands, "{sets} sets: {:?} of {}", t.inside, t.athletes());
    }
}

/// What the share for repeated bounds (F-06) is for: without it the belief about the rung just done is too narrow.
#[test]
fn a_share_for_repeated_bounds_widens_what_was_too_narrow() {
    let spread_with = |repeated_bound: f64| {
        let setup = Setup::of_world(&catalog(), &PULL, Noise::Logistic, Telling::PLAIN);
        let mut setup = setup.unwrap_or_else(|e| panic!("{e}"));
        setup.model.parameters.repeated_bound = repeated_bound;
        let found = run_in(&setup, &experiment(PULL, Noise::Logistic, Telling::PLAIN));
        found.unwrap_or_else(|e| panic!("{e}"))[&(15, AbilityKind::Strength, Whose::JustDone)]
            .error_moments()
            .1
    };
    let (shared, whole) = (spread_with(0.7), spread_with(1.0));
    assert!(whole > 1.08 && shared < 1.06, "errors in standard deviations: {shared} with, {whole} without");
}

#[test]
fn an_overconfident_model_is_caught() {
    let mut setup =
        Setup::of_world(&catalog(), &PULL, Noise::Logistic, Telling::PLAIN).unwrap_or_else(|e| panic!("{e}"));
    for kind in &mut setup.truth.kinds {
        kind.day_sd *= 3.0;
        kind.scale *= 2.0;
    }
    let found = run_in(&setup, &experiment(PULL, Noise::Logistic, Telling::PLAIN));
    let found = found.unwrap_or_else(|e| panic!("{e}"));
    print("overconfident", &found);
    for whose in [Whose::Prescribed, Whose::Reference] {
        let t = &found[&(60, AbilityKind::Strength, whose)];
        assert!((0..LEVELS.len()).all(|level| !t.is_in_band(level)), "{whose:?}: {:?}", t.inside);
        assert!(t.ks_distance() > t.ks_limit(), "{whose:?}: {}", t.ks_distance());
    }
}

#[test]
fn the_same_seed_gives_the_same_bits() {
    let small =
        |seed| Experiment { athletes: 20, seed, ..experiment(LEVER, Noise::Logistic, Telling::MIXED) };
    let once = |seed| run(&catalog(), &small(seed)).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(once(SEED), once(SEED));
    assert_ne!(once(SEED), once(SEED + 1));
}
