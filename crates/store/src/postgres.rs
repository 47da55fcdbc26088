//! PostgreSQL: the log in a database that several replicas of the service share.
//!
//! Each write is a transaction that locks the athlete's row; each read is one statement. Nothing here needs more than rows,
//! keys and transactions, so that the tables can also be spread over machines by their roster.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_domain::event::StoredEvent;
use nextrung_domain::ids::{AthleteId, AthleteRef, ClientSetId, PrescriptionId, RosterId};
use tokio::sync::mpsc::{Receiver, Sender};

pub use self::address::{BadAddress, PostgresAddress};
use self::connections::Connections;
use self::query::failed;
use self::tries::{Tries, is_lost_to_another};
use self::writer::Writer;
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
mod address;
mod athletes;
mod connections;
mod erasures;
mod events;
mod keys;
mod order;
mod prescriptions;
mod query;
mod requests;
mod rosters;
mod rows;
mod schema;
#[cfg(all(unix, feature = "conformance"))]
pub mod throwaway;
mod tls;
mod tries;
mod writer;

/// PostgreSQL's code of an error, if it came from there.
pub(crate) fn code(error: &StoreError) -> Option<String> {
    query::code(error).map(|code| code.code().to_owned())
}

/// How the database is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PostgresOptions {
    /// Most sessions at a time, at least 1.
    pub sessions: usize,
}

impl Default for PostgresOptions {
    /// Sixteen sessions.
    fn default() -> Self {
        Self { sessions: 16 }
    }
}

/// A log in a PostgreSQL database. Dropping it finishes the writes begun, in the background; [`Store::close`] waits for
/// them.
pub struct PostgresStore {
    connections: Connections,
    writer: Arc<Writer>,
}

impl PostgresStore {
    /// Opens a log, and makes or migrates its tables as needed. Must be called within a tokio runtime.
    ///
    /// Fails with [`StoreError::Refused`] when the address asks for plain sessions with another machine over a network that nobody
    /// said can be trusted, [`StoreError::Unreachable`], [`StoreError::UnknownSchema`] when a newer version wrote it,
    /// [`StoreError::NotDurable`] when the server acknowledges what is not on durable storage, [`StoreError::Backend`].
    pub async fn open(address: &PostgresAddress, options: PostgresOptions) -> Result<Self, StoreError> {
        let connections = Connections::new(address, options.sessions)?;
        let mut conn = connections.get().await?;
        schema::migrate(&mut conn).await?;
        drop(conn);
        Ok(Self { writer: Writer::new(connections.clone()), connections })
    }
}

impl PostgresStore {
    /// Takes what ended in a roster before a moment, milliseconds since 1970-01-01 UTC, out of the record of accesses, some at a
    /// time, so that others write in between; how many rows.
    pub async fn forget_accesses(&self, roster: &RosterId, before_ms: i64) -> Result<u64, StoreError> {
        let mut gone = 0;
        loop {
            let client = self.connections.get().await?;
            match accesses::forget(&client, roster, before_ms).await? {
                0 => return Ok(gone),
                some => gone += some,
            }
        }
    }
}

/// Begins anew what lost to another one's work, as happens to reads too where transactions are serializable.
macro_rules! alone {
    ($attempt:expr) => {{
        let mut tries = Tries::begin();
        loop {
            match $attempt.await {
                Err(error) if is_lost_to_another(&error) => {
                    if !tries.again().await {
                        break Err(error);
                    }
                }
                ended => break ended,
            }
        }
    }};
}

/// Reads are begun anew once when their connection turns out to be gone, as all are after a restart of the server.
macro_rules! read {
    ($store:expr, |$conn:ident| $read:expr) => {{
        let once = async || {
            let client = $store.connections.get().await?;
            let $conn = &client;
            $read.await
        };
        match alone!(once()) {
            Err(StoreError::Unreachable { .. }) => once().await,
            ended => ended,
        }
    }};
}

impl Store for PostgresStore {
    fn is_shared(&self) -> bool {
        true
    }

    async fn create_roster(
        &self,
        roster: NewRoster,
        request: Option<RequestKey>,
    ) -> Result<Written<RosterRecord>, StoreError> {
        self.writer.write(roster, request).await
    }

    async fn update_roster(
        &self,
        change: RosterChange,
        request: Option<RequestKey>,
    ) -> Result<Written<RosterRecord>, StoreError> {
        self.writer.write(change, request).await
    }

    async fn roster(&self, id: &RosterId) -> Result<RosterRecord, StoreError> {
        read!(self, |conn| rosters::get(conn, id))
    }

    async fn rosters(
        &self,
        page: &Page,
        within: Option<&KeyId>,
    ) -> Result<Listing<RosterRecord>, StoreError> {
        read!(self, |conn| rosters::list(conn, page, within))
    }

    async fn create_athlete(
        &self,
        athlete: NewAthlete,
        request: Option<RequestKey>,
    ) -> Result<Written<AthleteRecord>, StoreError> {
        self.writer.write(athlete, request).await
    }

    async fn athlete(&self, id: &AthleteRef) -> Result<AthleteRecord, StoreError> {
        read!(self, |conn| athletes::get(conn, id))
    }

    async fn positions(&self, athletes: &[AthleteRef]) -> Result<Vec<u64>, StoreError> {
        read!(self, |conn| athletes::positions(conn, athletes))
    }

    async fn athletes(&self, roster: &RosterId, page: &Page) -> Result<Listing<AthleteRecord>, StoreError> {
        read!(self, |conn| athletes::list(conn, roster, page))
    }

    async fn append(&self, append: Append) -> Result<Appended, StoreError> {
        append.check()?;
        let request = append.request.clone();
        let (_, appended) = self.writer.write(append, request).await?;
        Ok(appended)
    }

    async fn events(
        &self,
        athlete: &AthleteRef,
        after_sequence: u64,
        up_to: Option<u64>,
        limit: u32,
    ) -> Result<Vec<StoredEvent>, StoreError> {
        read!(self, |conn| events::list(conn, athlete, (after_sequence, up_to), limit))
    }

    async fn events_of_sets(
        &self,
        athlete: &AthleteRef,
        sets: &[ClientSetId],
    ) -> Result<Vec<StoredEvent>, StoreError> {
        read!(self, |conn| events::of_sets(conn, athlete, sets))
    }

    async fn erase_athlete(
        &self,
        erasure: Erasure,
        request: Option<RequestKey>,
    ) -> Result<Written<Erased>, StoreError> {
        self.writer.write(erasure, request).await
    }

    async fn save_prescription(
        &self,
        prescription: PrescriptionRecord,
        request: Option<RequestKey>,
    ) -> Result<Written<PrescriptionRecord>, StoreError> {
        self.writer.write(prescription, request).await
    }

    async fn prescription(
        &self,
        athlete: &AthleteRef,
        id: &PrescriptionId,
    ) -> Result<PrescriptionRecord, StoreError> {
        read!(self, |conn| prescriptions::get(conn, athlete, id.as_str()))
    }

    async fn prescriptions(
        &self,
        athlete: &AthleteRef,
        days: Days,
        page: &Page,
    ) -> Result<Listing<PrescriptionRecord>, StoreError> {
        read!(self, |conn| prescriptions::list(conn, athlete, days, page))
    }

    async fn requested(&self, request: &RequestKey) -> Result<Option<Answer>, StoreError> {
        request.check()?;
        read!(self, |conn| requests::answered(conn, request))
    }

    async fn create_key(&self, key: KeyRecord) -> Result<KeyRecord, StoreError> {
        key.check()?;
        let doing = "keeping a key";
        let once = async || {
            let mut conn = self.connections.get().await?;
            let tx = conn.transaction().await.map_err(failed(doing))?;
            keys::create(&tx, &key).await?;
            tx.commit().await.map_err(failed(doing))
        };
        alone!(once())?;
        Ok(key)
    }

    async fn key(&self, id: &KeyId) -> Result<KeyRecord, StoreError> {
        read!(self, |conn| keys::get(conn, id))
    }

    async fn keys(&self, page: &Page) -> Result<Listing<KeyRecord>, StoreError> {
        read!(self, |conn| keys::list(conn, page))
    }

    async fn keys_to(&self, athlete: &AthleteRef) -> Result<Vec<KeyRecord>, StoreError> {
        read!(self, |conn| keys::to(conn, athlete))
    }

    async fn revoke_key(&self, id: &KeyId, now_ms: i64) -> Result<KeyRecord, StoreError> {
        read!(self, |conn| keys::revoke(conn, id, now_ms))
    }

    async fn reaches(
        &self,
        key: (&KeyId, i64),
        roster: &RosterId,
        athlete: Option<&AthleteId>,
    ) -> Result<bool, StoreError> {
        read!(self, |conn| keys::reaches(conn, key, (roster, athlete)))
    }

    async fn record_accesses(&self, accesses: Vec<AccessRecord>) -> Result<(), StoreError> {
        let doing = "keeping accesses";
        let mut by_roster: BTreeMap<&RosterId, Vec<&AccessRecord>> = BTreeMap::new();
        for access in &accesses {
            by_roster.entry(&access.roster).or_default().push(access);
        }
        for (roster, accesses) in by_roster {
            let once = async || {
                let mut conn = self.connections.get().await?;
                let tx = conn.transaction().await.map_err(failed(doing))?;
                accesses::record(&tx, roster, &accesses).await?;
                tx.commit().await.map_err(failed(doing))
            };
            alone!(once())?;
        }
        Ok(())
    }

    async fn accesses(
        &self,
        roster: &RosterId,
        athlete: Option<&AthleteId>,
        page: &Page,
    ) -> Result<Listing<AccessRecord>, StoreError> {
        read!(self, |conn| accesses::list(conn, (roster, athlete), page))
    }

    async fn close(&self) -> Result<(), StoreError> {
        self.writer.close().await;
        Ok(())
    }
}

impl Rows for PostgresStore {
    async fn give(&self, roster: &RosterId, to: Sender<Row>) -> Result<(), StoreError> {
        rows::give(&mut self.connections.get().await?, roster, to).await
    }

    async fn take(&self, from: Receiver<Parcel>) -> Result<(), StoreError> {
        rows::take(&mut self.connections.get().await?, from).await
    }
}
