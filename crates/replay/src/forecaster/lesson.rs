//! Lesson: what all athletes' past sets together teach about a rung.
//!
//! Counts are kept by the block of 28 days in which a set arrived, as it was first told. A set of a block is foretold from the
//! blocks before it alone: nothing of the future reaches it, and athletes can be walked through in any order. Counts are whole
//! numbers, so lessons of parts of a roster add up to the lesson of the whole.

use std::collections::BTreeMap;

use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ids::RungRef;
use nextrung_domain::measure::Unit;
use serde::{Deserialize, Serialize};

use crate::evaluate::entry::Entry;
use crate::evaluate::exact::number;
use crate::evaluate::outcome::kind_of;

/// Sets' worth of the unit's usual course that a rung starts with.
const PRIOR_SETS: f64 = 4.0;
/// Sets' worth of a constant hazard that a unit starts with.
const FIRST_SETS: f64 = 2.0;

/// How sets of one rung ended.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Ends {
    /// Sets that ended without a failure after so many units.
    held: BTreeMap<u16, u64>,
    /// Sets that failed after so many units.
    failed: BTreeMap<u16, u64>,
    /// Failures by cause: strength, balance, line; those unsaid are in none.
    causes: [u64; 3],
}

/// Counts by block and rung.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Lessons {
    blocks: BTreeMap<i32, BTreeMap<RungRef, Ends>>,
}

impl Lessons {
    /// Takes in a set as it was first told.
    pub fn add(&mut self, set: &Entry) {
        if !set.done.is_effort() {
            return;
        }
        let ends = self.blocks.entry(set.block()).or_default().entry(set.set.rung.clone()).or_default();
        let counts = if set.done.stop.is_failure() { &mut ends.failed } else { &mut ends.held };
        *counts.entry(set.done.units).or_default() += 1;
        if let Some(kind) = kind_of(set.done.stop) {
            ends.causes[kind.index()] += 1;
        }
    }

    /// Takes in the lessons of other athletes.
    pub fn join(&mut self, others: Self) {
        for (block, rungs) in others.blocks {
            for (rung, ends) in rungs {
                self.blocks.entry(block).or_default().entry(rung).or_default().join(&ends);
            }
        }
    }

    /// What is taught at the start of each block, made from the blocks before it.
    pub fn taught(&self, catalog: &Catalog) -> Taught {
        let mut so_far: BTreeMap<RungIx, Ends> = BTreeMap::new();
        let mut courses = vec![(i32::MIN, Course::new(catalog, &so_far))];
        for (block, rungs) in &self.blocks {
            for (rung, ends) in rungs {
                if let Some(rung) = catalog.find(rung) {
                    so_far.entry(rung).or_default().join(ends);
                }
            }
            courses.push((block.saturating_add(1), Course::new(catalog, &so_far)));
        }
        Taught { courses }
    }
}

impl Ends {
    fn join(&mut self, other: &Self) {
        other.held.iter().for_each(|(units, sets)| *self.held.entry(*units).or_default() += sets);
        other.failed.iter().for_each(|(units, sets)| *self.failed.entry(*units).or_default() += sets);
        self.causes.iter_mut().zip(other.causes).for_each(|(sum, more)| *sum += more);
    }

    /// Sets that tried unit 1, 2, ... and those that failed on it.
    fn by_unit(&self) -> Vec<(f64, f64)> {
        let last = self.held.keys().copied().chain(self.failed.keys().map(|k| k.saturating_add(1))).max();
        let mut rows = vec![(0.0, 0.0); usize::from(last.unwrap_or(0))];
        let mut tried = 0;
        for (at, row) in rows.iter_mut().enumerate().rev() {
            let units = u16::try_from(at).unwrap_or(u16::MAX);
            let failed = self.failed.get(&units).copied().unwrap_or(0);
            let held = self.held.get(&(units + 1)).copied().unwrap_or(0);
            tried += failed + held;
            *row = (number(i128::from(tried)), number(i128::from(failed)));
        }
        rows
    }
}

/// What is taught, by the block from which on it is known.
#[derive(Debug, Clone)]
pub struct Taught {
    courses: Vec<(i32, Course)>,
}

impl Taught {
    /// What was known when a block began.
    pub fn at(&self, block: i32) -> &Course {
        let after = self.courses.partition_point(|(from, _)| *from <= block);
        &self.courses[after.saturating_sub(1)].1
    }
}

/// How sets usually go, rung by rung.
#[derive(Debug, Clone)]
pub struct Course {
    rungs: Vec<Usual>,
}

/// How sets of a rung usually go.
#[derive(Debug, Clone, PartialEq)]
pub struct Usual {
    hazards: Vec<f64>,
    beyond: f64,
    /// Shares of strength, balance and line in its failures; they sum to one.
    pub causes: [f64; 3],
}

impl Usual {
    /// Chance that a unit, from 1, fails once it is tried.
    pub fn hazard(&self, unit: usize) -> f64 {
        self.hazards.get(unit.saturating_sub(1)).copied().unwrap_or(self.beyond)
    }

    /// Chances of at least 1, 2, ... units.
    pub fn survival(&self) -> impl Iterator<Item = f64> {
        (1..).scan(1.0, |still, unit| {
            *still *= 1.0 - self.hazard(unit);
            Some(*still)
        })
    }
}

impl Course {
    fn new(catalog: &Catalog, so_far: &BTreeMap<RungIx, Ends>) -> Self {
        let by_unit = Unit::ALL.map(|unit| {
            let mut all = Ends::default();
            so_far
                .iter()
                .filter(|(rung, _)| catalog.rung(**rung).unit == unit)
                .for_each(|(_, e)| all.join(e));
            let first = first_hazard(unit);
            Usual { hazards: hazards(&all, FIRST_SETS, |_| first), beyond: first, causes: [0.0; 3] }
        });
        let usual = |number: usize| {
            let rung = RungIx(u16::try_from(number).unwrap_or(u16::MAX));
            let about = catalog.rung(rung);
            let place = Unit::ALL.iter().position(|unit| *unit == about.unit).unwrap_or(0);
            let ends = so_far.get(&rung).cloned().unwrap_or_default();
            let kinds = AbilityKind::ALL
                .map(|kind| about.demands.iter().any(|d| catalog.ability(d.ability).kind == kind));
            let pool = &by_unit[place];
            Usual {
                hazards: hazards(&ends, PRIOR_SETS, |unit| pool.hazard(unit)),
                beyond: pool.beyond,
                causes: shares(ends.causes, kinds),
            }
        };
        Self { rungs: (0..catalog.rung_count()).map(usual).collect() }
    }

    /// One rung.
    pub fn of(&self, rung: RungIx) -> &Usual {
        &self.rungs[rung.at()]
    }
}

/// Hazard of a unit of which nothing is known: a set of reps ends after about five, one of seconds after about twenty
/// (common practice, no source).
fn first_hazard(unit: Unit) -> f64 {
    match unit {
        Unit::Reps => 0.2,
        Unit::HoldSeconds | Unit::LoweringSeconds => 0.05,
    }
}

fn hazards(ends: &Ends, prior_sets: f64, prior: impl Fn(usize) -> f64) -> Vec<f64> {
    let one = |(at, (tried, failed)): (usize, (f64, f64))| {
        (failed + prior_sets * prior(at + 1)) / (tried + prior_sets)
    };
    ends.by_unit().into_iter().enumerate().map(one).collect()
}

/// Shares of the causes a rung knows, each started with one failure; strength alone when it knows none.
fn shares(causes: [u64; 3], kinds: [bool; 3]) -> [f64; 3] {
    let mut weights = [0.0; 3];
    for ((weight, count), known) in weights.iter_mut().zip(causes).zip(kinds) {
        *weight = if known { number(i128::from(count)) + 1.0 } else { 0.0 };
    }
    let sum: f64 = weights.iter().sum();
    if sum > 0.0 { weights.map(|weight| weight / sum) } else { [1.0, 0.0, 0.0] }
}
