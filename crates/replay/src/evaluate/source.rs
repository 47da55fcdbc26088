//! Source: where the logs of a replay come from. They are read twice: once to learn from, once to score.

use std::error::Error;
use std::sync::Arc;

use crate::athlete_log::AthleteLog;
use crate::forecaster::oracle::Truths;
use crate::simulate::crowd::{Roster, SimulatedAthlete};

/// One athlete's log, with the truth behind it where that is known.
#[derive(Debug, Clone)]
pub struct Traced {
    /// The log.
    pub log: AthleteLog,
    /// What is true of its sets; empty for people.
    pub truths: Arc<Truths>,
    /// Sets that could not be read and were left out.
    pub left_out: u64,
}

impl From<AthleteLog> for Traced {
    fn from(log: AthleteLog) -> Self {
        Self { log, truths: Arc::new(Truths::new()), left_out: 0 }
    }
}

/// Why a log could not be read.
pub type SourceError = Box<dyn Error + Send + Sync>;

/// The logs, one after the other.
pub type Logs<'s> = Box<dyn Iterator<Item = Result<Traced, SourceError>> + 's>;

/// Where logs come from; the same ones in the same order each time.
pub trait Source {
    /// Begins to read.
    ///
    /// # Errors
    ///
    /// Whatever keeps it from beginning.
    fn logs(&self) -> Result<Logs<'_>, SourceError>;
}

impl Source for [Traced] {
    fn logs(&self) -> Result<Logs<'_>, SourceError> {
        Ok(Box::new(self.iter().cloned().map(Ok)))
    }
}

impl Source for Vec<Traced> {
    fn logs(&self) -> Result<Logs<'_>, SourceError> {
        self.as_slice().logs()
    }
}

impl Source for Roster {
    fn logs(&self) -> Result<Logs<'_>, SourceError> {
        Ok(Box::new(self.athletes().map(|athlete| Ok(athlete?.into()))))
    }
}

impl From<SimulatedAthlete> for Traced {
    fn from(athlete: SimulatedAthlete) -> Self {
        let truths = athlete.oracle.into_iter().map(|set| (set.client_set_id, set.standing));
        Self { truths: Arc::new(truths.collect()), ..athlete.log.into() }
    }
}
