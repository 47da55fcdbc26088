//! Log: a log in either backend, and where it is kept.

use std::fmt;
use std::path::{Path, PathBuf};

use nextrung_domain::event::StoredEvent;
use nextrung_domain::ids::{AthleteId, AthleteRef, ClientSetId, PrescriptionId, RosterId};
use tokio::sync::mpsc::{Receiver, Sender};

use crate::access::AccessRecord;
use crate::append::{Append, Appended};
use crate::erasure::{Erased, Erasure};
use crate::error::StoreError;
use crate::key::{KeyId, KeyRecord};
use crate::page::{Listing, Page};
use crate::postgres::{BadAddress, PostgresAddress, PostgresOptions, PostgresStore};
use crate::record::{
    AthleteRecord, Days, NewAthlete, NewRoster, PrescriptionRecord, RosterChange, RosterRecord, Written,
};
use crate::request::{Answer, RequestKey};
use crate::row::{Parcel, Row, Rows};
use crate::sqlite::{SqliteOptions, SqliteStore};
use crate::store::Store;

/// Where a log is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// In a SQLite file; it is made when it is not there.
    File(PathBuf),
    /// In a PostgreSQL database.
    Postgres(PostgresAddress),
}

impl Place {
    /// Reads a place: the address of a PostgreSQL database, or else the path of a file. Fails when it begins like an
    /// address of anything, and is none of a PostgreSQL database.
    pub fn parse(text: &str) -> Result<Self, BadAddress> {
        let is_in_scheme = |c: char| c.is_ascii_alphanumeric() || "+-.".contains(c);
        let scheme = text.split_once("://").map(|(scheme, _)| scheme);
        if scheme.is_some_and(|scheme| !scheme.is_empty() && scheme.chars().all(is_in_scheme)) {
            Ok(Self::Postgres(PostgresAddress::parse(text)?))
        } else {
            Ok(Self::File(PathBuf::from(text)))
        }
    }
}

impl Place {
    /// The same place; see [`PostgresAddress::trusting`].
    #[must_use]
    pub fn trusting(self, is_network_trusted: bool) -> Self {
        match self {
            Self::File(path) => Self::File(path),
            Self::Postgres(address) => Self::Postgres(address.trusting(is_network_trusted)),
        }
    }
}

impl From<PathBuf> for Place {
    fn from(file: PathBuf) -> Self {
        Self::File(file)
    }
}

impl From<&PathBuf> for Place {
    fn from(file: &PathBuf) -> Self {
        Self::File(file.clone())
    }
}

impl From<&Path> for Place {
    fn from(file: &Path) -> Self {
        Self::File(file.to_owned())
    }
}

impl From<PostgresAddress> for Place {
    fn from(address: PostgresAddress) -> Self {
        Self::Postgres(address)
    }
}

/// Never with a password.
impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(path) => write!(f, "{}", path.display()),
            Self::Postgres(address) => write!(f, "{address}"),
        }
    }
}

/// How either backend is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LogOptions {
    /// Of a file.
    pub sqlite: SqliteOptions,
    /// Of a database.
    pub postgres: PostgresOptions,
}

/// A log in either backend.
pub enum Log {
    /// In a file.
    Sqlite(SqliteStore),
    /// In a database.
    Postgres(PostgresStore),
}

impl Log {
    /// Opens a log. Fails as the backends' own `open` does.
    pub async fn open(place: &Place, options: LogOptions) -> Result<Self, StoreError> {
        Ok(match place {
            Place::File(path) => Self::Sqlite(SqliteStore::open(path, options.sqlite).await?),
            Place::Postgres(address) => Self::Postgres(PostgresStore::open(address, options.postgres).await?),
        })
    }

    /// Takes what ended in a roster before a moment, milliseconds since 1970-01-01 UTC, out of the record of accesses; how many
    /// rows. Services may go on meanwhile.
    pub async fn forget_accesses(&self, roster: &RosterId, before_ms: i64) -> Result<u64, StoreError> {
        match self {
            Self::Sqlite(store) => store.forget_accesses(roster, before_ms).await,
            Self::Postgres(store) => store.forget_accesses(roster, before_ms).await,
        }
    }
}

/// What either backend answers to a call.
macro_rules! either {
    ($log:expr, $call:ident $arguments:tt) => {
        match $log {
            Self::Sqlite(store) => either!(@ store, $call $arguments),
            Self::Postgres(store) => either!(@ store, $call $arguments),
        }
    };
    (@ $store:ident, $call:ident ($($argument:expr),*)) => { $store.$call($($argument),*).await };
}

impl Store for Log {
    fn is_shared(&self) -> bool {
        match self {
            Self::Sqlite(store) => store.is_shared(),
            Self::Postgres(store) => store.is_shared(),
        }
    }

    async fn create_roster(
        &self,
        roster: NewRoster,
        request: Option<RequestKey>,
    ) -> Result<Written<RosterRecord>, StoreError> {
        either!(self, create_roster(roster, request))
    }

    async fn update_roster(
        &self,
        change: RosterChange,
        request: Option<RequestKey>,
    ) -> Result<Written<RosterRecord>, StoreError> {
        either!(self, update_roster(change, request))
    }

    async fn roster(&self, id: &RosterId) -> Result<RosterRecord, StoreError> {
        either!(self, roster(id))
    }

    async fn rosters(
        &self,
        page: &Page,
        within: Option<&KeyId>,
    ) -> Result<Listing<RosterRecord>, StoreError> {
        either!(self, rosters(page, within))
    }

    async fn create_athlete(
        &self,
        athlete: NewAthlete,
        request: Option<RequestKey>,
    ) -> Result<Written<AthleteRecord>, StoreError> {
        either!(self, create_athlete(athlete, request))
    }

    async fn athlete(&self, id: &AthleteRef) -> Result<AthleteRecord, StoreError> {
        either!(self, athlete(id))
    }

    async fn positions(&self, athletes: &[AthleteRef]) -> Result<Vec<u64>, StoreError> {
        either!(self, positions(athletes))
    }

    async fn athletes(&self, roster: &RosterId, page: &Page) -> Result<Listing<AthleteRecord>, StoreError> {
        either!(self, athletes(roster, page))
    }

    async fn append(&self, append: Append) -> Result<Appended, StoreError> {
        either!(self, append(append))
    }

    async fn events(
        &self,
        athlete: &AthleteRef,
        after_sequence: u64,
        up_to: Option<u64>,
        limit: u32,
    ) -> Result<Vec<StoredEvent>, StoreError> {
        either!(self, events(athlete, after_sequence, up_to, limit))
    }

    async fn events_of_sets(
        &self,
        athlete: &AthleteRef,
        sets: &[ClientSetId],
    ) -> Result<Vec<StoredEvent>, StoreError> {
        either!(self, events_of_sets(athlete, sets))
    }

    async fn erase_athlete(
        &self,
        erasure: Erasure,
        request: Option<RequestKey>,
    ) -> Result<Written<Erased>, StoreError> {
        either!(self, erase_athlete(erasure, request))
    }

    async fn save_prescription(
        &self,
        prescription: PrescriptionRecord,
        request: Option<RequestKey>,
    ) -> Result<Written<PrescriptionRecord>, StoreError> {
        either!(self, save_prescription(prescription, request))
    }

    async fn prescription(
        &self,
        athlete: &AthleteRef,
        id: &PrescriptionId,
    ) -> Result<PrescriptionRecord, StoreError> {
        either!(self, prescription(athlete, id))
    }

    async fn prescriptions(
        &self,
        athlete: &AthleteRef,
        days: Days,
        page: &Page,
    ) -> Result<Listing<PrescriptionRecord>, StoreError> {
        either!(self, prescriptions(athlete, days, page))
    }

    async fn requested(&self, request: &RequestKey) -> Result<Option<Answer>, StoreError> {
        either!(self, requested(request))
    }

    async fn create_key(&self, key: KeyRecord) -> Result<KeyRecord, StoreError> {
        either!(self, create_key(key))
    }

    async fn key(&self, id: &KeyId) -> Result<KeyRecord, StoreError> {
        either!(self, key(id))
    }

    async fn keys(&self, page: &Page) -> Result<Listing<KeyRecord>, StoreError> {
        either!(self, keys(page))
    }

    async fn keys_to(&self, athlete: &AthleteRef) -> Result<Vec<KeyRecord>, StoreError> {
        either!(self, keys_to(athlete))
    }

    async fn revoke_key(&self, id: &KeyId, now_ms: i64) -> Result<KeyRecord, StoreError> {
        either!(self, revoke_key(id, now_ms))
    }

    async fn reaches(
        &self,
        key: (&KeyId, i64),
        roster: &RosterId,
        athlete: Option<&AthleteId>,
    ) -> Result<bool, StoreError> {
        either!(self, reaches(key, roster, athlete))
    }

    async fn record_accesses(&self, accesses: Vec<AccessRecord>) -> Result<(), StoreError> {
        either!(self, record_accesses(accesses))
    }

    async fn accesses(
        &self,
        roster: &RosterId,
        athlete: Option<&AthleteId>,
        page: &Page,
    ) -> Result<Listing<AccessRecord>, StoreError> {
        either!(self, accesses(roster, athlete, page))
    }

    async fn close(&self) -> Result<(), StoreError> {
        either!(self, close())
    }
}

impl Rows for Log {
    async fn give(&self, roster: &RosterId, to: Sender<Row>) -> Result<(), StoreError> {
        either!(self, give(roster, to))
    }

    async fn take(&self, from: Receiver<Parcel>) -> Result<(), StoreError> {
        either!(self, take(from))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_of_another_kind_is_no_file() {
        for text in ["mysql://coach:s3cret@db/hall", "POSTGRES://coach:s3cret@db/hall", "file:///hall.db"] {
            let bad = Place::parse(text).unwrap_err().to_string();
            assert!(bad.contains("it does not begin with postgres://") && !bad.contains("s3cret"), "{bad}");
        }
        for path in ["hall.db", "/var/lib/hall.db", "./a://b", "://hall.db", "C:/hall.db"] {
            assert_eq!(Place::parse(path), Ok(Place::File(path.into())), "{path}");
        }
        assert!(matches!(Place::parse("postgres://coach@db/hall"), Ok(Place::Postgres(_))));
    }
}
