//! Entry: one set of a log as a replay sees it.

use nextrung_capacity::done::Done;
use nextrung_capacity::model::Model;
use nextrung_capacity::task::Task;
use nextrung_domain::band::Band;
use nextrung_domain::event::OrderKey;
use nextrung_domain::set::SetEntry;
use nextrung_prescribe::policy::Policy;

/// Days in a block: forecasters that learn from all athletes together are taught anew at the start of each.
pub const BLOCK_DAYS: i32 = 28;
const DAY_MS: i64 = 86_400_000;

/// Units up to which a set without a target is foretold, in heights of its working band; a count beyond is "that or more".
const UNTARGETED_BANDS: u16 = 4;

/// One set.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Its place in training order.
    pub key: OrderKey,
    /// When it was first recorded, milliseconds since 1970-01-01 UTC; the day of training when it came so late that it must be
    /// part of an import ([`known_at_ms`]).
    pub arrived_at_ms: i64,
    /// Its content.
    pub set: SetEntry,
    /// What it asked for.
    pub task: Task,
    /// How it went, as the model reads it.
    pub done: Done,
    /// The working band of its rung.
    pub band: Band,
}

impl Entry {
    /// A set as the model and the rules see it; nothing when its rung is on no ladder or has changed its unit.
    pub fn new(
        model: &Model,
        policy: &Policy,
        set: SetEntry,
        (sequence, arrived_at_ms): (u64, i64),
    ) -> Option<Self> {
        let (task, done) = model.read(&set)?;
        let band = policy.working_band(model.catalog.rung(task.rung));
        let key = OrderKey { place: set.place(), first_sequence: sequence };
        let arrived_at_ms = known_at_ms(&set, arrived_at_ms);
        Some(Self { key, arrived_at_ms, set, task, done, band })
    }

    /// Units up to which the set is foretold: its target, or several times its working band.
    pub fn top(&self) -> u16 {
        self.done.target.unwrap_or(self.band.high.saturating_mul(UNTARGETED_BANDS)).max(1)
    }

    /// The block in which it arrived; blocks are counted from 1970-01-01.
    pub fn block(&self) -> i32 {
        block_of(self.arrived_at_ms)
    }
}

/// When a set counts as known: its arrival, or its day of training when it arrived more than a block later. Whoever brings the
/// history of years into the service in one hour would else have no past to learn from; the order of the log stays.
pub fn known_at_ms(set: &SetEntry, arrived_at_ms: i64) -> i64 {
    let trained_ms = i64::from(set.date.day_number()) * DAY_MS;
    if is_import(set, arrived_at_ms) { trained_ms } else { arrived_at_ms }
}

/// True when a set arrived more than a block after its day of training.
pub fn is_import(set: &SetEntry, arrived_at_ms: i64) -> bool {
    arrived_at_ms - i64::from(set.date.day_number()) * DAY_MS > i64::from(BLOCK_DAYS) * DAY_MS
}

/// The block of a moment, milliseconds since 1970-01-01 UTC.
pub fn block_of(at_ms: i64) -> i32 {
    i32::try_from(at_ms.div_euclid(DAY_MS).div_euclid(i64::from(BLOCK_DAYS))).unwrap_or(i32::MAX)
}
