//! The cast: a dozen invented athletes under bird names, with their stories.

use crate::hall::paths::{Slot, Use};

mod people;

pub use people::CAST;

/// How strength moves over the months.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pace {
    /// Sessions from one jump to the next, on average.
    pub sessions_a_jump: f64,
    /// Mean size of a jump, as a share of the units on the anchor.
    pub jump: f64,
}

/// How reps in reserve are claimed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Claims {
    /// About right.
    Honest,
    /// One or two fewer than there were.
    Modest,
    /// Always the same number, whatever was there.
    Always(u8),
}

/// What a person is like to log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habit {
    /// Share of planned sessions that take place.
    pub turnout: f64,
    /// Moves up early when near 1, waits long when near 0.
    pub boldness: f64,
    /// Share of sets with reps in reserve.
    pub reserve: f64,
    /// What is then claimed.
    pub claims: Claims,
    /// Share of sets with their rest.
    pub rest: f64,
    /// Share of failed sets whose cause is said.
    pub cause: f64,
    /// Chance of playing about on a hard rung in a session.
    pub play: f64,
    /// Chance of stopping by choice close to the limit.
    pub caution: f64,
}

/// A spell of pain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sore {
    /// First day of the story on which it is felt.
    pub from: i32,
    /// Last day.
    pub to: i32,
    /// The ability that hurts.
    pub ability: &'static str,
    /// Pain of 10 on the first and on the last day.
    pub pain: (f64, f64),
}

/// A clearance: its word, the day it was confirmed, by whom.
pub type Cleared = (&'static str, &'static str, &'static str);

/// Limits, where they depart from the usual ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct OwnLimits {
    /// Pain that holds back.
    pub max_pain: Option<u8>,
    /// Most sets a session.
    pub max_sets: Option<u16>,
    /// Most minutes a session.
    pub max_minutes: Option<u16>,
    /// Banned rung and why.
    pub ban: Option<(&'static str, &'static str)>,
}

/// One athlete of the story.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Person {
    /// The id, also of the log's rows.
    pub id: &'static str,
    /// The name shown.
    pub name: &'static str,
    /// Their story in a sentence, for the file of athletes.
    pub story: &'static str,
    /// Birth date.
    pub birth: &'static str,
    /// Body mass, kilograms.
    pub mass_kg: f64,
    /// Goal rungs, the dearest first.
    pub goals: &'static [&'static str],
    /// Equipment at hand.
    pub equipment: &'static [&'static str],
    /// Weekdays, 0 for Monday.
    pub days: &'static [u8],
    /// Limits of their own.
    pub limits: OwnLimits,
    /// Clearances.
    pub cleared: &'static [Cleared],
    /// First and last day of the story on which they may train.
    pub present: (i32, i32),
    /// Days off, first and last.
    pub away: &'static [(i32, i32)],
    /// Spells of pain.
    pub sore: &'static [Sore],
    /// Units on the anchors of abilities at the start; others start at the file's usual level.
    pub start: &'static [(&'static str, f64)],
    /// How strength moves.
    pub pace: Pace,
    /// What they log.
    pub habit: Habit,
    /// Sessions in turn.
    pub sessions: &'static [&'static [Slot]],
}

/// The day of the story in week `week` (0 to 25) on weekday `weekday` (0 for Monday).
const fn day(week: i32, weekday: i32) -> i32 {
    7 * week + weekday
}

const fn work(ladder: &'static str, sets: u16) -> Slot {
    Slot { ladder, purpose: Use::Work, sets }
}

const fn tries(ladder: &'static str, sets: u16) -> Slot {
    Slot { ladder, purpose: Use::Attempt, sets }
}

const fn practice(ladder: &'static str, sets: u16) -> Slot {
    Slot { ladder, purpose: Use::Practice, sets }
}
