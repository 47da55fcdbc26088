//! Recovery: sets drawn from a known hazard give it back.

use nextrung_domain::measure::Unit;
use nextrung_domain::stop::Stop;
use nextrung_replay::dice::Dice;
use nextrung_replay::hazard::features::{COLUMNS, Features, SET_COLUMNS};
use nextrung_replay::hazard::grid;
use nextrung_replay::hazard::logit;
use nextrung_replay::hazard::model::fit;
use nextrung_replay::hazard::sample::{RowSample, SetName};

/// Log odds of the hazard: at the mean of all but three columns, chosen as the margin, the first unit and the last unit.
fn truth(row: &[f64; COLUMNS]) -> f64 {
    -2.0 - 0.8 * row[6] + 1.1 * row[24] + 0.5 * row[26]
}

fn chance(log_odds: f64) -> f64 {
    1.0 / (1.0 + libm::exp(-log_odds))
}

/// Features of which only the margin and the difficulty vary.
fn drawn(dice: &mut Dice) -> Features {
    let mut of_set = [0.0; SET_COLUMNS];
    (of_set[0], of_set[6]) = (dice.normal(), dice.normal());
    Features { unit: Unit::Reps, mass_ratio: 1.0, of_set, before: None }
}

/// Sets whose every unit fails by the true hazard, up to a target drawn without regard to it.
fn sets(count: usize, seed: u64) -> RowSample {
    let mut sample = RowSample::new(10_000_000);
    let mut dice = Dice::new(seed, 0);
    for number in 0..count {
        let features = drawn(&mut dice);
        let target = 1 + u16::try_from(dice.below(12)).expect("small");
        let fails = |piece: &grid::Piece| dice.chance(chance(truth(&features.row(*piece))));
        let end = grid::pieces(Unit::Reps).take(usize::from(target)).find(fails);
        let outcome = end.map_or((target, Stop::Target), |piece| (piece.from, Stop::Failed));
        let name = SetName { athlete: "a", set: &number.to_string(), block: 0 };
        sample.add(&name, features, outcome).expect("finite features");
    }
    sample
}

#[test]
fn a_known_hazard_is_recovered() {
    let sample = sets(8000, 11);
    let model = fit(&sample, 1.0).expect("a fit");
    let mut dice = Dice::new(12, 0);
    let (mut worst, mut sum, count) = (0.0_f64, 0.0, 500);
    for _ in 0..count {
        let features = drawn(&mut dice);
        let said = model.survival(&features, 8);
        let mut lasts = 1.0;
        for (piece, said) in grid::pieces(Unit::Reps).zip(said) {
            lasts *= 1.0 - chance(truth(&features.row(piece)));
            worst = worst.max((said - lasts).abs());
            sum += (said - lasts).abs();
        }
    }
    let mean = sum / f64::from(count * 8);
    println!("{:?} worst {worst:.4}, mean {mean:.4}", sample.kept());
    // 8000 sets: a chance near a half is known to 0.0056 even if it were that of all of them.
    assert!(mean < 0.0075 && worst < 0.04, "mean {mean}, worst {worst}");
}

/// Coefficients against the truth, to four standard errors.
#[test]
fn coefficients_are_those_that_made_the_rows() {
    let mut dice = Dice::new(21, 0);
    let truth = [0.7, -0.4, 0.0, 1.2];
    let (mut values, mut failed) = (Vec::new(), Vec::new());
    for _ in 0..40_000 {
        let row: Vec<f64> = truth.iter().map(|_| 2.0 + 3.0 * dice.normal()).collect();
        let odds = -1.0 + row.iter().zip(truth).map(|(v, c)| (v - 2.0) / 3.0 * c).sum::<f64>();
        failed.push(dice.chance(chance(odds)));
        values.extend(row);
    }
    let logit = logit::fit(values, &failed, 1.0).expect("a fit");
    // Information per row at most a quarter; 0.1 in the mean here, so a standard error of about 0.016: four of them.
    for (ours, truth) in logit.coefficients.iter().zip(truth) {
        assert!((ours - truth).abs() < 0.064, "{ours} and {truth}");
    }
    assert!((logit.intercept + 1.0).abs() < 0.064, "{}", logit.intercept);
}

/// Seconds are cut into pieces, and inside a piece the chance to last falls geometrically.
#[test]
fn pieces_are_split_geometrically() {
    let model = fit(&sets(2000, 3), 1.0).expect("a fit");
    let mut features = drawn(&mut Dice::new(5, 0));
    features.unit = Unit::HoldSeconds;
    let lasts = model.survival(&features, 60);
    // 35 to 40 is one piece: equal ratios inside it.
    let ratio = |at: usize| lasts[at] / lasts[at - 1];
    assert!((ratio(35) - ratio(39)).abs() < 1e-12, "{} {}", ratio(35), ratio(39));
    assert!((ratio(34) - ratio(35)).abs() > 1e-6, "the next piece has a hazard of its own");
}
