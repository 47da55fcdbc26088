//! Keys in SQL.

use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
use rusqlite::{Connection, Row, params};

use super::query::{all, change, column, corrupt, first, text};
use super::{athletes, rosters};
use crate::error::StoreError;
use crate::key::{KeyId, KeyRecord, Reach, Role};
use crate::page::{Listing, Page};

const COLUMNS: &str = "key, secret_hash, role, title, created_at_ms, expires_at_ms, revoked_at_ms";

fn missing(id: &KeyId) -> StoreError {
    StoreError::NotFound { what: "key", name: format!("keys/{id}") }
}

fn unreadable(what: &str) -> StoreError {
    corrupt(what.to_owned(), "it has another shape".to_owned())
}

/// A key without its reaches.
fn read(row: &Row<'_>) -> Result<KeyRecord, StoreError> {
    Ok(KeyRecord {
        id: KeyId::new(text(row, 0)?).ok_or_else(|| unreadable("a key's id"))?,
        secret_hash: column(row, 1)?,
        role: Role::named(text(row, 2)?).ok_or_else(|| unreadable("a key's role"))?,
        title: column(row, 3)?,
        reaches: Vec::new(),
        created_at_ms: column(row, 4)?,
        expires_at_ms: column(row, 5)?,
        revoked_at_ms: column(row, 6)?,
    })
}

fn read_reach(row: &Row<'_>) -> Result<Reach, StoreError> {
    let bad = |error| corrupt("the reach of a key", error);
    let athlete = Some(text(row, 1)?).filter(|athlete| !athlete.is_empty());
    Ok(Reach {
        roster: RosterId::new(text(row, 0)?).map_err(bad)?,
        athlete: athlete.map(AthleteId::new).transpose().map_err(bad)?,
    })
}

fn with_reaches(conn: &Connection, key: KeyRecord) -> Result<KeyRecord, StoreError> {
    let sql = "SELECT roster, athlete FROM reaches WHERE key = ?1 ORDER BY roster, athlete";
    let reaches = all(conn, sql, params![key.id.as_str()], read_reach)?;
    Ok(KeyRecord { reaches, ..key })
}

pub(super) fn create(conn: &Connection, key: &KeyRecord) -> Result<(), StoreError> {
    for Reach { roster, athlete } in &key.reaches {
        match athlete {
            None => rosters::check(conn, roster)?,
            Some(athlete) => {
                let athlete = AthleteRef { roster: roster.clone(), athlete: athlete.clone() };
                athletes::last_sequence(conn, &athlete).map(drop)?;
            }
        }
    }
    let sql = "INSERT INTO keys (key, secret_hash, role, title, created_at_ms, expires_at_ms, revoked_at_ms)
               VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT DO NOTHING";
    let KeyRecord { id, secret_hash, role, title, created_at_ms, expires_at_ms, revoked_at_ms, .. } = key;
    let params = params![
        id.as_str(),
        secret_hash.as_slice(),
        role.word(),
        title,
        created_at_ms,
        expires_at_ms,
        revoked_at_ms
    ];
    if change(conn, sql, params)? == 0 {
        return Err(StoreError::AlreadyExists { what: "key", name: format!("keys/{id}") });
    }
    let sql = "INSERT INTO reaches (roster, key, athlete) VALUES (?1, ?2, ?3)";
    for Reach { roster, athlete } in &key.reaches {
        let athlete = athlete.as_ref().map_or("", |athlete| athlete.as_str());
        change(conn, sql, params![roster.as_str(), id.as_str(), athlete])?;
    }
    Ok(())
}

pub(super) fn get(conn: &Connection, id: &KeyId) -> Result<KeyRecord, StoreError> {
    let sql = format!("SELECT {COLUMNS} FROM keys WHERE key = ?1");
    let key = first(conn, &sql, params![id.as_str()], read)?.ok_or_else(|| missing(id))?;
    with_reaches(conn, key)
}

pub(super) fn list(conn: &Connection, page: &Page) -> Result<Listing<KeyRecord>, StoreError> {
    let sql = format!("SELECT {COLUMNS} FROM keys WHERE key > ?1 ORDER BY key LIMIT ?2");
    let after = page.after.as_deref().unwrap_or_default();
    let found = all(conn, &sql, params![after, page.rows()?], read)?;
    let found = found.into_iter().map(|key| with_reaches(conn, key)).collect::<Result<_, _>>()?;
    Ok(Listing::cut(found, page, |key: &KeyRecord| key.id.as_str()))
}

/// Every key that reaches an athlete.
pub(super) fn to(conn: &Connection, athlete: &AthleteRef) -> Result<Vec<KeyRecord>, StoreError> {
    let sql = format!(
        "SELECT {COLUMNS} FROM keys WHERE key IN
           (SELECT key FROM reaches WHERE roster = ?1 AND athlete IN ('', ?2)) ORDER BY key"
    );
    let found = all(conn, &sql, [athlete.roster.as_str(), athlete.athlete.as_str()], read)?;
    found.into_iter().map(|key| with_reaches(conn, key)).collect()
}

/// Revokes a key, the first time for good.
pub(super) fn revoke(conn: &Connection, id: &KeyId, now_ms: i64) -> Result<KeyRecord, StoreError> {
    let sql = "UPDATE keys SET revoked_at_ms = coalesce(revoked_at_ms, ?2) WHERE key = ?1";
    change(conn, sql, params![id.as_str(), now_ms])?;
    get(conn, id)
}

pub(super) fn reaches(
    conn: &Connection,
    (id, now_ms): (&KeyId, i64),
    (roster, athlete): (&RosterId, Option<&AthleteId>),
) -> Result<bool, StoreError> {
    // Whoever reaches everybody in a roster reaches the roster itself; whoever reaches one athlete does not.
    let sql = "SELECT 1 FROM reaches JOIN keys USING (key)
               WHERE roster = ?1 AND key = ?2 AND athlete IN ('', ?3)
                 AND revoked_at_ms IS NULL AND coalesce(expires_at_ms > ?4, TRUE)";
    let athlete = athlete.map_or("", AthleteId::as_str);
    let params = params![roster.as_str(), id.as_str(), athlete, now_ms];
    Ok(first(conn, sql, params, |_| Ok(()))?.is_some())
}
