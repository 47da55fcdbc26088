//! Tally: sums of scores of one forecaster, exact, so that parts join to the same whole in any grouping.

use serde::{Deserialize, Serialize};

use crate::evaluate::exact::Exact;
use crate::evaluate::set_score::{MOST_NATS, SetScore, WholeScore};

/// Steps in which chances at band edges are kept for calibration: 1 in 4096.
pub const CHANCE_STEPS: u16 = 4096;
/// Bins of ranks.
pub const RANK_BINS: usize = 100;

/// Sums of scores.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Sums {
    /// Sets scored.
    pub sets: u64,
    /// Sum of log scores of endings with their causes, nats.
    pub log_ending: Exact,
    /// Sum of log scores of counts, nats.
    pub log_count: Exact,
    /// Whole sets: those that went on to their target or a failure.
    pub whole: u64,
    /// Sum of ranked probability scores over whole sets, units.
    pub ranked: Exact,
}

impl Sums {
    /// Those of one set.
    pub fn of(score: &SetScore) -> Self {
        Self {
            sets: 1,
            log_ending: Exact::of(score.log_ending),
            log_count: Exact::of(score.log_count),
            whole: u64::from(score.whole.is_some()),
            ranked: score.whole.map_or(Exact::default(), |whole| Exact::of(whole.ranked)),
        }
    }

    /// Takes in other sums.
    pub fn join(&mut self, other: &Self) {
        self.sets += other.sets;
        self.log_ending.add(other.log_ending);
        self.log_count.add(other.log_count);
        self.whole += other.whole;
        self.ranked.add(other.ranked);
    }
}

/// What was foretold at an edge of the working band, and what came.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct EdgeTally {
    /// Events.
    pub events: u64,
    /// Sum of their Brier scores, of the chances as they were.
    pub brier: Exact,
    /// By chance in steps of 1 in 4096: events, and those that came.
    cells: Vec<[u64; 2]>,
}

impl EdgeTally {
    fn add(&mut self, chance: f64, came: bool) {
        if self.cells.is_empty() {
            self.cells.resize(usize::from(CHANCE_STEPS) + 1, [0; 2]);
        }
        let gap = chance - if came { 1.0 } else { 0.0 };
        self.events += 1;
        self.brier.add(Exact::of(gap * gap));
        let cell = &mut self.cells[usize::from(step_of(chance))];
        cell[0] += 1;
        cell[1] += u64::from(came);
    }

    fn join(&mut self, other: &Self) {
        self.events += other.events;
        self.brier.add(other.brier);
        other.cells().for_each(|(step, [events, came])| self.count(step, [events, came]));
    }

    fn count(&mut self, step: u16, [events, came]: [u64; 2]) {
        if self.cells.is_empty() {
            self.cells.resize(usize::from(CHANCE_STEPS) + 1, [0; 2]);
        }
        if let Some(cell) = self.cells.get_mut(usize::from(step)) {
            cell[0] += events;
            cell[1] += came;
        }
    }

    /// Chances with events, in steps, each with its events and those that came.
    pub fn cells(&self) -> impl Iterator<Item = (u16, [u64; 2])> + '_ {
        (0..).zip(&self.cells).filter(|(_, cell)| cell[0] > 0).map(|(step, cell)| (step, *cell))
    }
}

/// The step nearest to a chance.
fn step_of(chance: f64) -> u16 {
    let step = libm::round(chance.clamp(0.0, 1.0) * f64::from(CHANCE_STEPS));
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in 0..=4096 above")]
    let step = step as u16;
    step
}

#[derive(Serialize, Deserialize)]
struct EdgeFile {
    events: u64,
    brier: Exact,
    cells: Vec<(u16, [u64; 2])>,
}

impl Serialize for EdgeTally {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        EdgeFile { events: self.events, brier: self.brier, cells: self.cells().collect() }
            .serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for EdgeTally {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let file = EdgeFile::deserialize(deserializer)?;
        let mut tally = Self { events: file.events, brier: file.brier, cells: Vec::new() };
        for (step, cell) in file.cells {
            if step > CHANCE_STEPS {
                return Err(serde::de::Error::custom(format!(
                    "chance step {step}; expected at most {CHANCE_STEPS}"
                )));
            }
            tally.count(step, cell);
        }
        Ok(tally)
    }
}

/// How often intervals of one level held the count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Held {
    /// Counts inside.
    pub inside: u64,
    /// Sum of the chances given to the intervals.
    pub expected: Exact,
}

/// All that is summed of one forecaster.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Tally {
    /// Sums over all sets.
    pub sums: Sums,
    /// Sets that were given no chance worth the name.
    pub no_chance: u64,
    /// The low and the high edge of the working band.
    pub edges: [EdgeTally; 2],
    /// Counts of ranks, [`RANK_BINS`] of them.
    pub ranks: Vec<u64>,
    /// Central intervals, by level.
    pub held: [Held; 3],
}

impl Tally {
    /// Takes in a set and its sums.
    pub fn add(&mut self, score: &SetScore, sums: &Sums) {
        self.sums.join(sums);
        self.no_chance += u64::from(score.log_count >= MOST_NATS);
        if let Some(whole) = &score.whole {
            self.add_whole(whole);
        }
    }

    fn add_whole(&mut self, whole: &WholeScore) {
        for (tally, event) in self.edges.iter_mut().zip(whole.edges) {
            if let Some((chance, came)) = event {
                tally.add(chance, came);
            }
        }
        if self.ranks.is_empty() {
            self.ranks.resize(RANK_BINS, 0);
        }
        self.ranks[rank_bin(whole.rank)] += 1;
        for (held, (chance, inside)) in self.held.iter_mut().zip(whole.intervals) {
            held.inside += u64::from(inside);
            held.expected.add(Exact::of(chance));
        }
    }

    /// Takes in another tally of the same forecaster.
    pub fn join(&mut self, other: &Self) {
        self.sums.join(&other.sums);
        self.no_chance += other.no_chance;
        self.edges.iter_mut().zip(&other.edges).for_each(|(edge, more)| edge.join(more));
        if self.ranks.len() < other.ranks.len() {
            self.ranks.resize(other.ranks.len(), 0);
        }
        self.ranks.iter_mut().zip(&other.ranks).for_each(|(count, more)| *count += more);
        for (held, more) in self.held.iter_mut().zip(&other.held) {
            held.inside += more.inside;
            held.expected.add(more.expected);
        }
    }
}

fn rank_bin(rank: f64) -> usize {
    let bin = libm::floor(rank.clamp(0.0, 1.0) * 100.0);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in 0..=100 above")]
    let bin = bin as usize;
    bin.min(RANK_BINS - 1)
}
