//! Erasures in SQL. The rows are gone when the transaction has ended; the bytes of dead rows are the operator's to clear away
//! (`VACUUM FULL`), as those in archived logs and backups are.

use deadpool_postgres::{GenericClient, Transaction};
use nextrung_domain::ids::{AthleteRef, RosterId};
use tokio_postgres::Row;

use super::query::{all, change, column, count, first, integer, to_json};
use super::writer::Write;
use super::{athletes, rosters};
use crate::erasure::{self, Erased, Erasure, Trace};
use crate::error::StoreError;
use crate::record::Written;

/// Requests are told apart by how their answers begin; a roster's are few enough to be looked through. They are not read as
/// JSON, in which PostgreSQL takes no U+0000.
const REQUESTS: &str = "DELETE FROM requests WHERE roster = $1
    AND (receipt LIKE $2 || '%' OR receipt LIKE $3 || '%' OR receipt LIKE $4 || '%')";

/// How answers about an athlete begin: who was created, whose log was added to, who was prescribed for. Ids hold no sign that
/// means something in a pattern.
fn beginnings(athlete: &AthleteRef) -> Result<[String; 3], StoreError> {
    let name = to_json(athlete)?;
    let told = |kind: &str| format!(r#"{{"kind":"{kind}","athlete":{name}"#);
    let created = format!(r#"{{"kind":"athlete","athlete":{{"id":{name}"#);
    Ok([created, told("appended"), told("prescription")])
}

impl Write for Erasure {
    type Done = Written<Erased>;

    fn place(&self) -> [&str; 2] {
        [self.athlete.roster.as_str(), self.athlete.athlete.as_str()]
    }

    async fn run(&self, tx: &Transaction<'_>) -> Result<Self::Done, StoreError> {
        let Self { athlete, erased_at_ms } = self;
        rosters::check(tx, &athlete.roster).await?;
        let last_sequence = match athletes::lock_whole(tx, athlete).await {
            Ok(last_sequence) => last_sequence,
            Err(missing @ StoreError::NotFound { .. }) => {
                let before = erasure::before(athlete, &traces(tx, &athlete.roster).await?);
                return before.map(|record| Written { record, was_replay: false }).ok_or(missing);
            }
            Err(error) => return Err(error),
        };
        let (roster, id) = (athlete.roster.as_str(), athlete.athlete.as_str());
        let [created, appended, prescribed] = beginnings(athlete)?;
        let gone = async |sql| change(tx, sql, &[&roster, &id]).await;
        let record = Erased {
            erased_at_ms: *erased_at_ms,
            was_before: false,
            events: gone("DELETE FROM events WHERE roster = $1 AND athlete = $2").await?,
            prescriptions: gone("DELETE FROM prescriptions WHERE roster = $1 AND athlete = $2").await?,
            requests: change(tx, REQUESTS, &[&roster, &created, &appended, &prescribed]).await?,
            keys: erase_keys(tx, athlete).await?,
        };
        gone("DELETE FROM athletes WHERE roster = $1 AND athlete = $2").await?;
        let Trace { digest, last_sequence, erased_at_ms } = Trace::of(self, last_sequence);
        let sql =
            "INSERT INTO erasures (roster, digest, last_sequence, erased_at_ms) VALUES ($1, $2, $3, $4)";
        change(tx, sql, &[&roster, &digest.as_slice(), &integer(last_sequence), &erased_at_ms]).await?;
        Ok(Written { record, was_replay: false })
    }
}

/// Takes the athlete out of every reach, and away the keys that reach nobody any more.
async fn erase_keys(tx: &Transaction<'_>, athlete: &AthleteRef) -> Result<u64, StoreError> {
    let (roster, id) = (athlete.roster.as_str(), athlete.athlete.as_str());
    let sql = "SELECT key FROM reaches WHERE roster = $1 AND athlete = $2";
    let reaching = all(tx, sql, &[&roster, &id]).await?;
    let named = "UPDATE accesses SET athlete = NULL, request = NULL WHERE roster = $1 AND athlete = $2";
    change(tx, named, &[&roster, &id]).await?;
    change(tx, "DELETE FROM reaches WHERE roster = $1 AND athlete = $2", &[&roster, &id]).await?;
    let mut erased = 0;
    for row in &reaching {
        let key: &str = column(row, 0)?;
        let sql = "DELETE FROM keys WHERE key = $1 AND NOT EXISTS (SELECT 1 FROM reaches WHERE key = $1)";
        if change(tx, sql, &[&key]).await? == 1 {
            let sql = "UPDATE accesses SET key = NULL WHERE roster = $1 AND key = $2";
            change(tx, sql, &[&roster, &key]).await?;
            erased += 1;
        }
    }
    Ok(erased)
}

async fn traces(conn: &impl GenericClient, roster: &RosterId) -> Result<Vec<Trace>, StoreError> {
    let read = |row: &Row| {
        let digest = column::<&[u8]>(row, 0)?.try_into();
        let digest = digest.map_err(|error| super::query::corrupt("an erasure", error))?;
        Ok(Trace { digest, last_sequence: count(row, 1)?, erased_at_ms: column(row, 2)? })
    };
    let sql = "SELECT digest, last_sequence, erased_at_ms FROM erasures WHERE roster = $1";
    all(conn, sql, &[&roster.as_str()]).await?.iter().map(read).collect()
}

/// Sequence of the first event of a new log in a roster.
pub(super) async fn first_sequence(conn: &impl GenericClient, roster: &RosterId) -> Result<u64, StoreError> {
    let sql = "SELECT last_sequence FROM erasures WHERE roster = $1 ORDER BY last_sequence DESC LIMIT 1";
    let longest = first(conn, sql, &[&roster.as_str()]).await?;
    Ok(erasure::first_sequence(longest.map(|row| count(&row, 0)).transpose()?))
}
