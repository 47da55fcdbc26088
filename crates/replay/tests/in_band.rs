//! In band: twelve weeks with a known truth. The service's working sets land in band more often than those of the
//! two-for-two rule, and an oracle that knows the truth shows how much is left. The large run stands in `RESULTS.md`.

#![expect(clippy::panic, reason = "a test that cannot read the ladders must fail")]
#![expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]

use std::path::Path;
use std::sync::Arc;

use nextrung_domain::catalog::Catalog;
use nextrung_replay::dice::Dice;
use nextrung_replay::ladders;
use nextrung_replay::simulate::bootstrap::{Estimate, mean_interval};
use nextrung_replay::simulate::chooser::Chooser;
use nextrung_replay::simulate::in_band::{Experiment, Outcome, run};
use nextrung_replay::simulate::noise::Noise;
use nextrung_replay::simulate::report::gain;
use nextrung_replay::simulate::rule::RuleKind;
use nextrung_replay::simulate::world::{LEVER, PRESS, PULL, World};

fn catalog() -> Arc<Catalog> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data");
    Arc::new(ladders::read(&data).unwrap_or_else(|e| panic!("{e}")))
}

fn outcomes(catalog: &Arc<Catalog>, world: World, chooser: Chooser) -> Vec<Outcome> {
    let experiment = Experiment { world, noise: Noise::Logistic, athletes: 100, seed: 20_260_105 };
    run(catalog, &experiment, chooser).unwrap_or_else(|e| panic!("{e}"))
}

fn mean(outcomes: &[Outcome]) -> Estimate {
    let shares: Vec<f64> = outcomes.iter().filter_map(Outcome::share).collect();
    mean_interval(&shares, &mut Dice::new(1, 0))
}

/// The service beats both rules with the 99 % interval clear of zero, and the oracle is not beaten.
fn compare(world: World) {
    let catalog = catalog();
    let service = outcomes(&catalog, world, Chooser::Service);
    let with_work = service.iter().filter(|o| o.all() > 0).count();
    assert!(with_work >= 95, "{with_work} of 100 athletes had working sets");
    let of = |chooser| {
        let others = outcomes(&catalog, world, chooser);
        let versus = gain(&service, &others, &mut Dice::new(1, 1));
        println!(
            "{}: service {:?}, {} {:?}, gain {versus:?}",
            world.name,
            mean(&service),
            chooser.name(),
            mean(&others)
        );
        versus
    };
    assert!(of(Chooser::Thumb(RuleKind::TwoForTwo)).low > 0.0, "{} against two-for-two", world.name);
    assert!(of(Chooser::Thumb(RuleKind::RepBand)).low > 0.0, "{} against the rep band", world.name);
    let gap = of(Chooser::Oracle);
    assert!(gap.low < 0.0 && gap.mean < 0.01, "nobody beats the truth: {gap:?}");
    assert!(gap.mean > -0.15, "the service is far from the oracle: {gap:?}");
}

#[test]
fn pulling_the_service_beats_the_rules() {
    compare(PULL);
}

#[test]
fn on_levers_the_service_beats_the_rules() {
    compare(LEVER);
}

#[test]
fn pressing_the_service_beats_the_rules() {
    compare(PRESS);
}
