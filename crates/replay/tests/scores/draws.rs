//! What can only be seen on many draws, with fixed seeds: ranks, coverage and the interval of a difference.

use nextrung_replay::dice::Dice;
use nextrung_replay::score::difference::Differences;
use nextrung_replay::score::distribution::Counts;
use nextrung_replay::score::interval::{Coverage, Interval, coverage};
use nextrung_replay::score::rank;
use nextrung_replay::simulate::binomial::central_band;

const SETS: u32 = 20_000;
const TENTHS: u32 = 10;

/// Chances of 0 to 7, uniform among all there are.
fn a_distribution(dice: &mut Dice) -> Vec<f64> {
    let raw: Vec<f64> = (0..8).map(|_| dice.exponential()).collect();
    let sum: f64 = raw.iter().sum();
    raw.iter().map(|one| one / sum).collect()
}

/// A count drawn from chances.
fn drawn(chances: &[f64], dice: &mut Dice) -> usize {
    let mut left = dice.unit();
    let stops = |chance: &f64| {
        left -= chance;
        left < 0.0
    };
    chances.iter().position(stops).unwrap_or(chances.len() - 1)
}

/// What somebody says who takes likely counts for too likely: the chances squared, made to sum to one.
fn too_sure(chances: &[f64]) -> Vec<f64> {
    let sum: f64 = chances.iter().map(|c| c * c).sum();
    chances.iter().map(|c| c * c / sum).collect()
}

/// For every set: what is said and what comes.
fn sets(said: impl Fn(&[f64]) -> Vec<f64>) -> Vec<(Counts, usize)> {
    let mut dice = Dice::new(20, 0);
    let one = |dice: &mut Dice| {
        let truth = a_distribution(dice);
        (Counts::new(said(&truth)).expect("a distribution"), drawn(&truth, dice))
    };
    (0..SETS).map(|_| one(&mut dice)).collect()
}

/// How many ranks lie in each tenth.
fn tenths(sets: &[(Counts, usize)]) -> [u32; TENTHS as usize] {
    let mut dice = Dice::new(20, 1);
    let mut found = [0; TENTHS as usize];
    for (counts, count) in sets {
        let rank = rank::of_count(counts, *count, &mut dice);
        let tenth = (1..TENTHS).filter(|&t| rank >= f64::from(t) / f64::from(TENTHS)).count();
        found[tenth] += 1;
    }
    found
}

#[test]
fn ranks_of_the_truth_are_uniform_and_others_are_not() {
    // Ten bins at 0.9999 each: all hold in 999 of 1000 seeds.
    let (low, high) = central_band(SETS, 0.1, 0.9999);
    let right = tenths(&sets(<[f64]>::to_vec));
    assert!(right.iter().all(|n| (low..=high).contains(n)), "{right:?} in {low}..={high}");
    let narrow = tenths(&sets(too_sure));
    assert!(narrow[0] > high && narrow[9] > high && narrow[4] < low, "heaps at the ends: {narrow:?}");
}

fn covered(sets: &[(Counts, usize)], level: f64) -> Coverage {
    let row =
        |(counts, count): &(Counts, usize)| (Interval::central(counts, level).expect("an interval"), *count);
    coverage(&sets.iter().map(row).collect::<Vec<_>>()).expect("a coverage")
}

#[test]
fn intervals_of_the_truth_cover_as_they_say_and_others_do_not() {
    let (right, narrow) = (sets(<[f64]>::to_vec), sets(too_sure));
    for level in [0.5, 0.8, 0.95] {
        let Coverage { found, expected } = covered(&right, level);
        // A sum of unlike chances varies less than a binomial of their mean, so that its band is wide enough.
        let (low, high) = central_band(SETS, expected, 0.999);
        let band = f64::from(low) / f64::from(SETS)..=f64::from(high) / f64::from(SETS);
        assert!(band.contains(&found), "{level}: {found} in {band:?}");
        assert!(expected >= level);
        let off = covered(&narrow, level);
        assert!(off.found < off.expected - 0.02, "{level}: {off:?}");
    }
}

#[test]
fn the_interval_of_a_difference_has_the_width_of_athletes_that_differ() {
    // 200 athletes with 1 to 20 sets each; what is gained is an athlete's own (sd 0.5) and a set's own (sd 1).
    let mut dice = Dice::new(21, 0);
    let mut differences = Differences::new();
    let mut rows: Vec<(u32, f64)> = Vec::new();
    for athlete in 0..200 {
        let own = 0.5 * dice.normal() - 0.3;
        for _ in 0..=athlete % 20 {
            let theirs = dice.exponential();
            let gap = own + dice.normal();
            differences.add(athlete, [theirs + gap, theirs], 1.0).expect("a difference");
            rows.push((athlete, gap));
        }
    }
    let found = differences.mean(&mut Dice::new(21, 1)).expect("a mean");
    let sets = f64::from(u32::try_from(rows.len()).expect("few"));
    let mean = rows.iter().map(|(_, gap)| gap).sum::<f64>() / sets;
    assert!((found.mean - mean).abs() < 1e-12);
    // The error of a mean by athletes, linearised: athletes' sums about the mean, squared.
    let about =
        |athlete: u32| rows.iter().filter(|(a, _)| *a == athlete).map(|(_, gap)| gap - mean).sum::<f64>();
    let error = (0..200).map(|a| about(a) * about(a)).sum::<f64>().sqrt() / sets;
    let half = 0.5 * (found.high - found.low);
    assert!((half / (2.576 * error) - 1.0).abs() < 0.15, "{half} and {error}");
    // As if all sets were of different athletes it would be narrower by far.
    let alone = (rows.iter().map(|(_, gap)| (gap - mean) * (gap - mean)).sum::<f64>()).sqrt() / sets;
    assert!(error > 1.5 * alone, "{error} and {alone}");
    assert!(found.high < 0.0, "a gain of 0.3 shows: {found:?}");
}
