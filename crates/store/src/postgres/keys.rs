//! Keys in SQL. A title is kept as JSON text, as that of a roster.

use deadpool_postgres::{GenericClient, Transaction};
use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;

use super::query::{all, change, column, corrupt, first, from_json, to_json};
use super::{athletes, rosters};
use crate::error::StoreError;
use crate::key::{KeyId, KeyRecord, Reach, Role};
use crate::page::{Listing, Page};

fn missing(id: &KeyId) -> StoreError {
    StoreError::NotFound { what: "key", name: format!("keys/{id}") }
}

fn unreadable(what: &str) -> StoreError {
    corrupt(what.to_owned(), "it has another shape".to_owned())
}

/// A key without its reaches.
fn read(row: &Row) -> Result<KeyRecord, StoreError> {
    let id = KeyId::new(column(row, 0)?).ok_or_else(|| unreadable("a key's id"))?;
    Ok(KeyRecord {
        secret_hash: column::<&[u8]>(row, 1)?.try_into().map_err(|_| unreadable("a key's hash"))?,
        role: Role::named(column(row, 2)?).ok_or_else(|| unreadable("a key's role"))?,
        title: from_json(column(row, 3)?, || format!("the title of keys/{id}"))?,
        reaches: Vec::new(),
        created_at_ms: column(row, 4)?,
        expires_at_ms: column(row, 5)?,
        revoked_at_ms: column(row, 6)?,
        id,
    })
}

fn read_reach(row: &Row) -> Result<Reach, StoreError> {
    let bad = |error| corrupt("the reach of a key", error);
    let athlete = Some(column::<&str>(row, 1)?).filter(|athlete| !athlete.is_empty());
    Ok(Reach {
        roster: RosterId::new(column(row, 0)?).map_err(bad)?,
        athlete: athlete.map(AthleteId::new).transpose().map_err(bad)?,
    })
}

async fn with_reaches(conn: &impl GenericClient, key: KeyRecord) -> Result<KeyRecord, StoreError> {
    let sql = "SELECT roster, athlete FROM reaches WHERE key = $1 ORDER BY roster, athlete";
    let found = all(conn, sql, &[&key.id.as_str()]).await?;
    Ok(KeyRecord { reaches: found.iter().map(read_reach).collect::<Result<_, _>>()?, ..key })
}

pub(super) async fn create(tx: &Transaction<'_>, key: &KeyRecord) -> Result<(), StoreError> {
    for Reach { roster, athlete } in &key.reaches {
        match athlete {
            None => rosters::check(tx, roster).await?,
            Some(athlete) => {
                let athlete = AthleteRef { roster: roster.clone(), athlete: athlete.clone() };
                athletes::hold(tx, &athlete).await.map(drop)?;
            }
        }
    }
    let sql = "INSERT INTO keys (key, secret_hash, role, title, created_at_ms, expires_at_ms, revoked_at_ms)
               VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT DO NOTHING";
    let KeyRecord { id, secret_hash, role, title, created_at_ms, expires_at_ms, revoked_at_ms, .. } = key;
    let (name, hash, role, title) = (id.as_str(), secret_hash.as_slice(), role.word(), to_json(title)?);
    let params =
        [&name as &(dyn ToSql + Sync), &hash, &role, &title, created_at_ms, expires_at_ms, revoked_at_ms];
    if change(tx, sql, &params).await? == 0 {
        return Err(StoreError::AlreadyExists { what: "key", name: format!("keys/{id}") });
    }
    let sql = "INSERT INTO reaches (roster, key, athlete) VALUES ($1, $2, $3)";
    for Reach { roster, athlete } in &key.reaches {
        let athlete = athlete.as_ref().map_or("", |athlete| athlete.as_str());
        change(tx, sql, &[&roster.as_str(), &id.as_str(), &athlete]).await?;
    }
    Ok(())
}

pub(super) async fn get(conn: &impl GenericClient, id: &KeyId) -> Result<KeyRecord, StoreError> {
    let sql = "SELECT key, secret_hash, role, title, created_at_ms, expires_at_ms, revoked_at_ms FROM keys
               WHERE key = $1";
    let found = first(conn, sql, &[&id.as_str()]).await?.ok_or_else(|| missing(id))?;
    with_reaches(conn, read(&found)?).await
}

pub(super) async fn list(conn: &impl GenericClient, page: &Page) -> Result<Listing<KeyRecord>, StoreError> {
    let sql = "SELECT key, secret_hash, role, title, created_at_ms, expires_at_ms, revoked_at_ms FROM keys
               WHERE key > $1 ORDER BY key LIMIT $2";
    let after = page.after.as_deref().unwrap_or_default();
    let mut found = Vec::new();
    for row in all(conn, sql, &[&after, &page.rows()?]).await? {
        found.push(with_reaches(conn, read(&row)?).await?);
    }
    Ok(Listing::cut(found, page, |key: &KeyRecord| key.id.as_str()))
}

/// Every key that reaches an athlete.
pub(super) async fn to(
    conn: &impl GenericClient,
    athlete: &AthleteRef,
) -> Result<Vec<KeyRecord>, StoreError> {
    let sql = "SELECT key, secret_hash, role, title, created_at_ms, expires_at_ms, revoked_at_ms FROM keys
               WHERE key IN (SELECT key FROM reaches WHERE roster = $1 AND athlete IN ('', $2)) ORDER BY key";
    let mut found = Vec::new();
    for row in all(conn, sql, &[&athlete.roster.as_str(), &athlete.athlete.as_str()]).await? {
        found.push(with_reaches(conn, read(&row)?).await?);
    }
    Ok(found)
}

/// Revokes a key, the first time for good.
pub(super) async fn revoke(
    conn: &impl GenericClient,
    id: &KeyId,
    now_ms: i64,
) -> Result<KeyRecord, StoreError> {
    let sql = "UPDATE keys SET revoked_at_ms = coalesce(revoked_at_ms, $2) WHERE key = $1";
    change(conn, sql, &[&id.as_str(), &now_ms]).await?;
    get(conn, id).await
}

pub(super) async fn reaches(
    conn: &impl GenericClient,
    (id, now_ms): (&KeyId, i64),
    (roster, athlete): (&RosterId, Option<&AthleteId>),
) -> Result<bool, StoreError> {
    // Whoever reaches everybody in a roster reaches the roster itself; whoever reaches one athlete does not.
    let sql = "SELECT 1 FROM reaches JOIN keys USING (key)
               WHERE roster = $1 AND key = $2 AND athlete IN ('', $3)
                 AND revoked_at_ms IS NULL AND coalesce(expires_at_ms > $4, TRUE)";
    let athlete = athlete.map_or("", |athlete| athlete.as_str());
    Ok(first(conn, sql, &[&roster.as_str(), &id.as_str(), &athlete, &now_ms]).await?.is_some())
}
