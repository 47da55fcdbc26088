//! Steps of a ladder that were wrong are found from what athletes did.

use nextrung_replay::refit::plan::Plan;
use nextrung_replay::refit::refit;
use nextrung_replay::simulate::refit::{Cohort, true_ladders};
use nextrung_replay::simulate::world::PULL;

use crate::cohort::{WRONG, catalog, files, trained, version};

#[test]
fn steps_wrong_by_a_third_are_found() {
    let catalog = catalog();
    let cohort = Cohort { world: PULL, wrong: &WRONG, athletes: 60, weeks: 26, seed: 20_260_105 };
    let t = std::time::Instant::now();
    let roster = trained(&catalog, &cohort);
    println!("{} sets, {:?}", roster.iter().map(|a| a.sets.len()).sum::<usize>(), t.elapsed());
    let t = std::time::Instant::now();
    let found = refit(&catalog, &files(&catalog), &roster, (version("a"), &Plan::of_steps()));
    let found = found.unwrap_or_else(|e| panic!("{e}"));
    println!("{:?} {:?}", found.fit.evidence, t.elapsed());
    let truth = true_ladders(&catalog, &WRONG).unwrap_or_else(|e| panic!("{e}"));
    for step in &found.fit.adjustment.steps {
        let rung = catalog.find(&step.rung).unwrap();
        let t = truth.rung(rung).demands[0].difficulty;
        let f = catalog.rung(rung).demands[0].difficulty;
        println!("{}: file {f:.2} true {t:.2} found {:.3} sd {:.3} z {:.2} ", step.rung, step.difficulty, step.sd, (step.difficulty - t)/step.sd);
    }
    println!("{:?}", found.fit.adjustment.starts);
    for line in found.account.sentences() {
        println!("{line}");
    }
    for s in &found.account.steps { println!("{} -> {}: {:.2} {:.3} {:.3} {}", s.from.name, s.to.name, s.on_file, s.found, s.sd, s.shared); }
}
