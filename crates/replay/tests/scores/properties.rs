//! What holds of every score: the truth scores best in expectation, and the parts of the Brier score are what they say.

use nextrung_replay::score::brier::{self, Parts};
use nextrung_replay::score::distribution::Counts;
use nextrung_replay::score::edge::Event;
use nextrung_replay::score::ending::{Ending, Endings};
use nextrung_replay::score::interval::Interval;
use nextrung_replay::score::isotonic::{Point, isotonic};
use nextrung_replay::score::{log, ranked};
use proptest::collection::vec;
use proptest::prelude::*;

/// Chances of `n` outcomes, none of them zero.
fn chances(n: usize) -> impl Strategy<Value = Vec<f64>> {
    vec(0.001..1.0, n).prop_map(|raw| {
        let sum: f64 = raw.iter().sum();
        raw.iter().map(|one| one / sum).collect()
    })
}

/// The truth and what somebody says instead.
fn truth_and_word() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
    (1_usize..9).prop_flat_map(|n| (chances(n), chances(n)))
}

/// Mean score when `truth` holds.
fn expected(truth: &[f64], score: impl Fn(usize) -> f64) -> f64 {
    truth.iter().enumerate().map(|(outcome, chance)| chance * score(outcome)).sum()
}

fn counts(chances: &[f64]) -> Counts {
    Counts::new(chances.to_vec()).expect("a distribution")
}

/// Two causes and a target from an odd number of chances, with every ending it tells apart, in the same order.
fn endings(chances: &[f64]) -> (Endings<2>, Vec<Ending>) {
    let (rows, rest) = chances.as_chunks::<2>();
    let cause = |i| Ending::Failed { units: i / 2, cause: i % 2 };
    let all = (0..2 * rows.len()).map(cause).chain([Ending::Reached { units: rows.len() }]).collect();
    (Endings::new(rows.to_vec(), rest[0]).expect("a prediction"), all)
}

/// Events with many ties: chances of tenths.
fn events() -> impl Strategy<Value = Vec<Event>> {
    let event = (0_u8..=10, any::<bool>(), 1_u8..5).prop_map(|(tenths, came, weight)| Event {
        chance: f64::from(tenths) / 10.0,
        came,
        weight: f64::from(weight),
    });
    vec(event, 1..40)
}

fn close(a: &Parts, b: &Parts) -> bool {
    let gap = |x: f64, y: f64| (x - y).abs() < 1e-12;
    gap(a.score, b.score)
        && gap(a.miscalibration, b.miscalibration)
        && gap(a.discrimination, b.discrimination)
        && gap(a.uncertainty, b.uncertainty)
}

/// Isotonic regression by its closed form: at `i`, the largest over starts up to `i` of the smallest over ends from `i` of
/// the mean between.
fn max_min(values: &[(f64, f64)], i: usize) -> f64 {
    let mean = |part: &[(f64, f64)]| {
        part.iter().map(|(v, w)| v * w).sum::<f64>() / part.iter().map(|(_, w)| w).sum::<f64>()
    };
    let least =
        |start: usize| (i..values.len()).map(|end| mean(&values[start..=end])).fold(f64::INFINITY, f64::min);
    (0..=i).map(least).fold(f64::NEG_INFINITY, f64::max)
}

proptest! {
    #[test]
    fn the_truth_has_the_best_log_score((truth, word) in truth_and_word()) {
        let of = |said: &[f64]| { let said = counts(said); expected(&truth, |k| log::of_count(&said, k)) };
        let lost = of(&word) - of(&truth);
        // What is lost is the divergence of Kullback and Leibler.
        let divergence: f64 = truth.iter().zip(&word).map(|(p, q)| p * libm::log(p / q)).sum();
        prop_assert!((lost - divergence).abs() < 1e-12);
        prop_assert!(lost >= -1e-14);
    }

    #[test]
    fn the_truth_has_the_best_log_score_with_causes(
        (truth, word) in (0_usize..6).prop_flat_map(|n| (chances(2 * n + 1), chances(2 * n + 1)))
    ) {
        let of = |said: &[f64]| {
            let (said, all) = endings(said);
            expected(&truth, |i| log::of_ending(&said, all[i]).expect("an ending"))
        };
        prop_assert!(of(&word) - of(&truth) >= -1e-14);
    }

    #[test]
    fn a_cause_not_said_scores_as_the_count(said in (0_usize..6).prop_flat_map(|n| chances(2 * n + 1))) {
        let (endings, _) = endings(&said);
        let counts = endings.counts();
        for units in 0..endings.target() {
            let somehow = log::of_ending(&endings, Ending::FailedSomehow { units }).expect("an ending");
            prop_assert!((somehow - log::of_count(&counts, units)).abs() < 1e-12);
        }
    }

    #[test]
    fn the_truth_has_the_best_ranked_score((truth, word) in truth_and_word()) {
        let of = |said: &[f64]| { let said = counts(said); expected(&truth, |k| ranked::of_count(&said, k)) };
        let lost = of(&word) - of(&truth);
        // What is lost is the squared distance of the distribution functions.
        let (said, held) = (counts(&word), counts(&truth));
        let distance: f64 = said.cumulative().zip(held.cumulative()).map(|(a, b)| (a - b) * (a - b)).sum();
        prop_assert!((lost - distance).abs() < 1e-12);
        prop_assert!(lost >= -1e-14);
    }

    #[test]
    fn the_truth_has_the_best_brier_score(truth in 0.0..=1.0, word in 0.0..=1.0) {
        let of = |chance: f64| {
            let score = |came| brier::of_event(&Event { chance, came, weight: 1.0 });
            truth * score(true) + (1.0 - truth) * score(false)
        };
        prop_assert!((of(word) - of(truth) - (word - truth) * (word - truth)).abs() < 1e-14);
    }

    #[test]
    fn parts_are_never_negative_and_add_up(events in events()) {
        let p = brier::parts(&events).expect("parts");
        for part in [p.score, p.miscalibration, p.discrimination, p.uncertainty] {
            prop_assert!((0.0..=1.0).contains(&part), "{p:?}");
        }
        prop_assert!((p.miscalibration - p.discrimination + p.uncertainty - p.score).abs() < 1e-14, "{p:?}");
    }

    #[test]
    fn calibrated_chances_lose_nothing_to_calibration(events in events()) {
        let as_point = |e: &Event| Point { at: e.chance, value: if e.came { 1.0 } else { 0.0 }, weight: e.weight };
        let steps = isotonic(&events.iter().map(as_point).collect::<Vec<_>>()).expect("steps");
        let fitted = |at: f64| steps.iter().find(|s| s.from <= at && at <= s.to).expect("a step").value();
        let calibrated: Vec<Event> = events.iter().map(|e| Event { chance: fitted(e.chance), ..*e }).collect();
        let (before, after) = (brier::parts(&events).expect("parts"), brier::parts(&calibrated).expect("parts"));
        prop_assert!((0.0..1e-14).contains(&after.miscalibration), "{after:?}");
        prop_assert!((after.discrimination - before.discrimination).abs() < 1e-12, "{before:?} {after:?}");
    }

    #[test]
    fn a_weight_is_as_many_events_and_order_is_nothing(events in events()) {
        let parts = brier::parts(&events).expect("parts");
        let mut repeated: Vec<Event> = Vec::new();
        for e in events.iter().rev() {
            let mut left = e.weight;
            while left > 0.0 {
                repeated.push(Event { weight: 1.0, ..*e });
                left -= 1.0;
            }
        }
        let again = brier::parts(&repeated).expect("parts");
        prop_assert!(close(&parts, &again), "{parts:?} {again:?}");
    }

    #[test]
    fn isotonic_fits_have_their_closed_form(values in vec((-5.0..5.0, 0.1..3.0), 1..25)) {
        let place = |i: usize| f64::from(u32::try_from(i).expect("small"));
        let point = |(i, &(value, weight)): (usize, &(f64, f64))| Point { at: place(i), value, weight };
        let steps = isotonic(&values.iter().enumerate().map(point).collect::<Vec<_>>()).expect("steps");
        prop_assert!(steps.is_sorted_by(|a, b| a.value() < b.value() && a.to < b.from));
        for i in 0..values.len() {
            let step = steps.iter().find(|s| s.from <= place(i) && place(i) <= s.to).expect("a step");
            prop_assert!((step.value() - max_min(&values, i)).abs() < 1e-12);
        }
    }

    #[test]
    fn central_intervals_hold_their_level(said in (1_usize..9).prop_flat_map(chances), level in 0.01..0.99) {
        let counts = counts(&said);
        let interval = Interval::central(&counts, level).expect("an interval");
        let inside: f64 = (interval.low..=interval.high).map(|k| counts.of(k)).sum();
        prop_assert!((inside - interval.chance).abs() < 1e-12);
        prop_assert!(inside >= level - 1e-12);
        // No more than the tail's share lies on either side.
        let tail = 0.5 * (1.0 - level) + 1e-12;
        prop_assert!(counts.below(interval.low).expect("below the top") <= tail);
        prop_assert!((interval.high + 1..said.len()).map(|k| counts.of(k)).sum::<f64>() <= tail);
    }
}
