//! Intake: measures that say where newcomers start, and measures that say nothing.

use std::collections::BTreeMap;

use nextrung_capacity::smooth::Sweeps;
use nextrung_replay::dice::Dice;
use nextrung_replay::refit::fit::Fit;
use nextrung_replay::refit::intake::{IntakePrior, Verdict, learn};
use nextrung_replay::refit::plan::Plan;
use nextrung_replay::refit::{Trained, refit};
use nextrung_replay::simulate::refit::Cohort;
use nextrung_replay::simulate::world::PULL;

use crate::cohort::{catalog, files, trained, version};

const COHORT: Cohort<'_> = Cohort { world: PULL, wrong: &[], athletes: 60, weeks: 8, seed: 5 };

/// First working level as a rough guess from the log: enough to make measures that hang together with it. All measures are
/// invented.
fn with_intake(
    mut roster: Vec<Trained>,
    measures: impl Fn(f64, &mut Dice) -> Vec<(&'static str, f64)>,
) -> Vec<Trained> {
    let catalog = catalog();
    let model = files(&catalog).model(&catalog).unwrap_or_else(|e| panic!("{e}"));
    let mut dice = Dice::new(31, 0);
    for athlete in &mut roster {
        let read: Vec<_> = athlete.sets.iter().filter_map(|set| model.read(set)).collect();
        let smoothed = nextrung_capacity::smooth::smooth(&model, &read, Sweeps::default());
        let level = smoothed.abilities[0].nodes[0].mean[0];
        athlete.intake =
            measures(level, &mut dice).into_iter().map(|(name, value)| (name.to_owned(), value)).collect();
    }
    roster
}

fn verdicts(roster: &[Trained]) -> Vec<Verdict> {
    let catalog = catalog();
    let model = files(&catalog).model(&catalog).unwrap_or_else(|e| panic!("{e}"));
    learn(&model, roster, Sweeps::default()).unwrap_or_else(|e| panic!("{e}"))
}

fn kept(verdicts: &[Verdict]) -> &IntakePrior {
    match verdicts {
        [Verdict::Kept(prior)] => prior,
        other => panic!("{other:?}"),
    }
}

/// Months of training go with the level (correlation about 0.9), shoe size does not.
#[test]
fn a_measure_that_tells_narrows_the_start() {
    let roster = with_intake(trained(&catalog(), &COHORT), |level, dice| {
        vec![
            ("months", 24.0 + 20.0 * (level - 1.4) + 9.0 * dice.normal()),
            ("shoe", 42.0 + 2.0 * dice.normal()),
        ]
    });
    let found = verdicts(&roster);
    println!("{}", found[0].sentence());
    let prior = kept(&found);
    println!("{prior:?}");
    let weight = |name: &str| prior.measures.iter().find(|m| m.name == name).map_or(f64::NAN, |m| m.weight);
    assert!(weight("months") > 0.5 && weight("shoe").abs() < 0.15, "{prior:?}");
    assert!(prior.judged.with < 0.6 * prior.judged.without, "{prior:?}");
    assert!(prior.sd < 0.6 * 0.9, "{}", prior.sd);
    // A newcomer with 20 months more is about an ln unit further; one of whom something is missing has no start of their own.
    let newcomer = |months: f64| BTreeMap::from([("months".to_owned(), months), ("shoe".to_owned(), 42.0)]);
    let level = |months: f64| prior.start(&newcomer(months)).map_or(f64::NAN, |start| start.level);
    assert!((level(44.0) - level(24.0) - 1.0).abs() < 0.35, "{}", level(44.0) - level(24.0));
    assert_eq!(prior.start(&BTreeMap::from([("months".to_owned(), 30.0)])), None);
}

/// The refit learns it on its own numbers, keeps it with them, and says so.
#[test]
fn a_refit_keeps_what_intake_tells() {
    let catalog = catalog();
    let roster = with_intake(trained(&catalog, &COHORT), |level, dice| {
        vec![("months", 24.0 + 20.0 * (level - 1.4) + 9.0 * dice.normal())]
    });
    let found = refit(&catalog, &files(&catalog), &roster, (version("a"), &Plan::of_steps()));
    let found = found.unwrap_or_else(|e| panic!("{e}"));
    let [prior] = found.fit.intake.as_slice() else { panic!("{:?}", found.account.intake) };
    assert_eq!(prior, kept(&found.account.intake));
    let last = found.account.sentences().pop().unwrap_or_default();
    assert!(last.starts_with("What is known at intake places newcomers in vertical-pull to "), "{last}");
    let text = serde_json::to_string(&found.fit).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(serde_json::from_str::<Fit>(&text).unwrap_or_else(|e| panic!("{e}")), found.fit);
}

#[test]
fn measures_that_tell_nothing_are_dropped_and_it_is_said() {
    let roster = with_intake(trained(&catalog(), &COHORT), |_, dice| {
        vec![("months", 24.0 + 9.0 * dice.normal()), ("shoe", 42.0 + 2.0 * dice.normal())]
    });
    let found = verdicts(&roster);
    let [Verdict::Dropped { judged, .. }] = found.as_slice() else { panic!("{found:?}") };
    assert!(judged.with >= judged.without, "{judged:?}");
    assert!(found[0].sentence().ends_with("It is not used."), "{}", found[0].sentence());
}

#[test]
fn few_athletes_with_intake_are_too_few() {
    let mut roster =
        with_intake(trained(&catalog(), &Cohort { athletes: 26, weeks: 1, ..COHORT }), |level, _| {
            vec![("months", level)]
        });
    roster[0].intake.clear();
    roster[1].intake.clear();
    let found = verdicts(&roster);
    assert!(matches!(found.as_slice(), [Verdict::Few { athletes: 24, .. }]), "{found:?}");
    for athlete in &mut roster {
        athlete.intake.clear();
    }
    assert_eq!(verdicts(&roster), []);
}
