//! Accesses in SQL.

use std::collections::BTreeSet;

use deadpool_postgres::{GenericClient, Transaction};
use nextrung_domain::ids::{AthleteId, RosterId};
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;

use super::query::{all, change, column, corrupt};
use super::rosters;
use crate::access::{AccessRecord, FORGOTTEN_AT_ONCE};
use crate::error::StoreError;
use crate::key::KeyId;
use crate::page::{Listing, Page};

/// Keeps what is about one roster, if it is there, and names of athletes and keys that are. They are held until the transaction
/// ends, so that an erasure comes wholly before or wholly after.
pub(super) async fn record(
    tx: &Transaction<'_>,
    roster: &RosterId,
    accesses: &[&AccessRecord],
) -> Result<(), StoreError> {
    let asked = unique(accesses.iter().filter_map(|access| access.athlete.as_ref().map(AthleteId::as_str)));
    let sql =
        "SELECT athlete FROM athletes WHERE roster = $1 AND athlete = ANY($2) ORDER BY athlete FOR KEY SHARE";
    let held = all(tx, sql, &[&roster.as_str(), &asked]).await?;
    let there = held.iter().map(|row| column(row, 0)).collect::<Result<BTreeSet<&str>, _>>()?;
    // Athletes before keys, as an erasure takes them.
    let shown = unique(accesses.iter().filter_map(|access| access.key.as_ref().map(KeyId::as_str)));
    let sql = "SELECT key FROM keys WHERE key = ANY($1) ORDER BY key FOR KEY SHARE";
    let held = all(tx, sql, &[&shown]).await?;
    let known = held.iter().map(|row| column(row, 0)).collect::<Result<BTreeSet<&str>, _>>()?;
    let whose = |access: &AccessRecord| {
        access
            .athlete
            .as_ref()
            .map(|athlete| athlete.to_string())
            .filter(|athlete| there.contains(athlete.as_str()))
    };
    let request = |access: &AccessRecord| {
        let is_named = access.athlete.is_none() || whose(access).is_some();
        access.request.filter(|_| is_named).map(|digest| digest.to_vec())
    };
    let entries: Vec<&str> = accesses.iter().map(|access| access.entry.as_str()).collect();
    let times: Vec<i64> = accesses.iter().map(|access| access.at_ms).collect();
    let athletes: Vec<Option<String>> = accesses.iter().map(|access| whose(access)).collect();
    let keys: Vec<Option<&str>> = accesses
        .iter()
        .map(|access| access.key.as_ref().map(KeyId::as_str).filter(|key| known.contains(key)))
        .collect();
    let methods: Vec<&str> = accesses.iter().map(|access| access.method.as_str()).collect();
    let codes: Vec<i32> = accesses.iter().map(|access| access.code).collect();
    let requests: Vec<Option<Vec<u8>>> = accesses.iter().map(|access| request(access)).collect();
    let sql = "INSERT INTO accesses (roster, entry, at_ms, athlete, key, method, code, request)
               SELECT rosters.roster, one.* FROM rosters,
                 unnest($2::text[], $3::bigint[], $4::text[], $5::text[], $6::text[], $7::int[], $8::bytea[]) AS one
               WHERE rosters.roster = $1
               ON CONFLICT DO NOTHING";
    let id = roster.as_str();
    let params: [&(dyn ToSql + Sync); 8] =
        [&id, &entries, &times, &athletes, &keys, &methods, &codes, &requests];
    change(tx, sql, &params).await.map(drop)
}

fn unique<'t>(texts: impl Iterator<Item = &'t str>) -> Vec<&'t str> {
    texts.collect::<BTreeSet<_>>().into_iter().collect()
}

/// Takes out some of what ended in a roster before a moment, the oldest first; how many.
pub(super) async fn forget(
    conn: &impl GenericClient,
    roster: &RosterId,
    before_ms: i64,
) -> Result<u64, StoreError> {
    let sql = "DELETE FROM accesses WHERE roster = $1 AND entry IN
                 (SELECT entry FROM accesses WHERE roster = $1 AND at_ms < $2 ORDER BY entry LIMIT $3)";
    change(conn, sql, &[&roster.as_str(), &before_ms, &FORGOTTEN_AT_ONCE]).await
}

pub(super) async fn list(
    conn: &impl GenericClient,
    (roster, athlete): (&RosterId, Option<&AthleteId>),
    page: &Page,
) -> Result<Listing<AccessRecord>, StoreError> {
    rosters::check(conn, roster).await?;
    let (id, before, rows) = (roster.as_str(), page.after.as_deref().unwrap_or(BEYOND), page.rows()?);
    let found = match athlete {
        None => {
            let sql = "SELECT entry, at_ms, athlete, key, method, code, request FROM accesses
                       WHERE roster = $1 AND entry < $2 ORDER BY entry DESC LIMIT $3";
            all(conn, sql, &[&id, &before, &rows]).await?
        }
        Some(athlete) => {
            let sql = "SELECT entry, at_ms, athlete, key, method, code, request FROM accesses
                       WHERE roster = $1 AND entry < $2 AND athlete = $4 ORDER BY entry DESC LIMIT $3";
            all(conn, sql, &[&id, &before, &rows, &athlete.as_str()]).await?
        }
    };
    let found = found.iter().map(|row| read(row, roster)).collect::<Result<_, _>>()?;
    Ok(Listing::cut(found, page, |access: &AccessRecord| &access.entry))
}

/// Sorts after every entry.
const BEYOND: &str = "~";

fn read(row: &Row, roster: &RosterId) -> Result<AccessRecord, StoreError> {
    let athlete = column::<Option<&str>>(row, 2)?.map(AthleteId::new).transpose();
    let request = column::<Option<&[u8]>>(row, 6)?.map(TryInto::try_into).transpose();
    Ok(AccessRecord {
        entry: column(row, 0)?,
        at_ms: column(row, 1)?,
        roster: roster.clone(),
        athlete: athlete.map_err(|error| corrupt("an access", error))?,
        key: column::<Option<&str>>(row, 3)?.and_then(KeyId::new),
        method: column(row, 4)?,
        code: column(row, 5)?,
        request: request.map_err(|error| corrupt("an access", error))?,
    })
}
