//! Done: the outcome of a set, stripped to what the model reads.

use nextrung_domain::measure::{Reserve, RestSeconds};
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Stop;

/// When, how much, and how it ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Done {
    /// Training date, days since 1970-01-01.
    pub day: i32,
    /// Session of the day.
    pub session: u8,
    /// Clean units.
    pub units: u16,
    /// Target set before the set.
    pub target: Option<u16>,
    /// How it ended.
    pub stop: Stop,
    /// Reps in reserve, as felt.
    pub reserve: Option<u8>,
    /// Rest before the set, seconds.
    pub rest_seconds: Option<u16>,
}

impl Done {
    /// The outcome of a logged set.
    pub fn of(set: &SetEntry) -> Self {
        Self {
            day: set.date.day_number(),
            session: set.session.get(),
            units: set.done,
            target: set.target,
            stop: set.stop,
            reserve: set.reserve.map(Reserve::get),
            rest_seconds: set.rest.map(RestSeconds::get),
        }
    }

    /// True when a unit was done or tried; a set ended at 0 for another reason was no work and tells nothing.
    pub fn is_effort(&self) -> bool {
        self.units > 0 || self.stop.is_failure()
    }
}
