//! Champion against challenger, and the shelf on which versions are kept.

use nextrung_capacity::params::Parameters;
use nextrung_domain::ids::LadderId;
use nextrung_replay::refit::Trained;
use nextrung_replay::refit::fit::{Fit, FitError, Version};
use nextrung_replay::refit::plan::Plan;
use nextrung_replay::refit::shelf::{Shelf, ShelfError};
use nextrung_replay::refit::trial::{Split, Trial, challenge, hold};
use nextrung_replay::simulate::noise::Noise;
use nextrung_replay::simulate::refit::{Cohort, roster_in};
use nextrung_replay::simulate::trainee::{Setup, Telling};
use nextrung_replay::simulate::world::PULL;
use tempfile::TempDir;

use crate::cohort::{WRONG, catalog, files, trained, version};

const SPLIT: Split = Split { held_out: 0.4, seed: 1 };

fn shelf_in(folder: &TempDir) -> Shelf {
    Shelf::open(&folder.path().join("shelf")).unwrap_or_else(|e| panic!("{e}"))
}

/// A fit that differs from the files in its name and trial alone.
fn tried(name: &str, interval: (f64, f64)) -> Fit {
    let champion = version("files");
    let difference = 0.5 * (interval.0 + interval.1);
    let trial = Trial {
        champion: champion.clone(),
        athletes: 20,
        sets: 900,
        champion_score: 1.0,
        challenger_score: 1.0 + difference,
        difference,
        interval,
    };
    let fit = Fit::of_files(version(name), &catalog(), Parameters::default());
    Fit { parent: Some(champion), trial: Some(trial), ..fit }
}

/// An improvement seen in 19 athletes.
fn few() -> Fit {
    let fit = tried("few", (-0.2, -0.1));
    let trial = fit.trial.map(|trial| Trial { athletes: 19, ..trial });
    Fit { trial, ..fit }
}

/// The ladder is wrong: what is learned from some athletes foretells others better. Then a ladder that is right in the mean,
/// and of which people depart as widely as its own doubt says: a refit that takes that doubt for common, and may not widen
/// the departures instead, is too sure of everybody.
#[test]
fn a_challenger_is_promoted_only_when_athletes_it_never_saw_are_foretold_better() {
    let catalog = catalog();
    let champion = files(&catalog);
    let plan = Plan::of_steps();
    let challenge = |name: &str, roster: &[Trained]| {
        let found = challenge(&catalog, &champion, roster, SPLIT, (version(name), &plan));
        let fit = found.unwrap_or_else(|e| panic!("{e}")).fit;
        println!("{name}: {:?}", fit.trial);
        fit
    };
    let cohort = Cohort { world: PULL, wrong: &WRONG, athletes: 160, weeks: 6, seed: 8 };
    let better = challenge("better", &trained(&catalog, &cohort));
    let setup = Setup::of_world(&catalog, &PULL, Noise::Logistic, Telling::PLAIN);
    let setup = setup.unwrap_or_else(|e| panic!("{e}"));
    let right = roster_in(&setup, &Cohort { athletes: 80, ..cohort }).unwrap_or_else(|e| panic!("{e}"));
    let same = challenge("same", &right);

    let folder = tempfile::tempdir().unwrap();
    let shelf = shelf_in(&folder);
    shelf.found(&champion).unwrap_or_else(|e| panic!("{e}"));
    for fit in [&better, &same] {
        shelf.put(fit).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(
            &shelf.get(&fit.version).unwrap_or_else(|e| panic!("{e}")),
            fit,
            "not read as it was kept"
        );
    }
    let refused = shelf.promote(&same.version).expect_err("no improvement");
    println!("{refused}");
    assert!(matches!(refused, ShelfError::NoImprovement { .. }), "{refused}");
    assert_eq!(shelf.current().unwrap_or_else(|e| panic!("{e}")), champion.version);
    shelf.promote(&better.version).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(shelf.current().unwrap_or_else(|e| panic!("{e}")), better.version);
}

#[test]
fn a_fit_held_against_itself_is_no_improvement() {
    let catalog = catalog();
    let files = files(&catalog);
    let roster = trained(&catalog, &Cohort { world: PULL, wrong: &[], athletes: 5, weeks: 4, seed: 2 });
    let trial = hold(&catalog, (&files, &files), &roster, 1).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!((trial.difference, trial.interval), (0.0, (0.0, 0.0)));
    assert!(!trial.is_improvement());
    assert_eq!(trial.athletes, 5);
    assert_eq!(trial.sets, roster.iter().map(|athlete| athlete.sets.len()).sum::<usize>());
}

#[test]
fn who_is_held_out_hangs_on_name_and_seed_alone() {
    let names: Vec<String> = (0..2000).map(|number| format!("athlete-{number}")).collect();
    let held = |split: Split| names.iter().filter(|name| split.holds_out(name)).count();
    // Four standard deviations of a binomial count of 2000 at 0.4.
    assert!((712..=888).contains(&held(SPLIT)), "{}", held(SPLIT));
    let other = Split { seed: 2, ..SPLIT };
    let differing = names.iter().filter(|name| SPLIT.holds_out(name) != other.holds_out(name)).count();
    assert!((872..=1048).contains(&differing), "{differing}: 0.48 of 2000 expected");
    assert_eq!((held(Split { held_out: 0.0, seed: 1 }), held(Split { held_out: 1.0, seed: 1 })), (0, 2000));
    // `printf 1:athlete-0 | sha256sum` begins with the bytes a0 10 66 03, which are 0.62525 of all they can be.
    let at = |held_out: f64| Split { held_out, seed: 1 }.holds_out("athlete-0");
    assert!(at(0.625_26) && !at(0.625_25));
}

#[test]
fn the_shelf_refuses_what_was_not_won_and_goes_back() {
    let folder = tempfile::tempdir().unwrap();
    let shelf = shelf_in(&folder);
    let first = files(&catalog());
    assert!(matches!(shelf.current(), Err(ShelfError::NoneInForce)));
    assert!(matches!(shelf.promote(&first.version), Err(ShelfError::NoneInForce)));
    shelf.found(&first).unwrap_or_else(|e| panic!("{e}"));
    assert!(matches!(shelf.found(&tried("x", (-0.2, -0.1))), Err(ShelfError::InForce { .. })));
    assert!(matches!(shelf.put(&first), Err(ShelfError::Taken { .. })));
    assert!(matches!(shelf.roll_back(None), Err(ShelfError::NoParent { .. })));

    for fit in [tried("won", (-0.2, -0.1)), tried("drawn", (-0.2, 0.0)), few(), tried("lost", (0.1, 0.2))] {
        shelf.put(&fit).unwrap_or_else(|e| panic!("{e}"));
    }
    shelf.put(&Fit { trial: None, ..tried("untried", (0.0, 0.0)) }).unwrap_or_else(|e| panic!("{e}"));
    for (name, is_refused) in [
        ("drawn", (|e| matches!(e, ShelfError::NoImprovement { .. })) as fn(&ShelfError) -> bool),
        ("few", |e| matches!(e, ShelfError::NoImprovement { athletes: 19, .. })),
        ("lost", |e| matches!(e, ShelfError::NoImprovement { .. })),
        ("untried", |e| matches!(e, ShelfError::Untried { .. })),
        ("missing", |e| matches!(e, ShelfError::Missing { .. })),
    ] {
        let refused = shelf.promote(&version(name)).expect_err(name);
        assert!(is_refused(&refused), "{name}: {refused}");
        assert_eq!(shelf.current().unwrap_or_else(|e| panic!("{e}")), first.version);
    }
    shelf.promote(&version("won")).unwrap_or_else(|e| panic!("{e}"));
    // What won against the files says nothing against what is in force now.
    assert!(matches!(shelf.promote(&version("won")), Err(ShelfError::Untried { .. })));
    assert_eq!(shelf.roll_back(None).unwrap_or_else(|e| panic!("{e}")), first.version);
    assert_eq!(shelf.current().unwrap_or_else(|e| panic!("{e}")), first.version);
    shelf.roll_back(Some(&version("lost"))).unwrap_or_else(|e| panic!("{e}"));
    assert!(matches!(shelf.roll_back(Some(&version("missing"))), Err(ShelfError::Missing { .. })));
    let kept: Vec<String> =
        shelf.list().unwrap_or_else(|e| panic!("{e}")).iter().map(ToString::to_string).collect();
    assert_eq!(kept, ["drawn", "few", "files", "lost", "untried", "won"]);
}

#[test]
fn a_fit_is_refused_on_other_ladders_and_formulas() {
    let catalog = catalog();
    let mut fit = files(&catalog);
    assert!(fit.model(&catalog).is_ok());
    let pull = LadderId::new("pull").unwrap_or_else(|e| panic!("{e}"));
    fit.ladders.insert(pull, 7);
    let Err(FitError::Ladders { differing }) = fit.model(&catalog) else {
        panic!("other ladders were taken")
    };
    assert_eq!(differing, ["pull was 7, is 1"]);
    let other = Fit { model_version: "capacity-0".to_owned(), ..files(&catalog) };
    assert!(matches!(other.model(&catalog), Err(FitError::Model { .. })));
    for bad in ["", "../x", "A", ".x", "a/b", "-a", &"x".repeat(64)] {
        assert!(Version::new(bad).is_err(), "{bad}");
    }
}
