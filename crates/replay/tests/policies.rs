//! Policies: on a small crowd the comparison finds what must be so. The large run stands in `RESULTS.md`.

#![expect(clippy::panic, reason = "a test that cannot be set up must fail")]
#![expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]

use std::path::Path;
use std::sync::Arc;

use nextrung_domain::catalog::Catalog;
use nextrung_replay::ladders;
use nextrung_replay::simulate::bootstrap::Estimate;
use nextrung_replay::simulate::family::{Family, GROWTH, MATCHED, PAIN};
use nextrung_replay::simulate::policies::{Arm, Comparison, Experiment, arms, run, table};
use nextrung_replay::simulate::world::PULL;

fn catalog() -> Arc<Catalog> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data");
    Arc::new(ladders::read(&data).unwrap_or_else(|e| panic!("{e}")))
}

fn experiment(family: Family) -> Experiment {
    Experiment { family, world: PULL, athletes: 50, weeks: 14, seed: 20_260_105 }
}

/// The ways of choosing that are named, the service first.
fn compared(family: Family, names: &[&str]) -> Vec<Comparison> {
    let experiment = experiment(family);
    let named: Vec<Arm> = arms().into_iter().filter(|arm| names.contains(&arm.name)).collect();
    assert_eq!(named.len(), names.len(), "{names:?}");
    let found = run(&catalog(), &experiment, &named).unwrap_or_else(|e| panic!("{e}"));
    let mut text = String::new();
    table::rows(&mut text, &experiment, &found);
    println!("{text}");
    found
}

fn of(found: &[Comparison], arm: &str, figure: fn(&Comparison) -> Option<Estimate>) -> Estimate {
    let one = found.iter().find(|c| c.arm == arm).unwrap_or_else(|| panic!("no {arm}"));
    figure(one).unwrap_or_else(|| panic!("{arm} has no such figure"))
}

#[test]
fn where_growth_follows_the_work_good_choices_come_sooner_to_the_goal() {
    let (own, oracle) = ("own choice", "oracle");
    let found = compared(GROWTH, &["service", "two-for-two rule", own, oracle]);
    assert!(
        of(&found, own, |c| c.weeks_saved).low > 0.0,
        "who chooses by temper takes longer than the service"
    );
    assert!(of(&found, own, |c| c.gain).high < 0.0);
    assert!(of(&found, "two-for-two rule", |c| c.gain).high < 0.0);
    let gap = of(&found, oracle, |c| c.weeks_saved);
    assert!(gap.low < 0.5, "the oracle is not behind by much: {gap:?}");
    assert!(of(&found, oracle, |c| c.gain).low > 0.0);
}

#[test]
fn regret_is_least_for_who_knows_the_truth() {
    let found = compared(MATCHED, &["service", "own choice", "oracle"]);
    let regret = |arm| of(&found, arm, |c| c.regret);
    // What is left is that an oracle chooses after the day's practice and attempts, and regret is of the fresh athlete.
    assert!(regret("oracle").mean < 0.01, "{:?}", regret("oracle"));
    assert!(regret("service").low > regret("oracle").high);
    assert!(regret("own choice").low > regret("service").high);
    for one in &found {
        assert!(
            one.outcomes.iter().all(|o| o.working.1 <= o.working.0 && o.failed.iter().sum::<u32>() <= o.sets)
        );
        assert_eq!(
            one.pain.map(|e| e.mean.to_bits()),
            Some(0.0_f64.to_bits()),
            "{}: nobody knows pain",
            one.arm
        );
    }
}

#[test]
fn pain_is_counted_under_every_choice() {
    let found = compared(PAIN, &["service", "rep-band rule", "own choice", "oracle"]);
    for one in &found {
        assert!(one.outcomes.iter().any(|o| o.pain > 0), "{}", one.arm);
    }
}

#[test]
fn the_same_seed_gives_the_same_bits() {
    let few = Experiment { athletes: 6, weeks: 4, ..experiment(PAIN) };
    let once = |experiment| run(&catalog(), &experiment, &arms()).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(once(few), once(few));
    assert_ne!(once(few), once(Experiment { seed: 7, ..few }));
}
