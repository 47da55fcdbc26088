//! Summary: the figures of a replay, as they are written to JSON and shown.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::advice::tally::{AdviceTally, Stand, Went};
use crate::evaluate::selection::Selection;
use crate::simulate::bootstrap::Estimate;

/// A file or log that was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DataHash {
    /// What it is.
    pub name: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// How many bytes.
    pub bytes: u64,
}

/// What a replay was made from: the same manifest gives the same bytes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Manifest {
    /// Version of the program.
    pub program: String,
    /// Formulas and parameters.
    pub model_version: String,
    /// Those of the challenger, if there was one.
    pub challenger_version: Option<String>,
    /// Rules.
    pub policy_version: String,
    /// Ladders, by id.
    pub ladder_versions: BTreeMap<String, u32>,
    /// What was read.
    pub data: Vec<DataHash>,
    /// Which sets were scored.
    pub selection: Selection,
    /// Who foretold, in order.
    pub forecasters: Vec<String>,
    /// Who advised, in order; nobody when only predictions were asked for.
    pub advisers: Vec<String>,
    /// Days in a block, at whose start forecasters that learn from all athletes are taught.
    pub block_days: i32,
    /// Seed of ties and draws.
    pub seed: u64,
    /// Level of every interval.
    pub interval_level: f64,
}

/// How many there were.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counts {
    /// Athletes read.
    pub athletes: u64,
    /// Athletes with sets that were scored.
    pub athletes_scored: u64,
    /// Sets read.
    pub sets: u64,
    /// Sets scored.
    pub sets_scored: u64,
    /// Sets scored that went on to their target or a failure.
    pub sets_whole: u64,
    /// Sets not scored, by why, in words.
    pub excluded: BTreeMap<String, u64>,
    /// What deserves a word, in words.
    pub notes: BTreeMap<String, u64>,
}

/// One edge of the working band: at least its low end, or more than its high end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EdgeFigures {
    /// `low` or `high`.
    pub edge: String,
    /// Sets that could show it.
    pub events: u64,
    /// Mean Brier score.
    pub brier: f64,
    /// Lost by chances that do not come true as often as they say.
    pub miscalibration: f64,
    /// Gained by telling sets apart.
    pub discrimination: f64,
    /// Score of always saying the mean.
    pub uncertainty: f64,
    /// Steps of the isotonic regression: first and last chance said, share that came, sets.
    pub steps: Vec<CalibrationStep>,
}

/// A step of the isotonic regression.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CalibrationStep {
    /// Smallest chance said on it.
    pub from: f64,
    /// Largest chance said on it.
    pub to: f64,
    /// Share that came.
    pub came: f64,
    /// Sets.
    pub sets: u64,
}

/// Central intervals at one level.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct IntervalFigures {
    /// The level asked for.
    pub level: f64,
    /// Mean chance of the intervals, which hold at least the level since counts are whole.
    pub expected: f64,
    /// Share of counts inside.
    pub found: f64,
}

/// Ranks of what happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RankFigures {
    /// Sets in each of 20 equal parts.
    pub counts: Vec<u64>,
    /// Largest distance between their distribution and the uniform one.
    pub distance: f64,
}

/// The figures of one forecaster.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ForecasterFigures {
    /// Its name.
    pub name: String,
    /// What it is.
    pub about: String,
    /// Mean log score of endings with their causes, nats a set.
    pub log_score: f64,
    /// Its interval over athletes; nothing with fewer than two.
    pub log_score_interval: Option<Estimate>,
    /// The service's mean log score less this one's; below zero when the service is the better.
    pub difference: Option<Estimate>,
    /// Mean log score of counts alone, nats a set.
    pub log_score_of_count: f64,
    /// Mean ranked probability score over whole sets, units; nothing without whole sets.
    pub ranked: Option<f64>,
    /// The service's less this one's.
    pub ranked_difference: Option<Estimate>,
    /// Edges of the working band.
    pub edges: Vec<EdgeFigures>,
    /// Central intervals.
    pub intervals: Vec<IntervalFigures>,
    /// Ranks.
    pub ranks: RankFigures,
    /// Sets that were given no chance worth the name.
    pub no_chance: u64,
}

/// Sets looked at apart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GroupFigures {
    /// By what.
    pub by: String,
    /// Which.
    pub group: String,
    /// Sets.
    pub sets: u64,
    /// Mean log scores, in the order of the forecasters.
    pub log_scores: Vec<f64>,
}

/// Working sets that stood in one way to the advice.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct StandFigures {
    /// Which way.
    pub stand: Stand,
    /// Days and ladders of the log.
    pub ladder_days: u64,
    /// How the sets went.
    pub went: Went,
}

/// The figures of one adviser.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AdviserFigures {
    /// Its name.
    pub name: String,
    /// Days advised: all, training, test, rest, held back.
    pub days: [u64; 5],
    /// Share of days and ladders of the log on which most working sets were as advised.
    pub agreement: Option<Estimate>,
    /// Share of logged working sets in band.
    pub in_band: Option<Estimate>,
    /// The same where the log did as advised.
    pub in_band_as_advised: Option<Estimate>,
    /// Changes of the advice for a ladder, by athlete and month of 30.44 days.
    pub switches_a_month: Option<Estimate>,
    /// The same of the log's own working sets.
    pub log_switches_a_month: Option<Estimate>,
    /// How sets went, by where they stood.
    pub stands: Vec<StandFigures>,
}

impl AdviserFigures {
    /// Days by kind and sets by stand of a tally; rates are left open.
    pub(crate) fn of(name: &str, tally: &AdviceTally) -> Self {
        let [training, test, rest, held_back] = tally.kinds;
        let stand = |(at, stand): (usize, Stand)| StandFigures {
            stand,
            ladder_days: tally.ladder_days[at],
            went: tally.went[at],
        };
        Self {
            name: name.to_owned(),
            days: [tally.days, training, test, rest, held_back],
            agreement: None,
            in_band: None,
            in_band_as_advised: None,
            switches_a_month: None,
            log_switches_a_month: None,
            stands: Stand::ALL.into_iter().enumerate().map(stand).collect(),
        }
    }
}

/// The figures of a replay.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// What it was made from.
    pub manifest: Manifest,
    /// How many there were.
    pub counts: Counts,
    /// Forecasters, in order.
    pub forecasters: Vec<ForecasterFigures>,
    /// Share of the gap between climatology and the oracle that the service closes, where the truth is known.
    pub gap_closed: Option<Estimate>,
    /// Sets looked at apart.
    pub groups: Vec<GroupFigures>,
    /// Advisers, in order.
    pub advisers: Vec<AdviserFigures>,
    /// What can and cannot be concluded.
    pub conclusions: Vec<String>,
}
