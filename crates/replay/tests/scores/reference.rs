//! Values of scikit-learn, scoringrules, properscoring and scipy: `tests/reference/r07_scoring.py.out` and
//! `r14_score_parts.py.out`, on the invented events of `calib500.csv`.

use nextrung_replay::score::brier::{self, Parts};
use nextrung_replay::score::distribution::Counts;
use nextrung_replay::score::edge::Event;
use nextrung_replay::score::interval::Interval;
use nextrung_replay::score::isotonic::{Point, Step, isotonic};
use nextrung_replay::score::{log, ranked};
use serde_json::Value;

const R07: &str = include_str!("../../../../tests/reference/r07_scoring.py.out");
const R14: &str = include_str!("../../../../tests/reference/r14_score_parts.py.out");
const EVENTS: &str = include_str!("../../../../tests/reference/calib500.csv");
/// Rounding of sums of 500 numbers below 1.
const ROUNDING: f64 = 1e-13;
/// The distribution of a count in both scripts.
const COUNTS: [f64; 7] = [0.05, 0.1, 0.2, 0.3, 0.2, 0.1, 0.05];

/// The numbers at a place of an output, in order.
fn numbers(output: &str, place: &str) -> Vec<f64> {
    fn leaves(value: &Value, into: &mut Vec<f64>) {
        into.extend(value.as_f64());
        value.as_array().into_iter().flatten().for_each(|inner| leaves(inner, into));
        value.as_object().into_iter().flatten().for_each(|(_, inner)| leaves(inner, into));
    }
    let tree: Value = serde_json::from_str(output).expect("an output");
    let mut found = Vec::new();
    leaves(tree.pointer(place).expect(place), &mut found);
    assert!(!found.is_empty(), "{place} holds numbers");
    found
}

fn number(output: &str, place: &str) -> f64 {
    numbers(output, place)[0]
}

fn agree(what: &str, ours: &[f64], theirs: &[f64]) {
    assert_eq!(ours.len(), theirs.len(), "{what}: {ours:?} and {theirs:?}");
    for (a, b) in ours.iter().zip(theirs) {
        assert!((a - b).abs() <= ROUNDING, "{what}: {a} and {b}");
    }
}

fn events() -> Vec<Event> {
    let row = |line: &str| {
        let (chance, came) = line.split_once(',').expect("two columns");
        Event { chance: chance.parse().expect("a chance"), came: came == "1", weight: 1.0 }
    };
    let events: Vec<Event> = EVENTS.lines().skip(1).map(row).collect();
    assert_eq!(events.len(), 500);
    events
}

fn points(events: &[Event]) -> Vec<Point> {
    let point = |e: &Event| Point { at: e.chance, value: if e.came { 1.0 } else { 0.0 }, weight: e.weight };
    events.iter().map(point).collect()
}

fn values(steps: &[Step]) -> Vec<f64> {
    steps.iter().map(Step::value).collect()
}

/// The fitted value at a place that was among the points.
fn at(steps: &[Step], place: f64) -> f64 {
    steps.iter().find(|step| step.from <= place && place <= step.to).expect("a step there").value()
}

fn counts() -> Counts {
    Counts::new(COUNTS.to_vec()).expect("a distribution")
}

#[test]
fn ranked_scores_are_those_of_two_libraries() {
    let ours: Vec<f64> = (0..7).map(|count| ranked::of_count(&counts(), count)).collect();
    for place in ["/rps_own", "/rps_sr_variant", "/crps_of_100pt_ensemble"] {
        agree(place, &ours, &numbers(R07, place));
    }
}

#[test]
fn brier_scores_are_those_of_properscoring() {
    let said = [(0.9, true), (0.2, false), (0.4, true)];
    let ours = said.map(|(chance, came)| brier::of_event(&Event { chance, came, weight: 1.0 }));
    agree("brier", &ours, &numbers(R07, "/brier_ps"));
}

#[test]
fn the_mean_log_score_is_that_of_scikit_learn() {
    let score = |e: &Event| {
        let counts = Counts::new(vec![1.0 - e.chance, e.chance]).expect("a distribution");
        log::of_count(&counts, usize::from(e.came))
    };
    let mean = events().iter().map(score).sum::<f64>() / 500.0;
    agree("log loss", &[mean], &[number(R07, "/calib500/logloss")]);
}

#[test]
fn parts_of_the_brier_score_are_those_of_scikit_learn() {
    let found = brier::parts(&events()).expect("parts");
    let ours = [found.score, found.miscalibration, found.discrimination, found.uncertainty];
    let theirs = ["S", "MCB", "DSC", "UNC"].map(|part| number(R07, &format!("/CORP_brier/{part}")));
    agree("parts", &ours, &theirs);
    agree("score", &ours[..1], &[number(R07, "/calib500/brier")]);
}

#[test]
fn isotonic_fits_are_those_of_scikit_learn() {
    let events = events();
    let steps = isotonic(&points(&events)).expect("steps");
    agree("levels", &[f64::from(u32::try_from(steps.len()).expect("few"))], &numbers(R07, "/iso/n_levels"));
    let mut places: Vec<f64> = events.iter().map(|e| e.chance).collect();
    places.sort_by(f64::total_cmp);
    let fitted: Vec<f64> = places.iter().map(|&place| at(&steps, place)).collect();
    agree("first five", &fitted[..5], &numbers(R07, "/iso/first5_sorted"));
    agree("middle", &[100, 250, 400].map(|i| fitted[i]), &numbers(R07, "/iso/at_sorted_idx_100_250_400"));
    let calibrated = |e: &Event| brier::of_event(&Event { chance: at(&steps, e.chance), ..*e });
    let mean = events.iter().map(calibrated).sum::<f64>() / 500.0;
    agree("calibrated", &[mean], &[number(R07, "/iso/brier_after_iso")]);
}

#[test]
fn small_isotonic_fits_are_those_of_scikit_learn() {
    let seen = [1.0, 3.0, 2.0, 4.0, 3.5, 5.0, 4.0, 8.0];
    let places = || (1..=8).map(f64::from);
    let fit = |seen: &[f64], weights: [f64; 8]| -> Vec<f64> {
        let point = |((at, &value), weight)| Point { at, value, weight };
        let points: Vec<Point> = places().zip(seen).zip(weights).map(point).collect();
        let steps = isotonic(&points).expect("steps");
        places().map(|place| at(&steps, place)).collect()
    };
    agree("plain", &fit(&seen, [1.0; 8]), &numbers(R07, "/iso_small/y"));
    let weights = [1.0, 2.0, 1.0, 1.0, 3.0, 1.0, 1.0, 1.0];
    agree("weighted", &fit(&seen, weights), &numbers(R07, "/iso_small/weighted"));
    let falling = fit(&seen.map(|value| -value), [1.0; 8]).iter().map(|value| -value).collect::<Vec<_>>();
    agree("falling", &falling, &numbers(R07, "/iso_small/decreasing"));
}

#[test]
fn pooling_goes_back_no_further_than_it_must() {
    let point = |(at, value)| Point { at, value, weight: 1.0 };
    let points: Vec<Point> = [(0.0, 0.0), (1.0, 1.0), (2.0, 5.0), (3.0, 6.0), (4.0, 0.0)].map(point).into();
    let steps = isotonic(&points).expect("steps");
    let fitted: Vec<f64> = points.iter().map(|p| at(&steps, p.at)).collect();
    agree("back", &fitted, &numbers(R14, "/back"));
}

#[test]
fn ties_and_weights_are_treated_as_by_scikit_learn() {
    let weighted = |events: Vec<Event>| -> Vec<Event> {
        let weights = [1.0, 2.0, 3.0].into_iter().cycle();
        events.into_iter().zip(weights).map(|(e, weight)| Event { weight, ..e }).collect()
    };
    let moved = |to: fn(f64) -> f64| -> Vec<Event> {
        events().into_iter().map(|e| Event { chance: to(e.chance), ..e }).collect()
    };
    let tied = || moved(|chance| (chance * 10.0).round() / 10.0);
    let cases = [
        ("tied", tied()),
        ("tied_weighted", weighted(tied())),
        ("weighted", weighted(events())),
        ("against", moved(|chance| 1.0 - chance)),
    ];
    for (name, events) in cases {
        let Parts { score, miscalibration, discrimination, uncertainty } =
            brier::parts(&events).expect("parts");
        let theirs = ["S", "MCB", "DSC", "UNC"].map(|part| number(R14, &format!("/{name}/{part}")));
        agree(name, &[score, miscalibration, discrimination, uncertainty], &theirs);
        let steps = isotonic(&points(&events)).expect("steps");
        agree(name, &values(&steps), &numbers(R14, &format!("/{name}/levels")));
    }
}

#[test]
fn central_intervals_are_those_of_scipy() {
    let intervals =
        [0.25, 0.6, 0.8, 0.95].map(|level| Interval::central(&counts(), level).expect("an interval"));
    let end = |count: usize| f64::from(u32::try_from(count).expect("small"));
    let ends: Vec<f64> = intervals.iter().flat_map(|i| [end(i.low), end(i.high)]).collect();
    agree("ends", &ends, &numbers(R14, "/intervals"));
    agree("chances", &intervals.map(|i| i.chance), &numbers(R14, "/intervals_chance"));
}
