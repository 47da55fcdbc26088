//! Smoothing: what the whole history says about every session of it (F-08).
//!
//! The filter reads the log once. What each set told stays as it was, with the fatigue of the time; only the blame
//! for a failure that several abilities may have caused is shared anew between sweeps, by what the other abilities
//! are believed to have been. Given that, abilities are independent, and each is a [`chain::Chain`]. How near an
//! athlete stops by choice, and of which strength a report of reserve speaks, stay as the filter took them to be.

pub mod chain;
mod hindsight;
mod history;
mod message;
pub mod site;

pub use hindsight::{Smoothed, SmoothedAbility};

use crate::done::Done;
use crate::model::Model;
use crate::task::Task;
use history::{History, Strand};

/// Session number of a look at a day's end; sets are numbered from 1 to 9.
pub const LOOK: u8 = u8::MAX;

/// When to stop sweeping.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sweeps {
    /// Most sweeps after the filter's own pass.
    pub most: u32,
    /// Enough when no belief about a set moved further than this: a mean in its standard deviations, a variance in
    /// its own size.
    pub tolerance: f64,
}

impl Default for Sweeps {
    /// Three sweeps. On invented logs the levels then stand, in the mean, within 0.006 of their standard deviations
    /// of where they settle, and within 0.12 where a quarter of the failures may be the fault of either of two
    /// strengths.
    fn default() -> Self {
        Self { most: 3, tolerance: 1e-6 }
    }
}

/// Smooths one athlete's history: tasks and outcomes in training order.
#[must_use]
pub fn smooth(model: &Model, sets: &[(Task, Done)], sweeps: Sweeps) -> Smoothed {
    smooth_at(model, sets, sweeps, &[])
}

/// The same with a look at the end of each of `days` (since 1970-01-01, ascending) at every ability trained before or on
/// it: a session number [`LOOK`] in which nothing is done, so a new form of the day and no other belief than without it.
#[must_use]
pub fn smooth_at(model: &Model, sets: &[(Task, Done)], sweeps: Sweeps, days: &[i32]) -> Smoothed {
    let mut history = settled(model, sets, sweeps, days);
    Smoothed {
        log_evidence: evidence_of(&mut history),
        abilities: history.strands.values_mut().map(Strand::hindsight).collect(),
    }
}

/// The log evidence of [`smooth`] alone.
#[must_use]
pub fn log_evidence(model: &Model, sets: &[(Task, Done)], sweeps: Sweeps) -> f64 {
    evidence_of(&mut settled(model, sets, sweeps, &[]))
}

fn settled<'a>(model: &'a Model, sets: &'a [(Task, Done)], sweeps: Sweeps, days: &[i32]) -> History<'a> {
    let mut history = History::read(model, sets, days);
    for _ in 0..sweeps.most {
        if history.sweep() <= sweeps.tolerance {
            break;
        }
    }
    history
}

fn evidence_of(history: &mut History<'_>) -> f64 {
    history.strands.values_mut().map(|strand| strand.chain.log_evidence()).sum()
}
