//! Engine: the use cases over one store.

use std::collections::BTreeMap;
use std::num::NonZeroUsize;
use std::sync::{Arc, Mutex, PoisonError};

use nextrung_capacity::model::Model;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::event::StoredEvent;
use nextrung_domain::ids::{AthleteRef, RosterId};
use nextrung_prescribe::policy::Policy;
use nextrung_store::record::RosterRecord;
use nextrung_store::store::Store;

use crate::cache::Cache;
use crate::clock::Clock;
use crate::error::EngineError;
use crate::fold::Head;
use crate::set_log::SetLog;

/// Athletes whose heads are kept, at about 20 KB each.
const CACHED_ATHLETES: NonZeroUsize = NonZeroUsize::MIN.saturating_add(4095);
/// Locks that writers to the same athlete share.
const STRIPES: usize = 64;
/// Events read from the store at once.
const CHUNK: u32 = 10_000;

/// The service without its transport. One engine owns its store: nobody else writes to the same log.
pub struct Engine<S> {
    pub(crate) store: S,
    pub(crate) model: Model,
    pub(crate) policy: Policy,
    pub(crate) clock: Arc<dyn Clock>,
    pub(crate) cache: Cache,
    rosters: Mutex<BTreeMap<RosterId, RosterRecord>>,
    /// Held by whoever reads or changes a roster in the store, so that an older record is never kept over a newer one.
    pub(crate) roster_turn: tokio::sync::Mutex<()>,
    stripes: Vec<tokio::sync::Mutex<()>>,
}

impl<S: Store> Engine<S> {
    /// An engine over a store.
    pub fn new(store: S, model: Model, policy: Policy, clock: Arc<dyn Clock>) -> Self {
        Self {
            store,
            model,
            policy,
            clock,
            cache: Cache::new(CACHED_ATHLETES),
            rosters: Mutex::new(BTreeMap::new()),
            roster_turn: tokio::sync::Mutex::new(()),
            stripes: (0..STRIPES).map(|_| tokio::sync::Mutex::new(())).collect(),
        }
    }

    /// The ladders in force.
    pub fn catalog(&self) -> &Arc<Catalog> {
        &self.model.catalog
    }

    /// Ladders and parameters in force.
    pub fn model(&self) -> &Model {
        &self.model
    }

    /// The rules of choice.
    pub fn policy(&self) -> &Policy {
        &self.policy
    }

    /// The date in UTC, as the engine's clock has it.
    pub fn today(&self) -> nextrung_domain::date::CivilDate {
        self.clock.today()
    }

    /// The store, to close it.
    pub fn store(&self) -> &S {
        &self.store
    }

    /// Heads held and the bytes they take.
    pub fn cache_size(&self) -> (usize, usize) {
        self.cache.size()
    }

    /// Writers to one athlete pass one after another.
    pub(crate) async fn write_turn(&self, athlete: &AthleteRef) -> tokio::sync::MutexGuard<'_, ()> {
        let text = [athlete.roster.as_str(), athlete.athlete.as_str()];
        let hash = text
            .iter()
            .flat_map(|t| t.bytes())
            .fold(0_usize, |h, b| h.wrapping_mul(31).wrapping_add(usize::from(b)));
        self.stripes[hash % STRIPES].lock().await
    }

    fn known_roster(&self, id: &RosterId) -> Option<RosterRecord> {
        self.rosters.lock().unwrap_or_else(PoisonError::into_inner).get(id).cloned()
    }

    /// A roster, from memory when it was read before.
    pub(crate) async fn roster_record(&self, id: &RosterId) -> Result<RosterRecord, EngineError> {
        if let Some(record) = self.known_roster(id) {
            return Ok(record);
        }
        let _turn = self.roster_turn.lock().await;
        let record = self.store.roster(id).await?;
        self.remember_roster(record.clone());
        Ok(record)
    }

    /// Keeps a roster in memory, for those who hold the turn.
    pub(crate) fn remember_roster(&self, record: RosterRecord) {
        self.rosters.lock().unwrap_or_else(PoisonError::into_inner).insert(record.id.clone(), record);
    }

    /// An athlete's log up to a position, or to its end.
    pub(crate) async fn read_log(
        &self,
        athlete: &AthleteRef,
        up_to: Option<u64>,
    ) -> Result<SetLog, EngineError> {
        let mut log = SetLog::default();
        loop {
            let events = self.store.events(athlete, log.position(), up_to, CHUNK).await?;
            let is_last = events.len() < usize::try_from(CHUNK).unwrap_or(usize::MAX);
            events.into_iter().for_each(|event| log.apply(event));
            if is_last {
                return Ok(log);
            }
        }
    }

    /// An athlete's head, from the cache or folded from the log.
    pub(crate) async fn head(&self, athlete: &AthleteRef) -> Result<Arc<Head>, EngineError> {
        match self.cache.get(athlete) {
            Some(head) => Ok(head),
            None => {
                // A head read while a write is under way could be put over a newer one.
                let _turn = self.write_turn(athlete).await;
                self.head_in_turn(athlete).await
            }
        }
    }

    /// [`head`](Self::head) for those who hold the athlete's turn already.
    pub(crate) async fn head_in_turn(&self, athlete: &AthleteRef) -> Result<Arc<Head>, EngineError> {
        if let Some(head) = self.cache.get(athlete) {
            return Ok(head);
        }
        let log = self.read_log(athlete, None).await?;
        let head = Arc::new(Head::of(&self.model, &log).ok_or_else(|| no_profile(athlete))?);
        self.cache.put(athlete, head.clone());
        Ok(head)
    }

    /// Brings the cached head up to events that were just appended: extended when they come last in training order,
    /// else replayed from the checkpoint.
    pub(crate) async fn advance(&self, athlete: &AthleteRef, change: Change<'_>) -> Result<(), EngineError> {
        let Some(head) = self.cache.get(athlete) else { return Ok(()) };
        let mut next = (*head).clone();
        if !next.follow(&self.model, change.events) {
            let log = self.read_log(athlete, None).await?;
            next = match change.from {
                Some(from) => (*head).clone().rebuilt(&self.model, &log, from),
                None => Head::of(&self.model, &log).ok_or_else(|| no_profile(athlete))?,
            };
        }
        self.cache.put(athlete, Arc::new(next));
        Ok(())
    }
}

/// Events just appended.
pub(crate) struct Change<'a> {
    /// The events, with their sequences.
    pub(crate) events: &'a [StoredEvent],
    /// The earliest place of a set they touch, before or after.
    pub(crate) from: Option<nextrung_domain::event::OrderKey>,
}

fn no_profile(athlete: &AthleteRef) -> EngineError {
    EngineError::Drifted { name: athlete.to_string(), detail: "its log holds no profile".to_owned() }
}
