//! Watched store: a store whose every operation is timed, traced and counted, and whose failures are told on.

use std::sync::Arc;
use std::time::Instant;

use nextrung_domain::event::StoredEvent;
use nextrung_domain::ids::{AthleteId, AthleteRef, ClientSetId, PrescriptionId, RosterId};
use nextrung_store::access::AccessRecord;
use nextrung_store::append::{Append, Appended};
use nextrung_store::erasure::{Erased, Erasure};
use nextrung_store::error::StoreError;
use nextrung_store::key::{KeyId, KeyRecord};
use nextrung_store::page::{Listing, Page};
use nextrung_store::record::{
    AthleteRecord, Days, NewAthlete, NewRoster, PrescriptionRecord, RosterChange, RosterRecord, Written,
};
use nextrung_store::request::{Answer, RequestKey};
use nextrung_store::store::Store;
use tracing::Instrument;

use crate::meter::Meter;
use crate::readiness::Readiness;

/// A store that is watched at its work.
pub(crate) struct WatchedStore<S> {
    inner: S,
    meter: Arc<Meter>,
    readiness: Arc<Readiness>,
}

/// Whether an operation changes the log.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Does {
    Read,
    Write,
}

impl<S: Store> WatchedStore<S> {
    pub(crate) fn new(inner: S, meter: Arc<Meter>, readiness: Arc<Readiness>) -> Self {
        Self { inner, meter, readiness }
    }

    /// Asks the store whether it answers. It belongs to no call and makes no span.
    pub(crate) async fn probe(&self) -> Result<(), StoreError> {
        let began = Instant::now();
        let done = self.inner.rosters(&Page::first(1), None).await;
        let fault = done.as_ref().err().map(StoreError::kind);
        self.meter.store_did("probe", fault, began.elapsed());
        done.map(drop)
    }

    async fn watch<T>(
        &self,
        operation: &'static str,
        does: Does,
        work: impl Future<Output = Result<T, StoreError>> + Send,
    ) -> Result<T, StoreError> {
        let began = Instant::now();
        let span = tracing::debug_span!("store", otel.name = operation, operation);
        let done = work.instrument(span).await;
        let fault = done.as_ref().err().filter(|error| error.is_fault());
        self.meter.store_did(operation, fault.map(StoreError::kind), began.elapsed());
        match fault {
            Some(StoreError::Stopped) if does == Does::Write => self.readiness.store_stopped(),
            Some(StoreError::Backend { .. } | StoreError::Full { .. }) if does == Does::Write => {
                self.readiness.write_failed();
            }
            // The next beat says when it answers again.
            Some(StoreError::Unreachable { .. }) => self.readiness.store_answers(false),
            _ => {}
        }
        done
    }
}

impl<S: Store> Store for WatchedStore<S> {
    fn is_shared(&self) -> bool {
        self.inner.is_shared()
    }

    async fn positions(&self, athletes: &[AthleteRef]) -> Result<Vec<u64>, StoreError> {
        self.watch("positions", Does::Read, self.inner.positions(athletes)).await
    }

    async fn create_roster(
        &self,
        roster: NewRoster,
        request: Option<RequestKey>,
    ) -> Result<Written<RosterRecord>, StoreError> {
        self.watch("create-roster", Does::Write, self.inner.create_roster(roster, request)).await
    }

    async fn update_roster(
        &self,
        change: RosterChange,
        request: Option<RequestKey>,
    ) -> Result<Written<RosterRecord>, StoreError> {
        self.watch("update-roster", Does::Write, self.inner.update_roster(change, request)).await
    }

    async fn roster(&self, id: &RosterId) -> Result<RosterRecord, StoreError> {
        self.watch("roster", Does::Read, self.inner.roster(id)).await
    }

    async fn rosters(
        &self,
        page: &Page,
        within: Option<&KeyId>,
    ) -> Result<Listing<RosterRecord>, StoreError> {
        self.watch("rosters", Does::Read, self.inner.rosters(page, within)).await
    }

    async fn create_athlete(
        &self,
        athlete: NewAthlete,
        request: Option<RequestKey>,
    ) -> Result<Written<AthleteRecord>, StoreError> {
        self.watch("create-athlete", Does::Write, self.inner.create_athlete(athlete, request)).await
    }

    async fn athlete(&self, id: &AthleteRef) -> Result<AthleteRecord, StoreError> {
        self.watch("athlete", Does::Read, self.inner.athlete(id)).await
    }

    async fn athletes(&self, roster: &RosterId, page: &Page) -> Result<Listing<AthleteRecord>, StoreError> {
        self.watch("athletes", Does::Read, self.inner.athletes(roster, page)).await
    }

    async fn append(&self, append: Append) -> Result<Appended, StoreError> {
        self.watch("append", Does::Write, self.inner.append(append)).await
    }

    async fn events(
        &self,
        athlete: &AthleteRef,
        after_sequence: u64,
        up_to: Option<u64>,
        limit: u32,
    ) -> Result<Vec<StoredEvent>, StoreError> {
        self.watch("events", Does::Read, self.inner.events(athlete, after_sequence, up_to, limit)).await
    }

    async fn events_of_sets(
        &self,
        athlete: &AthleteRef,
        sets: &[ClientSetId],
    ) -> Result<Vec<StoredEvent>, StoreError> {
        self.watch("events-of-sets", Does::Read, self.inner.events_of_sets(athlete, sets)).await
    }

    async fn erase_athlete(
        &self,
        erasure: Erasure,
        request: Option<RequestKey>,
    ) -> Result<Written<Erased>, StoreError> {
        self.watch("erase-athlete", Does::Write, self.inner.erase_athlete(erasure, request)).await
    }

    async fn save_prescription(
        &self,
        prescription: PrescriptionRecord,
        request: Option<RequestKey>,
    ) -> Result<Written<PrescriptionRecord>, StoreError> {
        self.watch("save-prescription", Does::Write, self.inner.save_prescription(prescription, request))
            .await
    }

    async fn prescription(
        &self,
        athlete: &AthleteRef,
        id: &PrescriptionId,
    ) -> Result<PrescriptionRecord, StoreError> {
        self.watch("prescription", Does::Read, self.inner.prescription(athlete, id)).await
    }

    async fn prescriptions(
        &self,
        athlete: &AthleteRef,
        days: Days,
        page: &Page,
    ) -> Result<Listing<PrescriptionRecord>, StoreError> {
        self.watch("prescriptions", Does::Read, self.inner.prescriptions(athlete, days, page)).await
    }

    async fn requested(&self, request: &RequestKey) -> Result<Option<Answer>, StoreError> {
        self.watch("requested", Does::Read, self.inner.requested(request)).await
    }

    async fn create_key(&self, key: KeyRecord) -> Result<KeyRecord, StoreError> {
        self.watch("create-key", Does::Write, self.inner.create_key(key)).await
    }

    async fn key(&self, id: &KeyId) -> Result<KeyRecord, StoreError> {
        self.watch("key", Does::Read, self.inner.key(id)).await
    }

    async fn keys(&self, page: &Page) -> Result<Listing<KeyRecord>, StoreError> {
        self.watch("keys", Does::Read, self.inner.keys(page)).await
    }

    async fn keys_to(&self, athlete: &AthleteRef) -> Result<Vec<KeyRecord>, StoreError> {
        self.watch("keys-to", Does::Read, self.inner.keys_to(athlete)).await
    }

    async fn revoke_key(&self, id: &KeyId, now_ms: i64) -> Result<KeyRecord, StoreError> {
        self.watch("revoke-key", Does::Write, self.inner.revoke_key(id, now_ms)).await
    }

    async fn reaches(
        &self,
        key: (&KeyId, i64),
        roster: &RosterId,
        athlete: Option<&AthleteId>,
    ) -> Result<bool, StoreError> {
        self.watch("reaches", Does::Read, self.inner.reaches(key, roster, athlete)).await
    }

    async fn record_accesses(&self, accesses: Vec<AccessRecord>) -> Result<(), StoreError> {
        self.watch("record-accesses", Does::Write, self.inner.record_accesses(accesses)).await
    }

    async fn accesses(
        &self,
        roster: &RosterId,
        athlete: Option<&AthleteId>,
        page: &Page,
    ) -> Result<Listing<AccessRecord>, StoreError> {
        self.watch("accesses", Does::Read, self.inner.accesses(roster, athlete, page)).await
    }

    async fn close(&self) -> Result<(), StoreError> {
        self.watch("close", Does::Read, self.inner.close()).await
    }
}
