//! Work carried within a session (F-02).

#![expect(clippy::expect_used, reason = "a test that cannot build its ladder must fail")]

use std::sync::Arc;

use nextrung_capacity::done::Done;
use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_capacity::state::AthleteState;
use nextrung_capacity::task::Task;
use nextrung_domain::ids::RungRef;
use nextrung_domain::ladder_file::{NamedText, load_catalog};
use nextrung_domain::stop::Stop;

/// Two rungs, each with a strength of its own.
fn model() -> Model {
    let mut abilities = String::new();
    let mut ladder =
        "id = \"l\"\nname = \"L\"\nversion = 1\nside = \"bent-arm\"\nabout = \"Two.\"\ncautions = []\n"
            .to_owned();
    for name in ["pull", "push"] {
        abilities += &format!(
            "[[ability]]\nid = \"{name}\"\nname = \"{name}\"\nkind = \"strength\"\nanchor = \"l/{name}\"\n\
             start_level = 1.5\nstart_sd = 0.3\nsource = \"given\"\n"
        );
        ladder += &format!(
            "[[rung]]\nid = \"{name}\"\nname = \"{name}\"\nunit = \"reps\"\ncues = [\"go\"]\n[[rung.demand]]\n\
             ability = \"{name}\"\ndifficulty = 0.0\nsd = 0.0\nbasis = \"anchor\"\nsource = \"given\"\n"
        );
    }
    let ladders = [NamedText { name: "l.toml", text: &ladder }];
    let catalog = load_catalog(NamedText { name: "abilities.toml", text: &abilities }, &ladders);
    Model::new(Arc::new(catalog.expect("a sound ladder")), Parameters::default())
}

/// Work each strength carries at the end of sets to failure, given as rung, day, session and rest before.
fn carried(sets: &[(&str, i32, u8, u16)]) -> Vec<f64> {
    let model = model();
    let mut state = AthleteState::new(&model.parameters);
    let mut scratch = Scratch::default();
    for &(rung, day, session, rest) in sets {
        let name = RungRef::parse(&format!("l/{rung}")).expect("a name");
        let task = Task::new(&model.catalog, model.catalog.find(&name).expect("a rung"), &[], 1.0);
        let rest_seconds = Some(rest);
        let done =
            Done { day, session, units: 4, target: None, stop: Stop::Strength, reserve: None, rest_seconds };
        state.observe(&model, &mut scratch, (&task, &done));
    }
    state.blocks.iter().map(|block| block.work).collect()
}

/// Share of work left after a rest.
fn left(seconds: f64) -> f64 {
    libm::exp(-seconds / Parameters::default().recovery_seconds)
}

fn assert_carried(found: &[f64], expected: &[f64]) {
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(expected) {
        assert!((found - expected).abs() < 1e-12, "{found}, expected {expected}");
    }
}

#[test]
fn a_set_to_the_limit_is_one_and_fades_with_rest() {
    assert_carried(&carried(&[("pull", 1, 1, 0)]), &[1.0]);
    assert_carried(&carried(&[("pull", 1, 1, 0), ("pull", 1, 1, 120)]), &[1.0 + left(120.0)]);
}

#[test]
fn a_strength_rests_while_another_works() {
    let alternating = [("pull", 1, 1, 0), ("push", 1, 1, 90), ("pull", 1, 1, 60), ("push", 1, 1, 30)];
    assert_carried(&carried(&alternating), &[(1.0 + left(150.0)) * left(30.0), 1.0 + left(90.0)]);
}

#[test]
fn a_new_session_starts_fresh() {
    assert_carried(&carried(&[("pull", 1, 1, 0), ("pull", 1, 2, 60)]), &[1.0]);
    assert_carried(&carried(&[("pull", 1, 1, 0), ("pull", 2, 1, 60)]), &[1.0]);
}
