//! Draws: what the truth foretells of a set is how sets drawn from it end.

use std::collections::BTreeMap;

use nextrung_capacity::load::ln_threshold;
use nextrung_capacity::task::Task;
use nextrung_domain::ids::RungRef;
use nextrung_domain::stop::Stop;
use nextrung_replay::dice::Dice;
use nextrung_replay::score::ending::Ending;
use nextrung_replay::simulate::family::{HEAVY_TAILS, MATCHED, NORMAL, SCATTERED};
use nextrung_replay::simulate::season::Watcher;
use nextrung_replay::simulate::standing::Standing;
use nextrung_replay::simulate::truth::Truth;
use nextrung_replay::simulate::world::PRESS;

use crate::scene::{catalog, crowd, number};

const DRAWS: usize = 20_000;
/// Cells in which fewer draws are expected are put together.
const LEAST: f64 = 10.0;

struct Nothing;

impl Watcher for Nothing {
    fn set(&mut self, _: &nextrung_replay::simulate::chooser::Look<'_, '_>) {}
}

/// The quantile at 99.9 % of a chi-square (Wilson and Hilferty 1931, from memory).
fn limit(freedom: f64) -> f64 {
    let part = 2.0 / (9.0 * freedom);
    freedom * libm::pow(1.0 - part + 3.09 * part.sqrt(), 3.0)
}

#[test]
fn the_limit_is_that_of_tables() {
    // 13.816, 29.588 and 59.703 for 2, 10 and 30 degrees of freedom (table of the chi-square, from memory).
    for (freedom, known) in [(2.0, 13.816), (10.0, 29.588), (30.0, 59.703)] {
        assert!((limit(freedom) / known - 1.0).abs() < 0.03, "{}", limit(freedom));
    }
}

/// Chi-square and degrees of freedom of drawn endings against what was foretold.
fn misfit(standing: &Standing, target: u16, drawn: &BTreeMap<(u16, Option<usize>), usize>) -> (f64, f64) {
    let endings = standing.endings(target).unwrap();
    let (mut sum, mut cells, mut rest) = (0.0, 0.0, (0.0, 0.0));
    let mut add = |expected: f64, seen: f64| {
        sum += (seen - expected) * (seen - expected) / expected;
        cells += 1.0;
    };
    let failures = (0..target).flat_map(|units| (0..3).map(move |cause| (units, Some(cause))));
    for (units, cause) in failures.chain([(target, None)]) {
        let ending = match cause {
            Some(cause) => Ending::Failed { units: usize::from(units), cause },
            None => Ending::Reached { units: usize::from(units) },
        };
        let expected = number(DRAWS) * endings.of(ending).unwrap();
        let seen = number(drawn.get(&(units, cause)).copied().unwrap_or(0));
        if expected < LEAST {
            rest = (rest.0 + expected, rest.1 + seen);
        } else {
            add(expected, seen);
        }
    }
    if rest.0 >= 1.0 {
        add(rest.0, rest.1);
    } else {
        assert!(rest.1 <= 10.0, "{} draws where {} were expected", rest.1, rest.0);
    }
    (sum, cells - 1.0)
}

/// Draws a set again and again from the truth at one moment, with other luck each time.
fn draw(truth: &Truth, task: &Task, target: u16) -> (Standing, BTreeMap<(u16, Option<usize>), usize>) {
    let mut drawn = BTreeMap::new();
    let mut standing = None;
    for stream in 0..DRAWS {
        let mut athlete = truth.with_luck(Dice::new(77, u64::try_from(stream).unwrap()));
        let done = athlete.perform(task, Some(target), 120);
        let cause = match done.stop {
            Stop::Strength => Some(0),
            Stop::Balance => Some(1),
            Stop::Line => Some(2),
            Stop::Target | Stop::Failed | Stop::Chosen | Stop::Pain | Stop::Interrupted | Stop::Other => None,
        };
        *drawn.entry((done.units, cause)).or_insert(0) += 1;
        assert_eq!(*standing.get_or_insert(done.standing), done.standing, "luck moves nothing else");
    }
    (standing.unwrap(), drawn)
}

#[test]
fn sets_end_as_often_as_foretold_by_each_cause() {
    let catalog = catalog();
    // Three kinds of ability on one rung; with help taken off its mass; and one ability alone.
    let tasks = [
        ("hand-balance/free-straight", 8, 1.0),
        ("press/free-press", 12, 0.85),
        ("press/pike-press", 6, 1.1),
    ];
    for family in [MATCHED, NORMAL, HEAVY_TAILS, SCATTERED] {
        let roster = crowd(family, PRESS, 1);
        let mut trainee = roster.follow(0, &mut Nothing).unwrap();
        trainee.enter(trainee.date.plus_days(3));
        for (name, target, ratio) in tasks {
            let rung = catalog.find(&RungRef::parse(name).unwrap()).unwrap_or_else(|| panic!("no {name}"));
            let task = Task::new(&catalog, rung, &[], ratio);
            for demand in task.demands() {
                // Every ability about as near to its limit as the others, so that each is often the cause.
                trainee.truth.place(demand, ln_threshold(0.85 * f64::from(target), ratio));
            }
            // Some work before it, so that fatigue is part of what is foretold.
            trainee.truth.perform(&task, Some(2), 180);
            let (standing, drawn) = draw(&trainee.truth, &task, target);
            let (sum, freedom) = misfit(&standing, target, &drawn);
            println!("{}, {name}: chi-square {sum:.1} on {freedom}", family.name);
            assert!(freedom >= 2.0, "{name}: too few cells");
            assert!(sum < limit(freedom), "{}, {name}: {sum} on {freedom}", family.name);
        }
    }
}

#[test]
fn a_truth_told_a_little_wrong_is_caught() {
    let roster = crowd(MATCHED, PRESS, 1);
    let mut trainee = roster.follow(0, &mut Nothing).unwrap();
    trainee.enter(trainee.date.plus_days(3));
    let catalog = catalog();
    let rung = catalog.find(&RungRef::parse("hand-balance/free-straight").unwrap()).unwrap();
    let task = Task::new(&catalog, rung, &[], 1.0);
    for demand in task.demands() {
        trainee.truth.place(demand, libm::log(6.0));
    }
    let (standing, drawn) = draw(&trainee.truth, &task, 8);
    let mut wrong = Standing::new(standing.noise, standing.mass_ratio);
    for demanded in standing.demands() {
        let mut other = *demanded;
        other.eta += 0.02;
        wrong.push(other);
    }
    let (sum, freedom) = misfit(&wrong, 8, &drawn);
    assert!(sum > 2.0 * limit(freedom), "{sum} on {freedom}");
}
