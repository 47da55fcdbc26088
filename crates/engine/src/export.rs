//! Export: everything that is kept about an athlete, piece by piece.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_domain::profile::Profile;
use nextrung_store::access::AccessRecord;
use nextrung_store::key::KeyRecord;
use nextrung_store::page::Page;
use nextrung_store::record::{AthleteRecord, Days};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::issued::Issued;
use crate::set_log::{LoggedSet, SetStatus};

/// Events read for a piece.
const EVENTS: u32 = 500;
/// Prescriptions read for a piece.
const PRESCRIPTIONS: u32 = 50;
/// Calls read for a piece.
const ACCESSES: u32 = 1000;

/// A piece of an export, in the order of the variants.
#[derive(Debug, Clone, PartialEq)]
pub enum Piece {
    /// The athlete as of the beginning; once.
    Athlete(Box<AthleteRecord>),
    /// Events of the log in their order.
    Events(Vec<Entry>),
    /// Prescriptions as issued, the latest training day first.
    Prescriptions(Vec<Issued>),
    /// Every key that reaches the athlete; once.
    Keys(Vec<KeyRecord>),
    /// Calls about the athlete, the last first.
    Accesses(Vec<AccessRecord>),
    /// The end; once.
    End(Counts),
}

/// An event as it came in.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Its position in the log.
    pub sequence: u64,
    /// Arrival, milliseconds since 1970-01-01 UTC.
    pub arrived_at_ms: i64,
    /// What it was.
    pub told: What,
}

/// What an event was.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// A set was recorded or corrected, and stood like this from then on.
    Set(LoggedSet),
    /// A set was withdrawn.
    Withdrawn {
        /// The set.
        set: ClientSetId,
        /// Why.
        reason: String,
    },
    /// The profile from then on.
    Profile(Box<Profile>),
}

/// What an export came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counts {
    /// When it began, milliseconds since 1970-01-01 UTC.
    pub began_at_ms: i64,
    /// Position of the log up to which events are in it.
    pub position: u64,
    /// Events.
    pub events: u64,
    /// Prescriptions.
    pub prescriptions: u64,
    /// Keys.
    pub keys: u64,
    /// Calls.
    pub accesses: u64,
}

/// What comes next.
enum Stage {
    Athlete,
    Events,
    Prescriptions(Page),
    Keys,
    Accesses(Page),
    End,
    Over,
}

/// An export under way. What is recorded meanwhile is not in it; what is prescribed meanwhile may be.
pub struct Export<S> {
    engine: Arc<Engine<S>>,
    record: AthleteRecord,
    stage: Stage,
    /// Where the log began, once known.
    origin: Option<u64>,
    /// The last event given.
    at: u64,
    /// First sequence and arrival of every set so far.
    sets: BTreeMap<ClientSetId, (u64, i64)>,
    counts: Counts,
}

impl<S: Store> Export<S> {
    /// Begins. Fails when there is no such athlete.
    pub async fn begin(engine: Arc<Engine<S>>, athlete: &AthleteRef) -> Result<Self, EngineError> {
        let record = engine.athlete(athlete).await?;
        let (began_at_ms, position) = (engine.clock.now_ms(), record.last_sequence);
        let counts = Counts { began_at_ms, position, events: 0, prescriptions: 0, keys: 0, accesses: 0 };
        let (stage, sets) = (Stage::Athlete, BTreeMap::new());
        Ok(Self { engine, record, stage, origin: None, at: 0, sets, counts })
    }

    /// The next piece; nothing after the end. Fails when the athlete is erased meanwhile.
    pub async fn next(&mut self) -> Result<Option<Piece>, EngineError> {
        Ok(Some(match std::mem::replace(&mut self.stage, Stage::Over) {
            Stage::Athlete => {
                self.stage = Stage::Events;
                Piece::Athlete(Box::new(self.record.clone()))
            }
            Stage::Events => self.events().await?,
            Stage::Prescriptions(page) => self.prescriptions(&page).await?,
            Stage::Keys => {
                let keys = self.engine.store.keys_to(&self.record.id).await?;
                self.counts.keys = count(keys.len());
                self.stage = Stage::Accesses(Page::first(ACCESSES));
                Piece::Keys(keys)
            }
            Stage::Accesses(page) => self.accesses(&page).await?,
            Stage::End => {
                self.is_still_there().await?;
                Piece::End(self.counts)
            }
            Stage::Over => return Ok(None),
        }))
    }

    async fn events(&mut self) -> Result<Piece, EngineError> {
        let (athlete, up_to) = (&self.record.id, Some(self.record.last_sequence));
        let found = self.engine.store.events(athlete, self.at, up_to, EVENTS).await?;
        let Some((first, last)) = found.first().zip(found.last()) else { return Err(self.moved()) };
        if *self.origin.get_or_insert(first.sequence) != first.sequence && first.sequence != self.at + 1 {
            return Err(self.moved());
        }
        self.at = last.sequence;
        self.counts.events += count(found.len());
        let is_last = self.at == self.record.last_sequence;
        self.stage = if is_last { Stage::Prescriptions(Page::first(PRESCRIPTIONS)) } else { Stage::Events };
        Ok(Piece::Events(found.into_iter().map(|event| self.entry(event)).collect()))
    }

    fn entry(&mut self, event: StoredEvent) -> Entry {
        let StoredEvent { sequence, arrived_at_ms, body } = event;
        let told = match body {
            EventBody::Recorded { set } => {
                self.sets.insert(set.client_set_id.clone(), (sequence, arrived_at_ms));
                let (first_sequence, status) = (sequence, SetStatus::Active);
                What::Set(LoggedSet { set, first_sequence, arrived_at_ms, status })
            }
            EventBody::Corrected { set, reason } => {
                let recorded = self.sets.get(&set.client_set_id).copied();
                let (first_sequence, arrived_at_ms) = recorded.unwrap_or((sequence, arrived_at_ms));
                let status = SetStatus::Corrected { reason };
                What::Set(LoggedSet { set, first_sequence, arrived_at_ms, status })
            }
            EventBody::Withdrawn { client_set_id, reason } => What::Withdrawn { set: client_set_id, reason },
            EventBody::Profiled { profile } => What::Profile(profile),
        };
        Entry { sequence, arrived_at_ms, told }
    }

    async fn prescriptions(&mut self, page: &Page) -> Result<Piece, EngineError> {
        let found = self.engine.prescriptions(&self.record.id, Days::default(), page).await?;
        self.counts.prescriptions += count(found.items.len());
        self.stage = match found.next {
            Some(after) => Stage::Prescriptions(Page::after(PRESCRIPTIONS, after)),
            None => Stage::Keys,
        };
        Ok(Piece::Prescriptions(found.items))
    }

    async fn accesses(&mut self, page: &Page) -> Result<Piece, EngineError> {
        let AthleteRef { roster, athlete } = &self.record.id;
        let found = self.engine.store.accesses(roster, Some(athlete), page).await?;
        self.counts.accesses += count(found.items.len());
        self.stage = match found.next {
            Some(after) => Stage::Accesses(Page::after(ACCESSES, after)),
            None => Stage::End,
        };
        Ok(Piece::Accesses(found.items))
    }

    /// Fails when another athlete has the name by now.
    async fn is_still_there(&self) -> Result<(), EngineError> {
        let first = self.engine.store.events(&self.record.id, 0, None, 1).await?;
        if first.first().map(|event| event.sequence) == self.origin { Ok(()) } else { Err(self.moved()) }
    }

    fn moved(&self) -> EngineError {
        EngineError::LogMoved { name: self.record.id.to_string() }
    }
}

fn count(length: usize) -> u64 {
    length.try_into().unwrap_or(u64::MAX)
}
