//! Athlete: running levels of one athlete, known before each set.
//!
//! Each ability has a running level: the exponentially weighted mean of `ln(done + 1/2) + difficulty` over the sets that
//! asked for it, from the ability file's start on. What a set showed moves the level of the ability that failed; of the others,
//! and of every ability when nothing failed, it shows a least value and moves only levels below it. An ability whose failing
//! was not named is taken to be the one that was due. Each rung has such a level of its own, from its first set on.
//!
//! Weights: `max(0.2, 1 / (n + 1.5))` for the set after `n` that moved the level (common practice, no source).

use std::collections::BTreeMap;

use nextrung_capacity::task::TaskDemand;
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};

use super::Ask;
use super::features::{Before, Features, SET_COLUMNS, ln_units};

/// The rest that counts as usual, seconds (common practice, no source).
const USUAL_REST: f64 = 150.0;

/// A running level.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Level {
    value: f64,
    /// Sets that moved it.
    moves: u16,
}

impl Level {
    fn hear(&mut self, shown: f64, exact: bool) {
        if exact || shown > self.value {
            let weight = (1.0 / (f64::from(self.moves) + 1.5)).max(0.2);
            self.value += weight * (shown - self.value);
            self.moves = self.moves.saturating_add(1);
        }
    }

    fn evidence(self) -> f64 {
        let n = f64::from(self.moves);
        n / (n + 3.0)
    }
}

/// What is kept of one ability.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Standing {
    level: Level,
    /// The session it was last trained in.
    session: Option<(i32, u8)>,
    /// Sets of that session.
    sets: u16,
}

/// What is kept of one rung; values without its first demand's difficulty, so that shadings can be taken off and put on.
#[derive(Debug, Clone, Copy, PartialEq)]
struct OnRung {
    last: f64,
    failed: bool,
    level: Level,
}

/// Running levels of one athlete. Sets are learned in the order of training; what came late asks for a new beginning.
#[derive(Debug, Clone, PartialEq)]
pub struct HazardAthlete {
    abilities: Vec<Standing>,
    rungs: BTreeMap<RungIx, OnRung>,
}

impl HazardAthlete {
    /// Somebody of whom nothing is known: every level at the ability file's start.
    pub fn new(catalog: &Catalog) -> Self {
        let start = |value| Standing { level: Level { value, moves: 0 }, session: None, sets: 0 };
        let abilities = catalog.abilities().iter().map(|a| start(a.start_level)).collect();
        Self { abilities, rungs: BTreeMap::new() }
    }

    /// What is known before a set. The task is of the catalog this athlete began with.
    pub fn ask(&self, ask: &Ask<'_>) -> Features {
        let demands = ask.task.demands();
        let mut of_set = [0.0; SET_COLUMNS];
        for kind in AbilityKind::ALL {
            let asked = demands.iter().filter(|d| d.kind == kind).map(|d| d.difficulty);
            if let Some(hardest) = asked.reduce(f64::max) {
                of_set[kind.index()] = hardest;
                of_set[3 + kind.index()] = 1.0;
            }
        }
        if let Some(due) = self.due(demands, |_| true) {
            self.say_due(&mut of_set, demands, due, ask.day);
        }
        let rung = self.rungs.get(&ask.task.rung);
        of_set[11] = if rung.is_some() { 1.0 } else { 0.0 };
        of_set[12] = if rung.is_some_and(|r| r.failed) { 1.0 } else { 0.0 };
        self.say_session(&mut of_set, ask);
        say_plan(&mut of_set, ask);
        let plain = demands.first().map_or(0.0, |d| d.difficulty);
        let before =
            rung.map(|r| Before { last: r.last - plain, failed: r.failed, level: r.level.value - plain });
        Features { unit: ask.unit, mass_ratio: ask.task.mass_ratio, of_set, before }
    }

    /// Takes in how a set went. With nothing done and nothing failed nothing is said but that a set was begun.
    pub fn learn(&mut self, ask: &Ask<'_>, done: u16, stop: Stop) {
        let demands = ask.task.demands();
        let failed = stop.is_failure();
        let shown = ln_units(f64::from(done) + 0.5, ask.task.mass_ratio);
        let culprit = if failed { self.culprit(demands, stop) } else { None };
        for (at, demand) in demands.iter().enumerate() {
            let standing = &mut self.abilities[demand.ability.at()];
            if failed || done > 0 {
                standing.level.hear(shown + demand.difficulty, culprit == Some(at));
            }
            let session = Some((ask.day, ask.session));
            standing.sets = if standing.session == session { standing.sets.saturating_add(1) } else { 1 };
            standing.session = session;
        }
        if failed || done > 0 {
            let last = shown + demands.first().map_or(0.0, |d| d.difficulty);
            let fresh = OnRung { last, failed, level: Level { value: last, moves: 0 } };
            let rung = self.rungs.entry(ask.task.rung).or_insert(fresh);
            rung.level.hear(last, failed);
            (rung.last, rung.failed) = (last, failed);
        }
    }

    fn margin(&self, demand: &TaskDemand) -> f64 {
        self.abilities[demand.ability.at()].level.value - demand.difficulty
    }

    /// The place of the demand with the least margin among those wanted; of equals the first.
    fn due(&self, demands: &[TaskDemand], wanted: impl Fn(&TaskDemand) -> bool) -> Option<usize> {
        let among = demands.iter().enumerate().filter(|(_, d)| wanted(d));
        among.min_by(|(_, a), (_, b)| self.margin(a).total_cmp(&self.margin(b))).map(|(at, _)| at)
    }

    /// The place of the demand that failed: of the kind named if there is one, otherwise what was due.
    fn culprit(&self, demands: &[TaskDemand], stop: Stop) -> Option<usize> {
        let kind = match stop {
            Stop::Strength => Some(AbilityKind::Strength),
            Stop::Balance => Some(AbilityKind::Balance),
            Stop::Line => Some(AbilityKind::Line),
            Stop::Failed | Stop::Target | Stop::Chosen | Stop::Pain | Stop::Interrupted | Stop::Other => None,
        };
        self.due(demands, |d| Some(d.kind) == kind).or_else(|| self.due(demands, |_| true))
    }

    fn say_due(&self, of_set: &mut [f64; SET_COLUMNS], demands: &[TaskDemand], due: usize, day: i32) {
        let demand = &demands[due];
        let standing = &self.abilities[demand.ability.at()];
        let margin = self.margin(demand);
        let others = demands.iter().enumerate().filter(|(at, _)| *at != due);
        let next = others.map(|(_, d)| self.margin(d)).reduce(f64::min);
        of_set[6] = margin;
        of_set[7] = next.map_or(0.0, |next| libm::exp(-2.0 * (next - margin)));
        of_set[8] = if demand.kind == AbilityKind::Balance { 1.0 } else { 0.0 };
        of_set[9] = if demand.kind == AbilityKind::Line { 1.0 } else { 0.0 };
        of_set[10] = standing.level.evidence();
        let idle = standing.session.map_or(0, |(last, _)| day.saturating_sub(last).max(0));
        of_set[15] = libm::log1p(f64::from(idle));
    }

    fn say_session(&self, of_set: &mut [f64; SET_COLUMNS], ask: &Ask<'_>) {
        let now = Some((ask.day, ask.session));
        let standings = ask.task.demands().iter().map(|d| &self.abilities[d.ability.at()]);
        let sets = standings.filter(|s| s.session == now).map(|s| s.sets).max().unwrap_or(0);
        of_set[13] = f64::from(sets);
        if let (Some(rest), true) = (ask.rest_seconds, sets > 0) {
            of_set[14] = libm::log((f64::from(rest) + 10.0) / (USUAL_REST + 10.0));
        }
    }
}

/// Purpose, unit and target.
fn say_plan(of_set: &mut [f64; SET_COLUMNS], ask: &Ask<'_>) {
    let purpose = match ask.purpose {
        Purpose::Working => None,
        Purpose::Attempt => Some(16),
        Purpose::Practice => Some(17),
        Purpose::Test => Some(18),
        Purpose::Free => Some(19),
    };
    let unit = match ask.unit {
        Unit::Reps => None,
        Unit::HoldSeconds => Some(20),
        Unit::LoweringSeconds => Some(21),
    };
    for column in [purpose, unit].into_iter().flatten() {
        of_set[column] = 1.0;
    }
    if let Some(target) = ask.target.filter(|target| *target > 0) {
        of_set[22] = 1.0;
        of_set[23] = ln_units(f64::from(target), ask.task.mass_ratio) - of_set[6];
    }
}
