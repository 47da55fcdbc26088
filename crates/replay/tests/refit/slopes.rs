//! Gradient and information of a lean against differences of the log evidence.

use nextrung_capacity::smooth::Sweeps;
use nextrung_replay::refit::ground::Ground;
use nextrung_replay::refit::lean::{SPREAD, START, STEPS};
use nextrung_replay::refit::plan::Plan;
use nextrung_replay::refit::point::Point;
use nextrung_replay::simulate::refit::Cohort;
use nextrung_replay::simulate::world::PULL;

use crate::cohort::{WRONG, catalog, files, trained};

/// Where a place of a lean stands in a point.
fn moved(point: &Point, place: usize, by: f64) -> Point {
    let mut point = point.clone();
    let trained = 0;
    match place {
        START => point.starts[trained].0 += by,
        SPREAD => point.starts[trained].1 *= libm::exp(by),
        _ => {
            let step = point.steps.values_mut().nth(place - STEPS);
            *step.unwrap_or_else(|| panic!("no difficulty at {place}")) += by;
        }
    }
    point
}

/// Ten athletes, swept until nothing moves, without and with fatigue. How tired a set was hangs on what the filter believed at
/// the time, which no slope follows: with fatigue the top is missed by up to 0.3 of a standard deviation, and the evidence has
/// kinks (a set counts as the limit from there on), so that second differences say nothing. Without it Fisher's identity
/// holds for what expectation propagation takes for the evidence. The information takes what sets told as it stands, which is
/// near the second differences and no more.
#[test]
fn slopes_are_those_of_the_log_posterior() {
    let catalog = catalog();
    let cohort = Cohort { world: PULL, wrong: &WRONG, athletes: 10, weeks: 10, seed: 3 };
    let roster = trained(&catalog, &cohort);
    let sweeps = Sweeps { most: 60, tolerance: 1e-10 };
    let plan = Plan { sweeps, least_athletes: 1, ..Plan::of_steps() };
    for (fatigue, most) in [(0.0, 1e-4), (0.045, 0.3)] {
        let mut model = files(&catalog).model(&catalog).unwrap_or_else(|e| panic!("{e}"));
        model.parameters.kinds[0].fatigue = fatigue;
        let ground = Ground::new((&catalog, &model), &roster, &plan).unwrap_or_else(|e| panic!("{e}"));
        let look = |point: Point| ground.look(point).unwrap_or_else(|e| panic!("{e}"));
        let here = look(ground.origin().clone());
        let (ability, lean) =
            here.leans.first_key_value().unwrap_or_else(|| panic!("no ability was trained"));
        assert_eq!(catalog.ability(*ability).id.as_str(), "vertical-pull");
        assert!(lean.rungs.len() >= 3, "{:?}", lean.rungs);
        for place in 0..lean.gradient.len() {
            let h = 1e-3;
            let [up, down] = [h, -h].map(|by| look(moved(&here.point, place, by)).value);
            let slope = (up - down) / (2.0 * h);
            let bend = (2.0 * here.value - up - down) / (h * h);
            let (gradient, information) = (lean.gradient[place], lean.information.get(place, place));
            println!(
                "fatigue {fatigue}, place {place}: {gradient:.5} {slope:.5}, {information:.4} {bend:.4}"
            );
            let off = (gradient - slope).abs() / information.sqrt();
            assert!(off < most, "{place}: {gradient} {slope}");
            assert!(fatigue > 0.0 || (information / bend - 1.0).abs() < 0.1, "{place}: {information} {bend}");
        }
    }
}
