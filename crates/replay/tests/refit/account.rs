//! What stays and why, orders that turn round, and the sentences that say so.

use nextrung_domain::adjustment::{Adjustment, AdjustmentProblem, Start, Step};
use nextrung_domain::catalog::Catalog;
use nextrung_domain::ids::{AbilityId, RungRef};
use nextrung_replay::refit::fit::Fit;
use nextrung_replay::refit::plan::Plan;
use nextrung_replay::refit::reach::{Held, Reach};
use nextrung_replay::refit::{RefitError, Refitted, Trained, refit};
use nextrung_replay::simulate::refit::{Cohort, Wrong};
use nextrung_replay::simulate::world::PULL;

use crate::cohort::{catalog, files, trained, version};

const COHORT: Cohort<'_> = Cohort { world: PULL, wrong: &[], athletes: 40, weeks: 12, seed: 77 };

fn name(text: &str) -> RungRef {
    RungRef::parse(text).unwrap_or_else(|e| panic!("{e}"))
}

fn done(catalog: &std::sync::Arc<Catalog>, from: &Fit, roster: &[Trained]) -> Result<Refitted, RefitError> {
    refit(catalog, from, roster, (version("found"), &Plan::of_steps()))
}

/// The roster without sets on the rungs that `drops` names for an athlete.
fn without(roster: &[Trained], drops: impl Fn(&Trained, &RungRef) -> bool) -> Vec<Trained> {
    let keep = |one: &Trained| Trained {
        sets: one.sets.iter().filter(|set| !drops(one, &set.rung)).cloned().collect(),
        ..one.clone()
    };
    roster.iter().map(keep).collect()
}

#[test]
fn a_rung_that_nobody_joins_to_the_anchor_stays_and_it_is_said() {
    let catalog = catalog();
    let all = trained(&catalog, &COHORT);
    let archer = name("pull/archer");
    // Who trained the archer pull-up is left with it alone; everybody else never did.
    let has_archer = |one: &Trained| one.sets.iter().filter(|set| set.rung == archer).count() >= 3;
    let roster = without(&all, |one, rung| has_archer(one) == (*rung != archer));
    let plan = Plan::of_steps();
    let reach = Reach::of(&catalog, &roster, &plan);
    let demand = (catalog.find_ability(&pull()).unwrap(), catalog.find(&archer).unwrap());
    assert!(reach.athletes(demand) >= plan.least_athletes, "{}", reach.athletes(demand));
    assert_eq!(reach.held.get(&demand), Some(&Held::Apart));
    assert!(!reach.free.is_empty() && !reach.free.contains(&demand));
    let found = done(&catalog, &files(&catalog), &roster).unwrap_or_else(|e| panic!("{e}"));
    assert!(found.fit.adjustment.steps.iter().all(|step| step.rung != archer));
    let told = found.account.sentences();
    let wanted = "Archer pull-up stays where the ladder has it in vertical pull: ";
    let line = told.iter().find(|line| line.starts_with(wanted)).unwrap_or_else(|| panic!("{told:#?}"));
    assert!(line.contains("too few of them also trained rungs that lead to Pull-up"), "{line}");
}

fn pull() -> AbilityId {
    AbilityId::new("vertical-pull").unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_rung_of_two_athletes_stays() {
    let catalog = catalog();
    let all = trained(&catalog, &COHORT);
    let archer = name("pull/archer");
    let two: Vec<&String> = all
        .iter()
        .filter(|one| one.sets.iter().filter(|set| set.rung == archer).count() >= 3)
        .map(|one| &one.athlete)
        .take(2)
        .collect();
    let roster = without(&all, |one, rung| *rung == archer && !two.contains(&&one.athlete));
    let found = done(&catalog, &files(&catalog), &roster).unwrap_or_else(|e| panic!("{e}"));
    assert!(found.fit.adjustment.steps.iter().all(|step| step.rung != archer));
    let told = found.account.sentences();
    let wanted = "Archer pull-up stays where the ladder has it in vertical pull: only 2 athletes trained it.";
    assert!(told.iter().any(|line| line == wanted), "{told:#?}");
}

/// The truth turns two rungs round: the ladder has the second 0.4 harder, it is 0.3 easier.
#[test]
fn a_turned_order_is_told_and_left() {
    let catalog = catalog();
    let step = |rung, by| Wrong { rung, ability: "vertical-pull", by };
    let wrong = [step("pull/uneven-grip", -0.7), step("pull/archer", 0.7)];
    let roster = trained(&catalog, &Cohort { wrong: &wrong, athletes: 80, ..COHORT });
    let found = done(&catalog, &files(&catalog), &roster).unwrap_or_else(|e| panic!("{e}"));
    for step in &found.account.steps {
        println!(
            "{} to {}: {:.2}, {:.3} +- {:.3}",
            step.from.name, step.to.name, step.on_file, step.found, step.sd
        );
    }
    let turned: Vec<_> = found.account.turned_round().collect();
    assert_eq!(turned.len(), 1, "{turned:#?}");
    let step = turned[0];
    assert_eq!(
        (step.from.name.as_str(), step.to.name.as_str()),
        ("Chest-to-bar pull-up", "Uneven-grip pull-up")
    );
    println!("{:.3} +- {:.3}, other order {:.4}", step.found, step.sd, step.chance_of_other_order());
    assert!((step.found + 0.3).abs() < 0.15, "{}", step.found);
    let told = found.account.sentences();
    let wanted = "The ladder has Uneven-grip pull-up as the harder, but these athletes find Chest-to-bar pull-up harder (chance ";
    assert!(told.iter().any(|line| line.starts_with(wanted)), "{told:#?}");
}

/// When the ladder is right, few steps seem to have moved: each is told with 1.96 of its standard deviations.
#[test]
fn a_right_ladder_is_mostly_left_alone() {
    let catalog = catalog();
    let (mut steps, mut moved) = (0, 0);
    for seed in 0..6 {
        let roster = trained(&catalog, &Cohort { seed, ..COHORT });
        let found = done(&catalog, &files(&catalog), &roster).unwrap_or_else(|e| panic!("{e}"));
        steps += found.account.steps.len();
        moved += found.account.moved().count();
        assert_eq!(found.account.turned_round().count(), 0, "seed {seed}");
    }
    println!("{moved} of {steps} steps told as moved");
    // The 99.9 % point of a binomial count of 50 at 0.05 is 8.
    assert!(steps >= 30 && moved * 50 <= 8 * steps, "{moved} of {steps}");
}

#[test]
fn an_unsound_roster_is_refused() {
    let catalog = catalog();
    let files = files(&catalog);
    let roster = trained(&catalog, &Cohort { athletes: 2, weeks: 2, ..COHORT });
    assert!(matches!(done(&catalog, &files, &[]), Err(RefitError::Empty)));
    let twice = [roster[0].clone(), roster[0].clone()];
    assert!(matches!(done(&catalog, &files, &twice), Err(RefitError::Twice { .. })));
    let mut turned = roster[0].clone();
    turned.sets.reverse();
    assert!(matches!(done(&catalog, &files, &[turned]), Err(RefitError::Order { .. })));
}

#[test]
fn an_adjustment_replaces_what_it_names_and_reports_all_it_cannot() {
    let catalog = catalog();
    let step = |rung: &str, ability: &str, difficulty: f64, sd: f64| Step {
        rung: name(rung),
        ability: AbilityId::new(ability).unwrap_or_else(|e| panic!("{e}")),
        difficulty,
        sd,
    };
    let start = |ability: AbilityId, sd: f64| Start { ability, level: 1.0, sd };
    let sound = Adjustment {
        steps: vec![step("pull/archer", "vertical-pull", 1.5, 0.07)],
        starts: vec![start(pull(), 0.4)],
    };
    let adjusted = catalog.adjusted(&sound).unwrap_or_else(|e| panic!("{e:?}"));
    let ix = adjusted.find(&name("pull/archer")).unwrap();
    let demand = &adjusted.rung(ix).demands[0];
    assert_eq!((demand.difficulty, demand.sd), (1.5, 0.07));
    let ability = adjusted.ability(adjusted.find_ability(&pull()).unwrap());
    assert_eq!((ability.start_level, ability.start_sd), (1.0, 0.4));
    assert_eq!(catalog.adjusted(&Adjustment::default()).as_ref(), Ok(&*catalog));

    let unsound = Adjustment {
        steps: vec![
            step("pull/nothing", "vertical-pull", 1.0, 0.1),
            step("pull/archer", "vertical-push", 1.0, 0.1),
            step("pull/archer", "nothing", 1.0, 0.1),
            step("pull/pull-up", "vertical-pull", 0.1, 0.1),
            step("pull/archer", "vertical-pull", f64::NAN, 0.1),
        ],
        starts: vec![start(pull(), -1.0)],
    };
    let problems = catalog.adjusted(&unsound).expect_err("six problems");
    assert!(
        matches!(
            problems.as_slice(),
            [
                AdjustmentProblem::NoRung { .. },
                AdjustmentProblem::NoDemand { .. },
                AdjustmentProblem::NoAbility { .. },
                AdjustmentProblem::Anchor { .. },
                AdjustmentProblem::Number { .. },
                AdjustmentProblem::Number { .. },
            ]
        ),
        "{problems:#?}"
    );
}
