//! Prescription: what to do on one day, kept as issued.

use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{LadderId, RungRef, ShadingId};
use nextrung_domain::measure::Unit;
use serde::{Deserialize, Serialize};

use crate::hold_back::HoldBack;
use crate::reason::Reason;

/// What to do on one day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Prescription {
    /// The day it is for.
    pub date: CivilDate,
    /// Version of the rules.
    pub policy_version: String,
    /// Version of the formulas and their parameters.
    pub model_version: String,
    /// Ladder versions, by ladder id.
    pub ladder_versions: Vec<(LadderId, u32)>,
    /// What kind of day.
    pub kind: Kind,
    /// The most important thing, in a sentence.
    pub headline: String,
    /// What to do, in order.
    pub items: Vec<Item>,
    /// What was held back.
    pub hold_backs: Vec<HoldBack>,
    /// Where each ladder goes against last time.
    pub directions: Vec<LadderDirection>,
    /// Where the athlete stands with each goal.
    pub goals: Vec<GoalStatus>,
    /// Cautions to show with it.
    pub cautions: Vec<String>,
    /// Why the day looks like this.
    pub reasons: Vec<Reason>,
}

/// The kinds of days.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A training session.
    Training,
    /// A short test session.
    Test,
    /// A rest day.
    Rest,
    /// Everything that could be trained is held back.
    HeldBack,
}

/// The parts of a session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Block {
    /// Balance practice.
    BalancePractice,
    /// Attempts at the harder rung.
    Attempt,
    /// Working sets.
    Working,
    /// Test sets.
    Test,
}

/// Some sets on one rung.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Item {
    /// The part of the session.
    pub block: Block,
    /// The rung.
    pub rung: RungRef,
    /// Its name.
    pub name: String,
    /// Shadings to make.
    pub shadings: Vec<ShadingId>,
    /// Kilograms added or taken off.
    pub load_kg: f64,
    /// How many sets.
    pub sets: u16,
    /// Fewest clean units wanted.
    pub target_low: u16,
    /// Most clean units wanted: stop there.
    pub target_high: u16,
    /// Their unit.
    pub unit: Unit,
    /// Rest between sets, seconds.
    pub rest_seconds: u16,
    /// When to stop.
    pub stop_rule: StopRule,
    /// What is expected.
    pub expected: Expectation,
    /// Why.
    pub reasons: Vec<Reason>,
    /// Cues from the ladder file.
    pub cues: Vec<String>,
}

/// When to stop an item before its sets are done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StopRule {
    /// In a sentence.
    pub sentence: String,
    /// Sets in a row below the target that end the item.
    pub misses_in_a_row: Option<u16>,
    /// Pain that ends it.
    pub pain_at_or_over: u8,
}

/// What is expected of the sets of an item, averaged over them with their fatigue.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Expectation {
    /// Chance that the capacity is in the band.
    pub p_band: f64,
    /// Chance that it is above.
    pub p_easy: f64,
    /// Chance that it is below.
    pub p_hard: f64,
    /// Median capacity of a fresh set, units.
    pub median: f64,
    /// Central 80 % interval of that capacity, units.
    pub interval: (f64, f64),
    /// Chance to reach `target_high`.
    pub reached: f64,
    /// Chances to fail before it by strength, balance, line.
    pub failed: [f64; 3],
}

/// Where a ladder goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// Harder than last time.
    MoveUp,
    /// As last time.
    Hold,
    /// Easier than last time.
    StepBack,
    /// First time.
    FirstTime,
    /// Back after time off.
    Return,
}

/// Where one ladder goes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LadderDirection {
    /// The ladder.
    pub ladder: LadderId,
    /// Where it goes.
    pub direction: Direction,
    /// Last time's working rung.
    pub previous: Option<RungRef>,
    /// Today's.
    pub rung: Option<RungRef>,
    /// Why.
    pub reason: Reason,
}

/// Where the athlete stands with a goal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GoalState {
    /// Still some way to go.
    Ahead,
    /// In the attempt band.
    InAttempts,
    /// In the working band or easier.
    Reached,
    /// Held back.
    HeldBack,
}

/// One goal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GoalStatus {
    /// The goal rung.
    pub rung: RungRef,
    /// The day wished for.
    pub by: Option<CivilDate>,
    /// Where the athlete stands.
    pub state: GoalState,
    /// Median capacity on it, units.
    pub median: f64,
    /// Chance of one clean unit now.
    pub p_one: f64,
    /// Chance of the working band or more.
    pub p_band: f64,
    /// The next goal on offer.
    pub next: Option<RungRef>,
    /// In a sentence.
    pub sentence: String,
}
