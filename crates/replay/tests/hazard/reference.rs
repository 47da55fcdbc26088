//! Values of scikit-learn: `tests/reference/r03_ridge_logit.py.out`, on the data of `wdbc5.csv`.

use nextrung_replay::hazard::logit::{Logit, fit};
use serde_json::Value;

const R03: &str = include_str!("../../../../tests/reference/r03_ridge_logit.py.out");
const DATA: &str = include_str!("../../../../tests/reference/wdbc5.csv");

/// How near the coefficients come: as the toolkit's search ends, at the largest ridge, smallest ridge and between, 1e-8 was seen.
const NEAR: f64 = 5e-8;

/// Five columns row after row, and whether the sample is benign.
fn data() -> (Vec<f64>, Vec<bool>) {
    let (mut values, mut benign) = (Vec::new(), Vec::new());
    for line in DATA.lines().skip(1) {
        let (columns, class) = line.rsplit_once(',').expect("columns");
        values.extend(columns.split(',').map(|value| value.parse::<f64>().expect("a number")));
        benign.push(class == "1");
    }
    assert_eq!((values.len(), benign.len()), (569 * 5, 569));
    (values, benign)
}

/// Intercept, coefficients and objective of the reference at `C`.
fn theirs(penalty: &str) -> (Vec<f64>, f64) {
    let tree: Value = serde_json::from_str(R03).expect("an output");
    let at = |name: &str| tree.pointer(&format!("/C={penalty}/{name}")).cloned().expect(name);
    let coefficients: Vec<f64> = serde_json::from_value(at("coef")).expect("numbers");
    let intercept = at("intercept").as_f64().expect("a number");
    ([vec![intercept], coefficients].concat(), at("penalised_obj").as_f64().expect("a number"))
}

fn ours(logit: &Logit) -> Vec<f64> {
    [vec![logit.intercept], logit.coefficients.clone()].concat()
}

/// Largest difference between two lists.
fn apart(a: &[f64], b: &[f64]) -> f64 {
    assert_eq!(a.len(), b.len());
    a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

#[test]
fn coefficients_and_objective_are_those_of_scikit_learn() {
    let (values, benign) = data();
    for (penalty, ridge) in [("0.1", 10.0), ("1.0", 1.0), ("10.0", 0.1)] {
        let logit = fit(values.clone(), &benign, ridge).expect("a fit");
        let (coefficients, objective) = theirs(penalty);
        let off = apart(&ours(&logit), &coefficients);
        println!("C={penalty}: off {off:e}, objective {:e}, {:e} se", logit.objective - objective, logit.off);
        assert!(off < NEAR, "C={penalty}: {off:e}");
        assert!((logit.objective - objective).abs() < 1e-11 * objective, "C={penalty}: {}", logit.objective);
    }
}

/// The toolkit calls positive what there is more of: asked for the smaller class, the signs must be turned.
#[test]
fn the_other_class_has_the_other_signs() {
    let (values, benign) = data();
    let malignant: Vec<bool> = benign.iter().map(|b| !b).collect();
    let logit = fit(values, &malignant, 1.0).expect("a fit");
    let turned: Vec<f64> = ours(&logit).iter().map(|c| -c).collect();
    assert!(apart(&turned, &theirs("1.0").0) < NEAR);
}

/// With a ridge that leaves nothing to the coefficients a free intercept is the log odds of the shares; one that was penalised
/// would be near 0.
#[test]
fn the_intercept_is_free() {
    let (values, benign) = data();
    let logit = fit(values, &benign, 1e7).expect("a fit");
    let share = libm::log(357.0 / 212.0);
    assert!((logit.intercept - share).abs() < 1e-4, "{} and {share}", logit.intercept);
    assert!(logit.coefficients.iter().all(|c| c.abs() < 1e-4));
}
