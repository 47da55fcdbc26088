//! Engine: the use cases over one store.

use std::collections::BTreeMap;
use std::num::NonZeroUsize;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use nextrung_capacity::model::Model;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::event::{EventBody, OrderKey, StoredEvent};
use nextrung_domain::ids::{AthleteRef, RosterId};
use nextrung_prescribe::policy::Policy;
use nextrung_store::append::{Append, Appended};
use nextrung_store::error::StoreError;
use nextrung_store::record::RosterRecord;
use nextrung_store::request::RequestKey;
use nextrung_store::store::Store;

use crate::answers::Answers;
use crate::cache::Cache;
use crate::clock::Clock;
use crate::error::EngineError;
use crate::fold::Head;
use crate::foretelling::ranks;
use crate::lookback::Benches;
use crate::moves::Moves;
use crate::observer::{Nobody, Observer};
use crate::set_log::SetLog;
use crate::tail::{Tail, Tails};
use crate::turn::{Turn, Turns};

/// Athletes whose heads are kept, at about 20 KB each.
const CACHED_ATHLETES: NonZeroUsize = NonZeroUsize::MIN.saturating_add(4095);
/// Events read from the store at once.
pub(crate) const CHUNK: u32 = 10_000;
/// How often a write is checked and tried anew because others of the same log came first. Each time somebody has written,
/// and of this engine's writers to an athlete only one tries.
const WRITE_TRIES: u32 = 200;

/// The service without its transport. Where the store is shared, others write to the same log, and what is remembered of
/// it is compared with it before each answer; else one engine owns its store.
pub struct Engine<S> {
    pub(crate) store: Arc<S>,
    pub(crate) model: Model,
    pub(crate) policy: Policy,
    pub(crate) clock: Arc<dyn Clock>,
    pub(crate) cache: Cache,
    pub(crate) answers: Answers,
    pub(crate) turns: Turns,
    pub(crate) moves: Moves,
    pub(crate) tails: Tails,
    pub(crate) benches: Benches,
    observer: Arc<dyn Observer>,
    rosters: Mutex<BTreeMap<RosterId, RosterRecord>>,
}

impl<S: Store> Engine<S> {
    /// An engine over a store.
    pub fn new(store: S, model: Model, policy: Policy, clock: Arc<dyn Clock>) -> Self {
        Self {
            store: Arc::new(store),
            model,
            policy,
            clock,
            cache: Cache::new(CACHED_ATHLETES),
            answers: Answers::new(),
            turns: Turns::new(),
            moves: Moves::new(),
            tails: Tails::new(),
            benches: Benches::new(),
            observer: Arc::new(Nobody),
            rosters: Mutex::new(BTreeMap::new()),
        }
    }

    /// The same engine with room for so many heads.
    #[must_use]
    pub fn caching(self, heads: NonZeroUsize) -> Self {
        Self { cache: Cache::new(heads), ..self }
    }

    /// The same engine, which tells an observer what it does.
    #[must_use]
    pub fn observed_by(self, observer: Arc<dyn Observer>) -> Self {
        Self { observer, ..self }
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

    /// The clock, for those who must agree with the engine.
    pub fn shared_clock(&self) -> Arc<dyn Clock> {
        Arc::clone(&self.clock)
    }

    /// The store, for those who read it beside the engine.
    pub fn shared_store(&self) -> Arc<S> {
        Arc::clone(&self.store)
    }

    /// Heads held and the bytes they take.
    pub fn cache_size(&self) -> (usize, usize) {
        self.cache.size()
    }

    /// The turn to write to an athlete's log.
    pub(crate) async fn turn(&self, athlete: &AthleteRef) -> Turn {
        self.turns.of(&[athlete.roster.as_str(), athlete.athlete.as_str()]).await
    }

    /// A roster, from memory when it was read before and nobody else can have changed it.
    pub(crate) async fn roster_record(&self, id: &RosterId) -> Result<RosterRecord, EngineError> {
        if self.store.is_shared() {
            return Ok(self.store.roster(id).await?);
        }
        if let Some(record) = self.known_rosters().get(id).cloned() {
            return Ok(record);
        }
        // Read while a change is under way, it could be remembered over the changed one.
        let _turn = self.turns.of(&[id.as_str()]).await;
        let record = self.store.roster(id).await?;
        self.known_rosters().insert(record.id.clone(), record.clone());
        Ok(record)
    }

    /// Rosters read before; who takes one out or puts one in has its turn.
    pub(crate) fn known_rosters(&self) -> MutexGuard<'_, BTreeMap<RosterId, RosterRecord>> {
        self.rosters.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// An athlete's log up to a position that it has, or to its end. Fails with [`EngineError::LogMoved`] when meanwhile the
    /// athlete was erased and another one of that name has come.
    pub(crate) async fn read_log(
        &self,
        athlete: &AthleteRef,
        up_to: Option<u64>,
    ) -> Result<SetLog, EngineError> {
        self.walk_log(athlete, up_to, |_| ()).await
    }

    /// [`read_log`](Self::read_log), seeing every event on the way.
    pub(crate) async fn walk_log(
        &self,
        athlete: &AthleteRef,
        up_to: Option<u64>,
        mut see: impl FnMut(&StoredEvent) + Send,
    ) -> Result<SetLog, EngineError> {
        let moved = || EngineError::LogMoved { name: athlete.to_string() };
        let mut log = SetLog::default();
        loop {
            let events = self.store.events(athlete, log.position(), up_to, CHUNK).await?;
            let is_last = events.len() < usize::try_from(CHUNK).unwrap_or(usize::MAX);
            if !log.goes_on_with(&events) {
                return Err(moved());
            }
            for event in events {
                see(&event);
                log.apply(event);
            }
            if is_last {
                let is_whole = up_to.is_none_or(|position| position == log.position());
                return if is_whole { Ok(log) } else { Err(moved()) };
            }
        }
    }

    /// An athlete's head at the end of the log, from the cache or folded. Fails when there is no such athlete.
    pub async fn head(&self, athlete: &AthleteRef) -> Result<Arc<Head>, EngineError> {
        if let Some(head) = self.cache.get(athlete)
            && self.news(athlete, head.position).await?.is_empty()
        {
            self.observer.head_asked(true);
            return Ok(head);
        }
        // Folded while a write is under way, it could be kept over the newer one.
        let _turn = self.turn(athlete).await;
        self.head_in_turn(athlete).await
    }

    /// [`head`](Self::head) for those who hold the athlete's turn already.
    pub(crate) async fn head_in_turn(&self, athlete: &AthleteRef) -> Result<Arc<Head>, EngineError> {
        let cached = self.cache.get(athlete);
        self.observer.head_asked(cached.is_some());
        let Some(mut head) = cached else {
            return Ok(self.folded_in_turn(athlete).await?.0);
        };
        loop {
            let events = self.news(athlete, head.position).await?;
            if events.is_empty() {
                return Ok(head);
            }
            let tail = self.tails.get(athlete);
            let (next, tail) = self.advanced(athlete, (&head, tail), (&events, None)).await?;
            head = self.keep(athlete, &next, tail);
        }
    }

    /// What others have written behind a position: nothing where nobody else can have.
    async fn news(&self, athlete: &AthleteRef, position: u64) -> Result<Vec<StoredEvent>, EngineError> {
        if !self.store.is_shared() {
            return Ok(Vec::new());
        }
        let found = self.store.events(athlete, position, None, CHUNK).await;
        if matches!(found, Err(StoreError::NotFound { .. })) {
            // Erased through another replica.
            self.forget(athlete);
        }
        Ok(found?)
    }

    /// The tail of an athlete's log that reaches to its end, from memory or folded with the head. Fails when there is no such
    /// athlete.
    pub(crate) async fn tail(&self, athlete: &AthleteRef) -> Result<Arc<Tail>, EngineError> {
        let position = if self.store.is_shared() { self.head(athlete).await?.position } else { 0 };
        if let Some(tail) = self.tails.get(athlete).filter(|tail| tail.position() >= position) {
            return Ok(tail);
        }
        let _turn = self.turn(athlete).await;
        Ok(self.folded_in_turn(athlete).await?.1)
    }

    /// Folds a log for its head and tail and keeps both.
    async fn folded_in_turn(&self, athlete: &AthleteRef) -> Result<(Arc<Head>, Arc<Tail>), EngineError> {
        let log = self.read_log(athlete, None).await?;
        self.observer.folded(log.len());
        let (head, tail) = Head::with_tail(&self.model, &log).ok_or_else(|| no_profile(athlete))?;
        Ok((self.cache.keep(athlete, &head), self.tails.keep(athlete, tail)))
    }

    /// Keeps a head and, when there is one, its tail. The caller has the athlete's turn.
    fn keep(&self, athlete: &AthleteRef, head: &Head, tail: Option<Tail>) -> Arc<Head> {
        if let Some(tail) = tail {
            drop(self.tails.keep(athlete, tail));
        }
        self.cache.keep(athlete, head)
    }

    /// Does a write that looks for its request, checks a call against the log and then appends. Where others share the log,
    /// it is done anew when they came in between: with the log moved, or with the very same request done, against whose
    /// outcome the check then failed. Fails with [`EngineError::LogMoved`] when they always do.
    pub(crate) async fn checked_write<T, F>(
        &self,
        key: &RequestKey,
        write: impl Fn() -> F,
    ) -> Result<T, EngineError>
    where
        F: Future<Output = Result<T, EngineError>>,
    {
        let most = if self.store.is_shared() { WRITE_TRIES } else { 1 };
        for _ in 1..most {
            match write().await {
                Err(EngineError::LogMoved { .. }) => {}
                Err(error) if !self.is_done(key).await => return Err(error),
                Err(_) => {}
                Ok(done) => return Ok(done),
            }
        }
        write().await
    }

    /// True when a request has an answer by now.
    async fn is_done(&self, key: &RequestKey) -> bool {
        matches!(self.store.requested(key).await, Ok(Some(_)))
    }

    /// Appends events in their turn and brings the cached head up to them. `from` is the earliest place of a set they
    /// touch, before or after.
    pub(crate) async fn append(
        &self,
        turn: Turn,
        append: Append,
        from: Option<OrderKey>,
    ) -> Result<Appended, EngineError> {
        let (athlete, bodies) = (append.athlete.clone(), append.events.clone());
        // Nobody is answered from the old head while the log moves on, nor after, should the caller go away meanwhile.
        let (head, tail) = (self.cache.take(&athlete), self.tails.take(&athlete));
        let store = self.store.clone();
        let (done, _turn) = turn.finish(async move { store.append(append).await }).await?;
        let appended = match done {
            Ok(appended) => appended,
            Err(error) => {
                // Another came first and nothing was written: what was known is still a part of the log.
                if let Some(head) = head.filter(|_| matches!(error, StoreError::Moved { .. })) {
                    drop(self.keep(&athlete, &head, tail.map(Arc::unwrap_or_clone)));
                }
                return Err(EngineError::of_append(&athlete, error));
            }
        };
        if let Some(head) = head.filter(|_| !appended.was_replay) {
            let events = stored(&appended, bodies);
            ranks(&self.model, &head, &events, |rank| self.observer.foretold(rank));
            match self.advanced(&athlete, (&head, tail), (&events, from)).await {
                Ok((next, tail)) => drop(self.keep(&athlete, &next, tail)),
                Err(error) => tracing::warn!(error = error.kind(), "cached state dropped after a write"),
            }
        }
        self.moves.tell(&athlete.roster, Some(&athlete));
        Ok(appended)
    }

    /// A head brought up to the last of some events that follow it: extended when they come last in training order, else
    /// replayed from its checkpoint. `from` is the earliest place that they touch; nothing when that is not known.
    async fn advanced(
        &self,
        athlete: &AthleteRef,
        (head, tail): (&Head, Option<Arc<Tail>>),
        (events, from): (&[StoredEvent], Option<OrderKey>),
    ) -> Result<(Head, Option<Tail>), EngineError> {
        let mut next = head.clone();
        if next.follow(&self.model, events) {
            let tail = tail.filter(|tail| tail.position() == head.position).map(|tail| {
                let mut tail = Arc::unwrap_or_clone(tail);
                tail.follow(&self.model, events);
                tail
            });
            return Ok((next, tail));
        }
        // Others who share the log may have gone on, in places that `from` says nothing of.
        let log = self.read_log(athlete, events.last().map(|event| event.sequence)).await?;
        self.observer.folded(log.len());
        let (head, tail) = match from.or_else(|| earliest(events)).filter(|_| follows(head, events)) {
            Some(from) => head.rebuilt_with_tail(&self.model, &log, from),
            None => Head::with_tail(&self.model, &log).ok_or_else(|| no_profile(athlete))?,
        };
        Ok((head, Some(tail)))
    }
}

/// True when events begin where a head ends, so that its checkpoint stands.
fn follows(head: &Head, events: &[StoredEvent]) -> bool {
    events.first().is_some_and(|first| first.sequence == head.position + 1)
}

/// The earliest place that events touch; nothing when only the log before them tells, as for a correction.
fn earliest(events: &[StoredEvent]) -> Option<OrderKey> {
    let place = |event: &StoredEvent| match &event.body {
        EventBody::Recorded { set } => {
            Some(Some(OrderKey { place: set.place(), first_sequence: event.sequence }))
        }
        EventBody::Profiled { .. } => Some(None),
        EventBody::Corrected { .. } | EventBody::Withdrawn { .. } => None,
    };
    let places = events.iter().map(place).collect::<Option<Vec<_>>>()?;
    places.into_iter().flatten().min()
}

/// Events as the log has them now.
fn stored(appended: &Appended, bodies: Vec<EventBody>) -> Vec<StoredEvent> {
    let arrived_at_ms = appended.arrived_at_ms;
    (appended.first_sequence..)
        .zip(bodies)
        .map(|(sequence, body)| StoredEvent { sequence, arrived_at_ms, body })
        .collect()
}

fn no_profile(athlete: &AthleteRef) -> EngineError {
    EngineError::Drifted { name: athlete.to_string(), detail: "its log holds no profile".to_owned() }
}
