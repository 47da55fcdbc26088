//! Slow store: a log whose writes take their time, and end whether anybody waits or not.

use std::sync::Arc;
use std::time::Duration;

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
use nextrung_store::sqlite::SqliteStore;
use nextrung_store::store::Store;
use tokio::sync::{Notify, RwLock};

/// How long a write waits in the queue.
const WAIT: Duration = Duration::from_millis(15);

/// A SQLite log behind a slow queue.
pub(crate) struct SlowStore {
    log: Arc<SqliteStore>,
    /// Told of every write that was queued.
    pub(crate) queued: Notify,
    /// Held by every write until it has ended.
    under_way: Arc<RwLock<()>>,
}

impl SlowStore {
    pub(crate) fn over(log: SqliteStore) -> Self {
        Self { log: Arc::new(log), queued: Notify::new(), under_way: Arc::default() }
    }

    /// Waits until every write that was queued has ended.
    pub(crate) async fn settled(&self) {
        drop(self.under_way.write().await);
    }

    /// What the store promises of a write: it finishes once queued, even when the caller drops the future.
    async fn queue<T, F>(&self, write: impl FnOnce(Arc<SqliteStore>) -> F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: Future<Output = Result<T, StoreError>> + Send + 'static,
    {
        let work = write(self.log.clone());
        let under_way = self.under_way.clone().read_owned().await;
        let running = tokio::spawn(async move {
            tokio::time::sleep(WAIT).await;
            let done = work.await;
            drop(under_way);
            done
        });
        self.queued.notify_one();
        running.await.map_err(|_| StoreError::Stopped)?
    }
}

impl Store for SlowStore {
    fn is_shared(&self) -> bool {
        self.log.is_shared()
    }

    async fn create_roster(
        &self,
        roster: NewRoster,
        request: Option<RequestKey>,
    ) -> Result<Written<RosterRecord>, StoreError> {
        self.queue(|log| async move { log.create_roster(roster, request).await }).await
    }

    async fn update_roster(
        &self,
        change: RosterChange,
        request: Option<RequestKey>,
    ) -> Result<Written<RosterRecord>, StoreError> {
        self.queue(|log| async move { log.update_roster(change, request).await }).await
    }

    async fn roster(&self, id: &RosterId) -> Result<RosterRecord, StoreError> {
        self.log.roster(id).await
    }

    async fn rosters(
        &self,
        page: &Page,
        within: Option<&KeyId>,
    ) -> Result<Listing<RosterRecord>, StoreError> {
        self.log.rosters(page, within).await
    }

    async fn create_key(&self, key: KeyRecord) -> Result<KeyRecord, StoreError> {
        self.queue(|log| async move { log.create_key(key).await }).await
    }

    async fn key(&self, id: &KeyId) -> Result<KeyRecord, StoreError> {
        self.log.key(id).await
    }

    async fn keys(&self, page: &Page) -> Result<Listing<KeyRecord>, StoreError> {
        self.log.keys(page).await
    }

    async fn keys_to(&self, athlete: &AthleteRef) -> Result<Vec<KeyRecord>, StoreError> {
        self.log.keys_to(athlete).await
    }

    async fn revoke_key(&self, id: &KeyId, now_ms: i64) -> Result<KeyRecord, StoreError> {
        let id = id.clone();
        self.queue(|log| async move { log.revoke_key(&id, now_ms).await }).await
    }

    async fn reaches(
        &self,
        key: (&KeyId, i64),
        roster: &RosterId,
        athlete: Option<&AthleteId>,
    ) -> Result<bool, StoreError> {
        self.log.reaches(key, roster, athlete).await
    }

    async fn create_athlete(
        &self,
        athlete: NewAthlete,
        request: Option<RequestKey>,
    ) -> Result<Written<AthleteRecord>, StoreError> {
        self.queue(|log| async move { log.create_athlete(athlete, request).await }).await
    }

    async fn athlete(&self, id: &AthleteRef) -> Result<AthleteRecord, StoreError> {
        self.log.athlete(id).await
    }

    async fn positions(&self, athletes: &[AthleteRef]) -> Result<Vec<u64>, StoreError> {
        self.log.positions(athletes).await
    }

    async fn athletes(&self, roster: &RosterId, page: &Page) -> Result<Listing<AthleteRecord>, StoreError> {
        self.log.athletes(roster, page).await
    }

    async fn append(&self, append: Append) -> Result<Appended, StoreError> {
        self.queue(|log| async move { log.append(append).await }).await
    }

    async fn events(
        &self,
        athlete: &AthleteRef,
        after_sequence: u64,
        up_to: Option<u64>,
        limit: u32,
    ) -> Result<Vec<StoredEvent>, StoreError> {
        self.log.events(athlete, after_sequence, up_to, limit).await
    }

    async fn events_of_sets(
        &self,
        athlete: &AthleteRef,
        sets: &[ClientSetId],
    ) -> Result<Vec<StoredEvent>, StoreError> {
        self.log.events_of_sets(athlete, sets).await
    }

    async fn erase_athlete(
        &self,
        erasure: Erasure,
        request: Option<RequestKey>,
    ) -> Result<Written<Erased>, StoreError> {
        self.queue(|log| async move { log.erase_athlete(erasure, request).await }).await
    }

    async fn save_prescription(
        &self,
        prescription: PrescriptionRecord,
        request: Option<RequestKey>,
    ) -> Result<Written<PrescriptionRecord>, StoreError> {
        self.queue(|log| async move { log.save_prescription(prescription, request).await }).await
    }

    async fn prescription(
        &self,
        athlete: &AthleteRef,
        id: &PrescriptionId,
    ) -> Result<PrescriptionRecord, StoreError> {
        self.log.prescription(athlete, id).await
    }

    async fn prescriptions(
        &self,
        athlete: &AthleteRef,
        days: Days,
        page: &Page,
    ) -> Result<Listing<PrescriptionRecord>, StoreError> {
        self.log.prescriptions(athlete, days, page).await
    }

    async fn requested(&self, request: &RequestKey) -> Result<Option<Answer>, StoreError> {
        self.log.requested(request).await
    }

    async fn record_accesses(&self, accesses: Vec<AccessRecord>) -> Result<(), StoreError> {
        self.log.record_accesses(accesses).await
    }

    async fn accesses(
        &self,
        roster: &RosterId,
        athlete: Option<&AthleteId>,
        page: &Page,
    ) -> Result<Listing<AccessRecord>, StoreError> {
        self.log.accesses(roster, athlete, page).await
    }

    async fn close(&self) -> Result<(), StoreError> {
        self.log.close().await
    }
}
