//! Foretelling: nobody expects to foretell sets better than the truth does, not the model's own filter either.

use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::outlook::Strain;
use nextrung_capacity::params::Parameters;
use nextrung_capacity::state::AthleteState;
use nextrung_domain::set::SetEntry;
use nextrung_replay::dice::Dice;
use nextrung_replay::score::difference::Differences;
use nextrung_replay::score::ending::Ending;
use nextrung_replay::score::log;
use nextrung_replay::simulate::bootstrap::Estimate;
use nextrung_replay::simulate::crowd::SimulatedAthlete;
use nextrung_replay::simulate::crowd::mail::standing;
use nextrung_replay::simulate::family::{Family, MATCHED, all};
use nextrung_replay::simulate::standing::{Demanded, Standing};
use nextrung_replay::simulate::trainee::Telling;
use nextrung_replay::simulate::world::{LEVER, PRESS};

use crate::scene::{catalog, crowd, number, pullers};

/// An ending without its cause.
fn count_alone(ending: Ending) -> Ending {
    match ending {
        Ending::Failed { units, .. } => Ending::FailedSomehow { units },
        Ending::FailedSomehow { .. } | Ending::Reached { .. } => ending,
    }
}

/// The filter's chance of an ending without its cause, before it hears of the set.
fn filters_chance(model: &Model, state: &AthleteState, set: &SetEntry, ending: Ending) -> f64 {
    let (task, done) = model.read(set).unwrap();
    let state = state.on(&model.parameters, done.day);
    let outlook = state.outlook(model, &task);
    let rest = done.rest_seconds.map_or(model.parameters.usual_rest_seconds, f64::from);
    let left = libm::exp(-rest / model.parameters.recovery_seconds);
    let blocks = task.demands().iter().filter_map(|d| state.block(d.ability));
    let work = blocks.filter(|b| b.day == done.day).map(|b| left * b.work).fold(0.0, f64::max);
    let reach = |units: usize| outlook.at_least(number(units), Strain { work, margin: 0.0 });
    match ending {
        Ending::Failed { units, .. } | Ending::FailedSomehow { units } => reach(units) - reach(units + 1),
        Ending::Reached { units } => reach(units),
    }
}

/// Mean log score of the truth less that of the filter, over the sets that stand, in training order.
fn lead(athletes: &[SimulatedAthlete]) -> (Estimate, usize) {
    let model = Model::new(catalog(), Parameters::default());
    let mut differences = Differences::new();
    let mut sets = 0;
    for athlete in athletes {
        let mut told = standing(&athlete.log.events);
        told.sort_by_key(|set| set.place());
        assert_eq!(told.len(), athlete.oracle.len());
        let (mut state, mut scratch) = (AthleteState::new(&model.parameters), Scratch::default());
        for (set, oracle) in told.into_iter().zip(&athlete.oracle) {
            assert_eq!(set.client_set_id, oracle.client_set_id, "the truth's sets come in training order");
            let ending = count_alone(oracle.ending);
            let ours = log::of_ending(&oracle.endings, ending).unwrap();
            let theirs = -libm::log(filters_chance(&model, &state, set, ending).max(1e-12));
            differences.add(athlete.log.athlete.clone(), [ours, theirs], 1.0).unwrap();
            let (task, done) = model.read(set).unwrap();
            state.observe(&model, &mut scratch, (&task, &done));
            sets += 1;
        }
    }
    (differences.mean(&mut Dice::new(1, 0)).unwrap(), sets)
}

#[test]
fn in_every_family_the_truth_foretells_sets_better_than_the_filter() {
    for family in all() {
        let (lead, sets) = lead(&pullers(family, 24));
        println!("{}: {sets} sets, {:.3} nats ({:.3} to {:.3})", family.name, lead.mean, lead.low, lead.high);
        assert!(sets > 1500, "{}: {sets} sets", family.name);
        assert!(lead.high < -0.01, "{}: {lead:?}", family.name);
    }
}

#[test]
fn in_every_world_the_truth_foretells_sets_better_than_the_filter() {
    for world in [LEVER, PRESS] {
        let athletes: Vec<SimulatedAthlete> =
            crowd(MATCHED, world, 12).athletes().map(Result::unwrap).collect();
        let (lead, sets) = lead(&athletes);
        println!("{}: {sets} sets, {:.3} nats ({:.3} to {:.3})", world.name, lead.mean, lead.low, lead.high);
        assert!(lead.high < -0.01, "{}: {lead:?}", world.name);
    }
}

/// Somebody who knows the truth is as surprised as they expect to be: the mean of minus ln of the chance given to what
/// happened is the expected one, set by set, where sets reach their target or fail with the cause said.
#[test]
fn the_truth_is_as_surprised_as_it_expects() {
    let (mut sum, mut variance, mut sets) = (0.0, 0.0, 0);
    for athlete in pullers(MATCHED, 40) {
        for oracle in &athlete.oracle {
            let target = oracle.endings.target();
            let surprise = |ending| {
                let chance = oracle.endings.of(ending).unwrap();
                if chance > 0.0 { (chance, -libm::log(chance)) } else { (0.0, 0.0) }
            };
            let ends = (0..target).map(|units| surprise(Ending::FailedSomehow { units }));
            let all: Vec<(f64, f64)> = ends.chain([surprise(Ending::Reached { units: target })]).collect();
            let whole = match oracle.ending {
                Ending::Reached { units } => units == target,
                Ending::Failed { .. } | Ending::FailedSomehow { .. } => true,
            };
            if !whole {
                continue;
            }
            let expected: f64 = all.iter().map(|(p, s)| p * s).sum();
            let spread: f64 = all.iter().map(|(p, s)| p * (s - expected) * (s - expected)).sum();
            sum += surprise(count_alone(oracle.ending)).1 - expected;
            variance += spread;
            sets += 1;
        }
    }
    println!("{sets} sets, {sum} off, {} standard errors", sum / variance.sqrt());
    assert!(sets > 4000);
    assert!(sum.abs() < 3.3 * variance.sqrt(), "{sum} of {}", variance.sqrt());
}

/// The standing with every predictor moved.
fn moved(standing: &Standing, by: f64) -> Standing {
    let mut other = Standing::new(standing.noise, standing.mass_ratio);
    for demanded in standing.demands() {
        other.push(Demanded { eta: demanded.eta + by, ..*demanded });
    }
    other
}

/// Slope of the mean log chance in the predictors at the truth, in standard errors, and how many sets were cut short.
fn slope(family: Family) -> (f64, usize) {
    const STEP: f64 = 0.002;
    let (mut sum, mut squares, mut cut_short) = (0.0, 0.0, 0);
    for oracle in pullers(family, 32).iter().flat_map(|athlete| &athlete.oracle) {
        let top = u16::try_from(oracle.endings.target()).unwrap();
        let chance = |by| moved(&oracle.standing, by).endings(top).unwrap().of(oracle.ending).unwrap();
        let slope = (libm::log(chance(STEP)) - libm::log(chance(-STEP))) / (2.0 * STEP);
        sum += slope;
        squares += slope * slope;
        let is_short = matches!(oracle.ending, Ending::Reached { units } if units < oracle.endings.target());
        cut_short += usize::from(is_short);
    }
    (sum / squares.sqrt(), cut_short)
}

/// Where sets are stopped by choice or pain, or never told, must not depend on their luck: else who is a little too hopeful
/// or too gloomy would foretell better than the truth.
#[test]
fn in_no_family_does_it_pay_to_be_too_hopeful_or_too_gloomy() {
    for family in all() {
        let (off, cut_short) = slope(family);
        println!("{}: slope {off:.2} standard errors, {cut_short} sets cut short", family.name);
        assert!(cut_short > 100, "{}", family.name);
        assert!(off.abs() < 3.5, "{}: {off}", family.name);
    }
}

#[test]
fn stops_near_the_limit_would_reward_hope() {
    let near = Family { telling: Telling { chosen: 0.3, near: 1.0, ..MATCHED.telling }, ..MATCHED };
    let (off, _) = slope(near);
    assert!(off > 3.5, "{off}");
}
