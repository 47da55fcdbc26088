//! Scene: the ladders in force, and sets of invented athletes to fit.

use std::path::Path;
use std::sync::LazyLock;

use nextrung_capacity::task::Task;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_replay::dice::Dice;
use nextrung_replay::hazard::Ask;
use nextrung_replay::hazard::athlete::HazardAthlete;
use nextrung_replay::hazard::features::Features;
use nextrung_replay::hazard::sample::{RowSample, SetName};
use nextrung_replay::ladders;

pub(crate) static CATALOG: LazyLock<Catalog> = LazyLock::new(|| {
    ladders::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data")).expect("the ladders")
});

/// A plain task on a rung by name.
pub(crate) fn task(name: &str) -> Task {
    let rung = CATALOG.find(&name.to_owned().try_into().expect("a name")).expect(name);
    Task::new(&CATALOG, rung, &[], 1.0)
}

/// A working set of the first session of a day.
pub(crate) fn ask(task: &Task, unit: Unit, day: i32) -> Ask<'_> {
    Ask { task, unit, purpose: Purpose::Working, target: None, day, session: 1, rest_seconds: None }
}

/// One set as a sample takes it.
pub(crate) struct Heard {
    pub(crate) athlete: String,
    pub(crate) set: String,
    pub(crate) block: u32,
    pub(crate) features: Features,
    pub(crate) done: u16,
    pub(crate) stop: Stop,
}

impl Heard {
    pub(crate) fn tell(&self, sample: &mut RowSample) {
        let name = SetName { athlete: &self.athlete, set: &self.set, block: self.block };
        sample.add(&name, self.features.clone(), (self.done, self.stop)).expect("finite features");
    }
}

/// Sets of invented athletes on pull and hold rungs, with a capacity of their own and logistic noise: 40 each.
pub(crate) fn heard(athletes: u32, seed: u64) -> Vec<Heard> {
    let tasks = [
        (task("pull/pull-up"), Unit::Reps),
        (task("row/row-75"), Unit::Reps),
        (task("hand-balance/chest-to-wall-hold"), Unit::HoldSeconds),
    ];
    let mut all = Vec::new();
    for number in 0..athletes {
        let mut dice = Dice::new(seed, u64::from(number));
        let gift = 0.4 * dice.normal();
        let mut athlete = HazardAthlete::new(&CATALOG);
        for set in 0..40_u32 {
            let (task, unit) = &tasks[dice.below(tasks.len())];
            let day = i32::try_from(set / 3 * 2).expect("a day");
            let mut ask = ask(task, *unit, day);
            let level = if *unit == Unit::Reps { 1.6 } else { 3.0 } + gift + 0.15 * dice.logistic();
            let most = (1..unit.most()).find(|n| f64::from(*n) > libm::exp(level)).unwrap_or(unit.most()) - 1;
            let target = if *unit == Unit::Reps { 6 } else { 25 };
            ask.target = dice.chance(0.5).then_some(target);
            let reached = ask.target.is_some_and(|target| most >= target);
            let (done, stop) = if reached { (target, Stop::Target) } else { (most, Stop::Failed) };
            let features = athlete.ask(&ask);
            athlete.learn(&ask, done, stop);
            let (name, block) = (format!("a{number}"), set / 10);
            all.push(Heard { athlete: name, set: format!("s{set}"), block, features, done, stop });
        }
    }
    all
}

/// All of them in one sample.
pub(crate) fn sample(heard: &[Heard], room: usize) -> RowSample {
    let mut sample = RowSample::new(room);
    heard.iter().for_each(|set| set.tell(&mut sample));
    sample
}
