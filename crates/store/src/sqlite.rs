//! SQLite: the log in one file.
//!
//! One thread writes, with many writes to a commit; a few connections read snapshots. Other processes may read the file
//! at the same time.

use std::path::PathBuf;
use std::sync::Arc;

use nextrung_domain::event::StoredEvent;
use nextrung_domain::ids::{AthleteId, AthleteRef, ClientSetId, PrescriptionId, RosterId};
use tokio::sync::mpsc::{Receiver, Sender};
use tokio::task::spawn_blocking;

pub use self::backup::{BackedUp, back_up};
use self::readers::Readers;
pub use self::writer::WriteCounts;
use self::writer::{Writer, answer};
use crate::access::AccessRecord;
use crate::append::{Append, Appended};
use crate::erasure::{Erased, Erasure};
use crate::error::StoreError;
use crate::key::{KeyId, KeyRecord};
use crate::page::{Listing, Page};
use crate::record::{
    AthleteRecord, Days, NewAthlete, NewRoster, PrescriptionRecord, RosterChange, RosterRecord, Written,
};
use crate::request::{Answer, RequestKey};
use crate::row::{Parcel, Row, Rows};
use crate::store::Store;

mod accesses;
mod athletes;
mod backup;
mod erasures;
mod events;
mod file;
mod job;
mod keys;
mod prescriptions;
mod query;
mod readers;
mod requests;
mod rosters;
mod rows;
mod schema;
mod sweep;
mod writer;

/// SQLite's name for an error, if it came from there.
pub(crate) fn code(error: &StoreError) -> Option<String> {
    query::code(error).map(|code| format!("{code:?}"))
}

/// How the log's file is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SqliteOptions {
    /// Most reads at a time, at least 1.
    pub readers: usize,
    /// Most writes to a commit, at least 1.
    pub group: usize,
    /// Most writes waiting; further callers wait for room.
    pub queue: usize,
}

impl Default for SqliteOptions {
    /// Four readers, 256 writes to a commit, 1024 waiting.
    fn default() -> Self {
        Self { readers: 4, group: 256, queue: 1024 }
    }
}

/// A log in a SQLite file. Dropping it finishes the writes queued, in the background; [`Store::close`] waits for them.
pub struct SqliteStore {
    writer: Writer,
    readers: Arc<Readers>,
}

impl SqliteStore {
    /// Opens a log's file; makes it when it is not there or empty. Must be called within a tokio runtime.
    ///
    /// Fails with [`StoreError::Foreign`] when the file is something else, [`StoreError::UnknownSchema`] when a newer
    /// version wrote it, [`StoreError::SqliteTooOld`], [`StoreError::Backend`].
    pub async fn open(path: impl Into<PathBuf>, options: SqliteOptions) -> Result<Self, StoreError> {
        let path = path.into();
        let open = move || {
            let conn = file::for_writing(&path)?;
            let writer = Writer::start(conn, options.group, options.queue)?;
            Ok(Self { writer, readers: Readers::new(path, options.readers) })
        };
        spawn_blocking(open).await.map_err(|_| StoreError::Stopped)?
    }

    /// Takes what ended in a roster before a moment, milliseconds since 1970-01-01 UTC, out of the record of accesses, some at a
    /// time, so that others write in between; how many rows.
    pub async fn forget_accesses(&self, roster: &RosterId, before_ms: i64) -> Result<u64, StoreError> {
        let mut gone = 0;
        loop {
            let roster = roster.clone();
            let some = self.writer.write(move |conn: &_| accesses::forget(conn, &roster, before_ms)).await?;
            if some == 0 {
                return Ok(gone);
            }
            gone += u64::try_from(some).unwrap_or(u64::MAX);
        }
    }

    /// How much was written since the log was opened.
    pub fn counts(&self) -> WriteCounts {
        self.writer.counts()
    }
}

impl Store for SqliteStore {
    /// Whoever opens a file for an engine keeps others from it.
    fn is_shared(&self) -> bool {
        false
    }

    async fn create_roster(
        &self,
        roster: NewRoster,
        request: Option<RequestKey>,
    ) -> Result<Written<RosterRecord>, StoreError> {
        let work =
            move |conn: &_| requests::once(conn, request.as_ref(), |conn| rosters::create(conn, roster));
        self.writer.write(work).await
    }

    async fn update_roster(
        &self,
        change: RosterChange,
        request: Option<RequestKey>,
    ) -> Result<Written<RosterRecord>, StoreError> {
        let work =
            move |conn: &_| requests::once(conn, request.as_ref(), |conn| rosters::update(conn, &change));
        self.writer.write(work).await
    }

    async fn roster(&self, id: &RosterId) -> Result<RosterRecord, StoreError> {
        let id = id.clone();
        self.readers.read(move |conn| rosters::get(conn, &id)).await
    }

    async fn rosters(
        &self,
        page: &Page,
        within: Option<&KeyId>,
    ) -> Result<Listing<RosterRecord>, StoreError> {
        let (page, within) = (page.clone(), within.cloned());
        self.readers.read(move |conn| rosters::list(conn, &page, within.as_ref())).await
    }

    async fn create_athlete(
        &self,
        athlete: NewAthlete,
        request: Option<RequestKey>,
    ) -> Result<Written<AthleteRecord>, StoreError> {
        let work =
            move |conn: &_| requests::once(conn, request.as_ref(), |conn| athletes::create(conn, athlete));
        self.writer.write(work).await
    }

    async fn athlete(&self, id: &AthleteRef) -> Result<AthleteRecord, StoreError> {
        let id = id.clone();
        self.readers.read(move |conn| athletes::get(conn, &id)).await
    }

    async fn positions(&self, athletes: &[AthleteRef]) -> Result<Vec<u64>, StoreError> {
        let athletes = athletes.to_vec();
        let read = move |conn: &_| athletes.iter().map(|id| athletes::last_sequence(conn, id)).collect();
        self.readers.read(read).await
    }

    async fn athletes(&self, roster: &RosterId, page: &Page) -> Result<Listing<AthleteRecord>, StoreError> {
        let (roster, page) = (roster.clone(), page.clone());
        self.readers.read(move |conn| athletes::list(conn, &roster, &page)).await
    }

    async fn append(&self, append: Append) -> Result<Appended, StoreError> {
        append.check()?;
        let work = move |conn: &_| {
            requests::once(conn, append.request.as_ref(), |conn| events::append(conn, &append))
        };
        let (_, appended) = self.writer.write(work).await?;
        Ok(appended)
    }

    async fn events(
        &self,
        athlete: &AthleteRef,
        after_sequence: u64,
        up_to: Option<u64>,
        limit: u32,
    ) -> Result<Vec<StoredEvent>, StoreError> {
        let athlete = athlete.clone();
        self.readers.read(move |conn| events::list(conn, &athlete, (after_sequence, up_to), limit)).await
    }

    async fn events_of_sets(
        &self,
        athlete: &AthleteRef,
        sets: &[ClientSetId],
    ) -> Result<Vec<StoredEvent>, StoreError> {
        let (athlete, sets) = (athlete.clone(), sets.to_vec());
        self.readers.read(move |conn| events::of_sets(conn, &athlete, &sets)).await
    }

    async fn erase_athlete(
        &self,
        erasure: Erasure,
        request: Option<RequestKey>,
    ) -> Result<Written<Erased>, StoreError> {
        let work =
            move |conn: &_| requests::once(conn, request.as_ref(), |conn| erasures::erase(conn, &erasure));
        // Both queue before either is waited for; should the sweep be lost all the same, the next one makes up for it.
        let erased = self.writer.queue(work).await?;
        let swept = self.writer.queue_alone(sweep::sweep).await?;
        let erased = answer(erased).await?;
        answer(swept).await?;
        Ok(erased)
    }

    async fn save_prescription(
        &self,
        prescription: PrescriptionRecord,
        request: Option<RequestKey>,
    ) -> Result<Written<PrescriptionRecord>, StoreError> {
        let work = move |conn: &_| {
            requests::once(conn, request.as_ref(), |conn| prescriptions::save(conn, prescription))
        };
        self.writer.write(work).await
    }

    async fn prescription(
        &self,
        athlete: &AthleteRef,
        id: &PrescriptionId,
    ) -> Result<PrescriptionRecord, StoreError> {
        let (athlete, id) = (athlete.clone(), id.clone());
        self.readers.read(move |conn| prescriptions::get(conn, &athlete, id.as_str())).await
    }

    async fn prescriptions(
        &self,
        athlete: &AthleteRef,
        days: Days,
        page: &Page,
    ) -> Result<Listing<PrescriptionRecord>, StoreError> {
        let (athlete, page) = (athlete.clone(), page.clone());
        self.readers.read(move |conn| prescriptions::list(conn, &athlete, days, &page)).await
    }

    async fn requested(&self, request: &RequestKey) -> Result<Option<Answer>, StoreError> {
        let request = request.clone();
        self.readers.read(move |conn| requests::answered(conn, &request)).await
    }

    async fn create_key(&self, key: KeyRecord) -> Result<KeyRecord, StoreError> {
        key.check()?;
        self.writer.write(move |conn: &_| keys::create(conn, &key).map(|()| key)).await
    }

    async fn key(&self, id: &KeyId) -> Result<KeyRecord, StoreError> {
        let id = id.clone();
        self.readers.read(move |conn| keys::get(conn, &id)).await
    }

    async fn keys(&self, page: &Page) -> Result<Listing<KeyRecord>, StoreError> {
        let page = page.clone();
        self.readers.read(move |conn| keys::list(conn, &page)).await
    }

    async fn keys_to(&self, athlete: &AthleteRef) -> Result<Vec<KeyRecord>, StoreError> {
        let athlete = athlete.clone();
        self.readers.read(move |conn| keys::to(conn, &athlete)).await
    }

    async fn revoke_key(&self, id: &KeyId, now_ms: i64) -> Result<KeyRecord, StoreError> {
        let id = id.clone();
        self.writer.write(move |conn: &_| keys::revoke(conn, &id, now_ms)).await
    }

    async fn reaches(
        &self,
        (key, now_ms): (&KeyId, i64),
        roster: &RosterId,
        athlete: Option<&AthleteId>,
    ) -> Result<bool, StoreError> {
        let (key, roster, athlete) = (key.clone(), roster.clone(), athlete.cloned());
        let read = move |conn: &_| keys::reaches(conn, (&key, now_ms), (&roster, athlete.as_ref()));
        self.readers.read(read).await
    }

    async fn record_accesses(&self, accesses: Vec<AccessRecord>) -> Result<(), StoreError> {
        self.writer.write(move |conn: &_| accesses::record(conn, &accesses)).await
    }

    async fn accesses(
        &self,
        roster: &RosterId,
        athlete: Option<&AthleteId>,
        page: &Page,
    ) -> Result<Listing<AccessRecord>, StoreError> {
        let (roster, athlete, page) = (roster.clone(), athlete.cloned(), page.clone());
        self.readers.read(move |conn| accesses::list(conn, (&roster, athlete.as_ref()), &page)).await
    }

    async fn close(&self) -> Result<(), StoreError> {
        self.writer.close().await
    }
}

impl Rows for SqliteStore {
    async fn give(&self, roster: &RosterId, to: Sender<Row>) -> Result<(), StoreError> {
        let roster = roster.clone();
        self.readers
            .read(move |conn| rows::give(conn, &roster, |row| Ok(to.blocking_send(row).is_ok())))
            .await
    }

    async fn take(&self, from: Receiver<Parcel>) -> Result<(), StoreError> {
        self.writer.write(move |conn| rows::take(conn, from)).await
    }
}
