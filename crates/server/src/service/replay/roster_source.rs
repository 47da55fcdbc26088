//! Roster source: the logs of a roster as they stood when a replay began, hashed as they are read.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use nextrung_domain::event::StoredEvent;
use nextrung_domain::ids::{AthleteRef, RosterId};
use nextrung_engine::engine::Engine;
use nextrung_engine::roster_log::RosterLog;
use nextrung_replay::athlete_log::AthleteLog;
use nextrung_replay::evaluate::source::{Logs, Source, SourceError, Traced};
use nextrung_replay::evaluate::summary::DataHash;
use sha2::{Digest, Sha256};
use tokio::runtime::Handle;

use crate::names;
use crate::service::WatchedLog;

/// The logs of a roster up to fixed positions, for a thread that may wait.
pub(super) struct RosterSource {
    engine: Arc<Engine<WatchedLog>>,
    /// What there is to read.
    pub(super) log: RosterLog,
    handle: Handle,
    lines: Mutex<Lines>,
}

/// What was read, as lines that each end in a line feed.
#[derive(Default, Clone)]
struct Lines {
    digest: Sha256,
    bytes: u64,
}

impl Lines {
    fn add(&mut self, line: &str) {
        self.digest.update(line);
        self.digest.update("\n");
        self.bytes += u64::try_from(line.len()).unwrap_or(u64::MAX) + 1;
    }

    fn hash(self, roster: &RosterId) -> DataHash {
        let sha256 = self.digest.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
        DataHash { name: names::of_roster(roster), sha256, bytes: self.bytes }
    }
}

impl RosterSource {
    pub(super) fn new(engine: Arc<Engine<WatchedLog>>, log: RosterLog, handle: Handle) -> Self {
        Self { engine, log, handle, lines: Mutex::default() }
    }

    /// The hash of what was read since [`Source::logs`] was called last.
    pub(super) fn hash(&self) -> DataHash {
        self.lines().clone().hash(&self.log.roster.id)
    }

    fn lines(&self) -> MutexGuard<'_, Lines> {
        self.lines.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn read(&self, athlete: &AthleteRef, position: u64) -> Result<Traced, SourceError> {
        let events: Vec<StoredEvent> = self.handle.block_on(self.engine.events_up_to(athlete, position))?;
        let mut lines = self.lines();
        lines.add(&athlete.to_string());
        for event in &events {
            lines.add(&serde_json::to_string(event)?);
        }
        drop(lines);
        // The id alone, as in files, so that the same logs have the same lots wherever they are read from.
        Ok(AthleteLog { athlete: athlete.athlete.to_string(), events }.into())
    }
}

impl Source for RosterSource {
    fn logs(&self) -> Result<Logs<'_>, SourceError> {
        *self.lines() = Lines::default();
        Ok(Box::new(self.log.athletes.iter().map(|(athlete, position)| self.read(athlete, *position))))
    }
}
