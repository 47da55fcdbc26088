//! Roster log: what every athlete of a roster had in their log at one moment, to be read as often as one likes.

use std::collections::BTreeSet;

use nextrung_domain::event::StoredEvent;
use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
use nextrung_store::page::Page;
use nextrung_store::record::RosterRecord;
use nextrung_store::store::Store;

use crate::engine::{CHUNK, Engine};
use crate::error::EngineError;

/// Athletes listed at once.
const PAGE: u32 = 1000;

/// Where every log of a roster ended at one moment. Logs only grow, so that events up to there stay the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RosterLog {
    /// The roster.
    pub roster: RosterRecord,
    /// Its athletes in the order of their ids, each with the sequence of the last event.
    pub athletes: Vec<(AthleteRef, u64)>,
}

impl<S: Store> Engine<S> {
    /// Where every log of a roster ends now. Fails when there is no such roster, or with every one of `asked` that is not
    /// there.
    pub async fn roster_log(
        &self,
        id: &RosterId,
        asked: &BTreeSet<AthleteId>,
    ) -> Result<RosterLog, EngineError> {
        let roster = self.roster_record(id).await?;
        let mut athletes = Vec::new();
        let mut page = Page::first(PAGE);
        loop {
            let found = self.store.athletes(id, &page).await?;
            athletes.extend(found.items.into_iter().map(|record| (record.id, record.last_sequence)));
            match found.next {
                Some(after) => page = Page::after(PAGE, after),
                None => break,
            }
        }
        let is_there = |one: &AthleteId| athletes.binary_search_by(|(a, _)| a.athlete.cmp(one)).is_ok();
        let name =
            |athlete: &AthleteId| AthleteRef { roster: id.clone(), athlete: athlete.clone() }.to_string();
        let names: Vec<String> = asked.iter().filter(|one| !is_there(one)).map(name).collect();
        if names.is_empty() {
            Ok(RosterLog { roster, athletes })
        } else {
            Err(EngineError::AthletesNotFound { names })
        }
    }

    /// An athlete's events up to a position that the log has. Fails when there is no such athlete, or no longer.
    pub async fn events_up_to(
        &self,
        athlete: &AthleteRef,
        position: u64,
    ) -> Result<Vec<StoredEvent>, EngineError> {
        let mut events: Vec<StoredEvent> = Vec::new();
        loop {
            let after = events.last().map_or(0, |event| event.sequence);
            let next = self.store.events(athlete, after, Some(position), CHUNK).await?;
            let is_last = next.len() < usize::try_from(CHUNK).unwrap_or(usize::MAX);
            events.extend(next);
            if is_last {
                let is_whole = events.last().map_or(0, |event| event.sequence) == position;
                let moved = || EngineError::LogMoved { name: athlete.to_string() };
                return if is_whole { Ok(events) } else { Err(moved()) };
            }
        }
    }
}
