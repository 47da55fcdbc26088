//! Advice tally: how often logs went where advice pointed, and how working sets went there and elsewhere.

use serde::{Deserialize, Serialize};

/// Where logged working sets of a ladder and a day stood against the advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stand {
    /// On the rung, shadings and load advised.
    Same,
    /// On the rung advised, shaded or loaded otherwise.
    SameRung,
    /// On an easier rung.
    Easier,
    /// On a harder rung.
    Harder,
    /// The ladder was not advised for that day.
    NotAdvised,
}

impl Stand {
    /// Every one, in the order of the tables.
    pub const ALL: [Self; 5] = [Self::Same, Self::SameRung, Self::Easier, Self::Harder, Self::NotAdvised];

    /// In a few words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Same => "as advised",
            Self::SameRung => "same rung, changed otherwise",
            Self::Easier => "easier rung",
            Self::Harder => "harder rung",
            Self::NotAdvised => "ladder not advised that day",
        }
    }

    /// Its place in [`Stand::ALL`].
    pub fn place(self) -> usize {
        Self::ALL.iter().position(|stand| *stand == self).unwrap_or(0)
    }
}

/// How some working sets went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Went {
    /// Working sets.
    pub sets: u64,
    /// Units done in the rung's working band.
    pub in_band: u64,
    /// Units done below it.
    pub below: u64,
    /// Units done above it.
    pub above: u64,
    /// Failures for strength, balance, line, and of a cause not said.
    pub failed: [u64; 4],
    /// Sets ended by pain.
    pub pain: u64,
}

impl Went {
    /// Takes in others.
    pub fn join(&mut self, other: &Self) {
        self.sets += other.sets;
        self.in_band += other.in_band;
        self.below += other.below;
        self.above += other.above;
        self.failed.iter_mut().zip(other.failed).for_each(|(sum, more)| *sum += more);
        self.pain += other.pain;
    }
}

/// What is counted of one adviser.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct AdviceTally {
    /// Days advised.
    pub days: u64,
    /// Of those: training, test, rest, held back.
    pub kinds: [u64; 4],
    /// Days and ladders with working sets in the log, by [`Stand`].
    pub ladder_days: [u64; 5],
    /// Their working sets, by [`Stand`].
    pub went: [Went; 5],
    /// Sums for the rates.
    pub counts: AdviceCounts,
}

/// What is counted by athlete too, for intervals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct AdviceCounts {
    /// Days and ladders with working sets in the log.
    pub ladder_days: u64,
    /// Of those, on the rung, shadings and load advised.
    pub same: u64,
    /// Working sets.
    pub sets: u64,
    /// Of those, in band.
    pub in_band: u64,
    /// Working sets on what was advised.
    pub same_sets: u64,
    /// Of those, in band.
    pub same_in_band: u64,
    /// Times that the advice for a ladder was another rung, shading or load than the time before.
    pub switches: u64,
    /// The same of the log's own working sets.
    pub log_switches: u64,
    /// Days from the first to the last advice.
    pub span_days: u64,
}

impl AdviceCounts {
    fn join(&mut self, other: &Self) {
        self.ladder_days += other.ladder_days;
        self.same += other.same;
        self.sets += other.sets;
        self.in_band += other.in_band;
        self.same_sets += other.same_sets;
        self.same_in_band += other.same_in_band;
        self.switches += other.switches;
        self.log_switches += other.log_switches;
        self.span_days += other.span_days;
    }
}

impl AdviceTally {
    /// Takes in another tally of the same adviser.
    pub fn join(&mut self, other: &Self) {
        self.days += other.days;
        self.kinds.iter_mut().zip(other.kinds).for_each(|(sum, more)| *sum += more);
        self.ladder_days.iter_mut().zip(other.ladder_days).for_each(|(sum, more)| *sum += more);
        self.went.iter_mut().zip(&other.went).for_each(|(sum, more)| sum.join(more));
        self.counts.join(&other.counts);
    }
}
