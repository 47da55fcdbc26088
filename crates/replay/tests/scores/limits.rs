//! Cases by hand, and what happens at the edges of the input.

use nextrung_domain::band::Band;
use nextrung_replay::dice::Dice;
use nextrung_replay::score::brier::{self, Parts};
use nextrung_replay::score::difference::Differences;
use nextrung_replay::score::distribution::Counts;
use nextrung_replay::score::edge::{self, Event};
use nextrung_replay::score::ending::{Ending, Endings};
use nextrung_replay::score::interval::{Interval, coverage};
use nextrung_replay::score::isotonic::{Point, Step, isotonic};
use nextrung_replay::score::{ScoreError, log, rank, ranked};

fn counts(chances: &[f64]) -> Counts {
    Counts::new(chances.to_vec()).expect("a distribution")
}

fn event(chance: f64, came: bool) -> Event {
    Event { chance, came, weight: 1.0 }
}

/// A target of two units; causes: strength, balance.
fn endings() -> Endings<2> {
    Endings::new(vec![[0.125, 0.25], [0.25, 0.125]], 0.25).expect("a prediction")
}

#[test]
fn log_scores_of_a_count() {
    let predicted = counts(&[0.5, 0.25, 0.25]);
    let halvings = |n: f64| n * std::f64::consts::LN_2;
    assert_eq!([0, 1, 2, 7].map(|k| log::of_count(&predicted, k)), [1.0, 2.0, 2.0, 2.0].map(halvings));
    assert_eq!(log::of_count(&counts(&[0.0, 1.0]), 0), f64::INFINITY, "what could not be has come");
    let sure = log::of_count(&counts(&[0.0, 1.0]), 1);
    assert!(sure == 0.0 && sure.is_sign_positive(), "certain and right");
}

#[test]
fn log_scores_of_a_count_with_its_cause() {
    let halvings = |ending, n: f64| {
        let score = log::of_ending(&endings(), ending).expect("a score");
        assert!((score - n * std::f64::consts::LN_2).abs() < 1e-15, "{ending:?}: {score}");
    };
    halvings(Ending::Failed { units: 0, cause: 0 }, 3.0);
    halvings(Ending::Failed { units: 1, cause: 0 }, 2.0);
    halvings(Ending::Reached { units: 2 }, 2.0);
    halvings(Ending::Reached { units: 0 }, 0.0);
    let somehow = log::of_ending(&endings(), Ending::FailedSomehow { units: 1 });
    assert_eq!(somehow, Ok(-libm::log(0.375)), "whatever the cause");
    let ended_after_one = log::of_ending(&endings(), Ending::Reached { units: 1 });
    assert_eq!(ended_after_one, Ok(-libm::log(0.625)), "all that goes on after one unit");
}

#[test]
fn endings_not_predicted_are_refused() {
    let score = |ending| log::of_ending(&endings(), ending);
    let strange = |units| Err(ScoreError::Ending { units, target: 2 });
    assert_eq!(score(Ending::Failed { units: 2, cause: 0 }), strange(2), "a failure at the target");
    assert_eq!(score(Ending::FailedSomehow { units: 5 }), strange(5));
    assert_eq!(score(Ending::Reached { units: 3 }), strange(3), "more than the target");
    assert_eq!(score(Ending::Failed { units: 0, cause: 2 }), Err(ScoreError::Cause { cause: 2, causes: 2 }));
    assert_eq!(Endings::new(vec![[0.5, 0.25]], 0.125), Err(ScoreError::Sum { sum: 0.875 }));
    assert_eq!(Endings::<2>::new(vec![], 0.0), Err(ScoreError::Sum { sum: 0.0 }));
    assert!(matches!(Endings::new(vec![[f64::NAN]], 1.0), Err(ScoreError::Chance { .. })));
}

#[test]
fn the_count_of_an_ending_forgets_the_cause() {
    assert_eq!(endings().counts(), counts(&[0.375, 0.375, 0.25]));
    assert_eq!(endings().target(), 2);
}

#[test]
fn ranked_scores() {
    let sure = counts(&[0.0, 0.0, 1.0, 0.0, 0.0]);
    assert_eq!([0, 1, 2, 3, 4, 9].map(|k| ranked::of_count(&sure, k)), [2.0, 1.0, 0.0, 1.0, 2.0, 2.0]);
    assert_eq!(ranked::of_count(&counts(&[1.0]), 3), 0.0, "nothing to tell apart");
}

#[test]
fn edges_of_a_band() {
    let predicted = counts(&[0.125, 0.125, 0.25, 0.25, 0.25]);
    let band = Band { low: 2, high: 3 };
    let came = |k| edge::events(&predicted, k, band).map(|event| event.expect("an edge that shows").came);
    assert_eq!([1, 2, 3, 4, 8].map(came), [[false; 2], [true, false], [true, false], [true; 2], [true; 2]]);
    let chances = edge::events(&predicted, 2, band).map(|event| event.map(|e| (e.chance, e.weight)));
    assert_eq!(chances, [Some((0.75, 1.0)), Some((0.25, 1.0))]);
    let short = edge::events(&counts(&[0.25, 0.25, 0.25, 0.25]), 3, band);
    assert_eq!(
        short,
        [Some(event(0.5, true)), None],
        "a set of three does not show whether a fourth was there"
    );
}

#[test]
fn parts_by_hand() {
    // Said 1/4 to two events of which one comes, 3/4 to two of which both come: true shares 1/2 and 1, mean 3/4.
    let events = [event(0.25, true), event(0.25, false), event(0.75, true), event(0.75, true)];
    let expected =
        Parts { score: 0.1875, miscalibration: 0.0625, discrimination: 0.0625, uncertainty: 0.1875 };
    assert_eq!(brier::parts(&events), Ok(expected));
    let never = Parts { score: 0.25, miscalibration: 0.25, discrimination: 0.0, uncertainty: 0.0 };
    assert_eq!(brier::parts(&[event(0.5, false)]), Ok(never), "one event tells nothing apart");
}

#[test]
fn events_that_cannot_be_scored() {
    assert_eq!(brier::parts(&[]), Err(ScoreError::Empty));
    assert_eq!(brier::parts(&[event(1.5, true)]), Err(ScoreError::Chance { chance: 1.5 }));
    assert!(matches!(brier::parts(&[event(f64::NAN, true)]), Err(ScoreError::Chance { .. })));
    for weight in [0.0, -1.0, f64::INFINITY] {
        let events = [event(0.5, true), Event { weight, ..event(0.5, true) }];
        assert_eq!(brier::parts(&events), Err(ScoreError::Weight { weight }));
    }
}

#[test]
fn isotonic_steps_know_their_places() {
    let point = |at, value| Point { at, value, weight: 1.0 };
    let steps = isotonic(&[point(3.0, 5.0), point(1.0, 2.0), point(2.0, 0.0), point(3.0, 7.0)]);
    let expected = [
        Step { from: 1.0, to: 2.0, sum: 2.0, weight: 2.0 },
        Step { from: 3.0, to: 3.0, sum: 12.0, weight: 2.0 },
    ];
    assert_eq!(steps.as_deref(), Ok(expected.as_slice()));
    assert_eq!(isotonic(&[]), Err(ScoreError::Empty));
    assert_eq!(isotonic(&[point(f64::INFINITY, 0.0)]), Err(ScoreError::Value { value: f64::INFINITY }));
    assert!(matches!(isotonic(&[point(0.0, f64::NAN)]), Err(ScoreError::Value { .. })));
    let zeros = isotonic(&[point(0.0, 1.0), point(-0.0, 0.0)]).expect("steps");
    assert_eq!(zeros.iter().map(Step::value).collect::<Vec<_>>(), [0.5], "the two zeros are one place");
}

#[test]
fn intervals_by_hand() {
    let predicted = counts(&[0.125, 0.125, 0.5, 0.125, 0.125]);
    let at = |level| Interval::central(&predicted, level).expect("an interval");
    assert_eq!(at(0.4), Interval { low: 2, high: 2, open: false, chance: 0.5 });
    assert_eq!(at(0.9), Interval { low: 0, high: 4, open: true, chance: 1.0 });
    assert_eq!([1, 2, 3].map(|k| at(0.4).holds(k)), [false, true, false]);
    assert!(at(0.9).holds(40), "the top is open");
    for level in [0.0, 1.0, -0.5] {
        assert_eq!(Interval::central(&predicted, level), Err(ScoreError::Level { level }));
    }
    assert!(matches!(Interval::central(&predicted, f64::NAN), Err(ScoreError::Level { .. })));
    let found = coverage(&[(at(0.4), 2), (at(0.4), 3), (at(0.9), 3), (at(0.4), 2)]).expect("a coverage");
    assert_eq!((found.found, found.expected), (0.75, 0.625));
    assert_eq!(coverage(&[]), Err(ScoreError::Empty));
}

#[test]
fn ranks_lie_in_the_share_of_their_count() {
    let predicted = counts(&[0.25, 0.5, 0.25]);
    let mut dice = Dice::new(1, 0);
    for (count, low, high) in [(0, 0.0, 0.25), (1, 0.25, 0.75), (2, 0.75, 1.0), (9, 0.75, 1.0)] {
        let rank = rank::of_count(&predicted, count, &mut dice);
        assert!((low..=high).contains(&rank), "{count}: {rank}");
    }
    let shared = [2, 9].map(|count| rank::of_count(&predicted, count, &mut Dice::new(2, 0)));
    assert_eq!(shared[0], shared[1], "a count above the top is the top");
    let same = |seed| rank::of_count(&predicted, 1, &mut Dice::new(seed, 0)).to_bits();
    assert_eq!(same(3), same(3));
    assert_ne!(same(3), same(4));
}

#[test]
fn differences_by_hand() {
    let mut differences = Differences::new();
    for (athlete, scores, weight) in [
        ("ann", [3.0, 1.0], 1.0),
        ("bo", [1.0, 2.0], 2.0),
        ("ann", [1.0, 3.0], 1.0),
        ("ann", [1.0, 1.0], 2.0),
    ] {
        differences.add(athlete, scores, weight).expect("a difference");
    }
    // Ann: 2 - 2 + 0 at a weight of 4. Bo: -2 at a weight of 2. Two athletes bound each other.
    let found = differences.mean(&mut Dice::new(1, 0)).expect("a mean");
    assert_eq!((found.mean, found.low, found.high), (-2.0 / 6.0, -1.0, 0.0));
}

#[test]
fn differences_that_mean_nothing() {
    let mut differences = Differences::new();
    let mut dice = Dice::new(1, 0);
    assert_eq!(differences.mean(&mut dice), Err(ScoreError::Empty));
    let infinite = Err(ScoreError::Value { value: f64::INFINITY });
    assert_eq!(differences.add(1, [f64::INFINITY, f64::INFINITY], 1.0), infinite);
    assert_eq!(differences.add(1, [1.0, 2.0], 0.0), Err(ScoreError::Weight { weight: 0.0 }));
    assert_eq!(differences.mean(&mut dice), Err(ScoreError::Empty), "what was refused left no trace");
    differences.add(1, [1.0, 2.0], 1.0).expect("a difference");
    assert_eq!(differences.mean(&mut dice), Err(ScoreError::Athletes { athletes: 1 }));
}

#[test]
fn sums_that_overflow_are_refused() {
    let huge = [true, false].map(|came| Event { weight: f64::MAX, ..event(0.5, came) });
    assert_eq!(brier::parts(&huge), Err(ScoreError::Weight { weight: f64::INFINITY }));
    let far = [-1.0, 1.0].map(|sign| Point { at: sign, value: sign * f64::MAX, weight: 1.0 });
    assert_eq!(isotonic(&far), Err(ScoreError::Value { value: f64::INFINITY }));
    let mut differences = Differences::new();
    for (athlete, score) in [(1, f64::MAX), (2, f64::MAX)] {
        differences.add(athlete, [score, 0.0], 1.0).expect("a difference");
    }
    assert_eq!(differences.mean(&mut Dice::new(1, 0)), Err(ScoreError::Value { value: f64::INFINITY }));
}

#[test]
fn chances_rounded_in_a_file_give_no_score_out_of_range() {
    let over = 0.4 + 5e-10;
    let rounded = counts(&[0.6, over, 0.0]);
    let band = Band { low: 1, high: 1 };
    let events = edge::events(&rounded, 2, band).map(|event| event.expect("an edge that shows"));
    assert_eq!(events[1].chance, 0.0);
    assert!(brier::parts(&events).is_ok());
    assert_eq!(ranked::of_count(&rounded, 2), 0.6 * 0.6 + 1.0, "the distribution function ends at one");
    assert_eq!(rank::of_count(&rounded, 2, &mut Dice::new(1, 0)), 1.0);
    assert_eq!(Interval::central(&rounded, 0.9).map(|interval| interval.chance), Ok(1.0));
    let sure = Endings::new(vec![[0.6, over]], 0.0).expect("a prediction");
    for ending in [Ending::FailedSomehow { units: 0 }, Ending::Reached { units: 0 }] {
        assert_eq!(log::of_ending(&sure, ending), Ok(0.0), "{ending:?}");
        assert!(sure.of(ending).expect("a chance") <= 1.0, "{ending:?}");
    }
    assert_eq!(sure.counts(), counts(&[1.0, 0.0]));
}
