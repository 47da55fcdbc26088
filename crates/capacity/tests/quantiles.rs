//! Quantiles of an outlook are the inverse of its chances.

#![expect(clippy::expect_used, reason = "a test that cannot build its ladder must fail")]

use std::sync::Arc;

use nextrung_capacity::model::Model;
use nextrung_capacity::outlook::{Strain, TaskOutlook};
use nextrung_capacity::params::Parameters;
use nextrung_capacity::state::AthleteState;
use nextrung_capacity::task::Task;
use nextrung_domain::ids::RungRef;
use nextrung_domain::ladder_file::{NamedText, load_catalog};
use proptest::prelude::*;

/// A rung that asks for one ability of each kind given, with these priors and difficulties, under a mass ratio.
fn outlook(demands: &[(&str, f64, f64, f64)], ratio: f64) -> TaskOutlook {
    let mut abilities = String::new();
    let mut anchors = String::new();
    let mut rung = "[[rung]]\nid = \"r\"\nname = \"R\"\nunit = \"reps\"\ncues = [\"go\"]\n".to_owned();
    for (kind, mean, sd, difficulty) in demands {
        abilities += &format!(
            "[[ability]]\nid = \"{kind}\"\nname = \"A\"\nkind = \"{kind}\"\nanchor = \"l/{kind}\"\n\
             start_level = {mean:.3}\nstart_sd = {sd:.3}\nsource = \"given\"\n"
        );
        let demand = |at: f64, basis: &str| {
            format!(
                "[[rung.demand]]\nability = \"{kind}\"\ndifficulty = {at:.3}\nsd = 0.1\nbasis = \"{basis}\"\nsource = \"given\"\n"
            )
        };
        anchors += &format!("[[rung]]\nid = \"{kind}\"\nname = \"A\"\nunit = \"reps\"\ncues = [\"go\"]\n");
        anchors += &demand(0.0, "anchor");
        rung += &demand(*difficulty, "estimate");
    }
    let head =
        "id = \"l\"\nname = \"L\"\nversion = 1\nside = \"bent-arm\"\nabout = \"Given.\"\ncautions = []\n";
    let ladder = format!("{head}{anchors}{rung}");
    let ladders = [NamedText { name: "l.toml", text: &ladder }];
    let catalog = load_catalog(NamedText { name: "abilities.toml", text: &abilities }, &ladders);
    let model = Model::new(Arc::new(catalog.expect("a sound ladder")), Parameters::default());
    let rung = model.catalog.find(&RungRef::parse("l/r").expect("a name")).expect("the rung");
    AthleteState::new(&model.parameters).outlook(&model, &Task::new(&model.catalog, rung, &[], ratio))
}

proptest! {
    /// The chance of at least the quantile of p is 1 - p, and quantiles rise with p.
    #[test]
    fn a_quantile_is_met_with_its_chance(
        means in (-2.0f64..5.0, -2.0f64..5.0, -2.0f64..5.0),
        sds in (0.06f64..1.5, 0.06f64..1.5, 0.06f64..1.5),
        difficulties in (-3.0f64..3.0, -3.0f64..3.0, -3.0f64..3.0),
        count in 1usize..=3,
        p in 0.001f64..0.999,
    ) {
        let demands = [
            ("strength", means.0, sds.0, difficulties.0),
            ("balance", means.1, sds.1, difficulties.1),
            ("line", means.2, sds.2, difficulties.2),
        ];
        let outlook = outlook(&demands[..count], 1.0);
        let units = outlook.quantile(p);
        prop_assert!((outlook.at_least(units, Strain::NONE) - (1.0 - p)).abs() < 1e-6, "{units}");
        prop_assert!(outlook.quantile(0.5 * p) <= units);
    }
}

#[test]
fn under_load_the_quantile_counts_what_is_left() {
    let demands = [("strength", 2.3, 0.3, 0.0)];
    let (plain, loaded) = (outlook(&demands, 1.0), outlook(&demands, 1.1));
    for p in [0.1, 0.5, 0.9] {
        let units = loaded.quantile(p);
        assert!(units < plain.quantile(p));
        assert!((loaded.at_least(units, Strain::NONE) - (1.0 - p)).abs() < 1e-6);
    }
    assert_eq!(outlook(&demands, 3.0).quantile(0.5), 0.0, "too heavy to move");
}

#[test]
fn one_kind_of_cause_takes_all_the_failures() {
    let endings = outlook(&[("strength", 1.5, 0.3, 0.0)], 1.0).endings(5, Strain::NONE);
    assert!(endings.reached > 0.1 && endings.reached < 0.9);
    assert_eq!(endings.failed, [1.0 - endings.reached, 0.0, 0.0]);
}
