//! Accesses in SQL.

use nextrung_domain::ids::{AthleteId, RosterId};
use rusqlite::{Connection, Row, params};

use super::query::{all, change, column, corrupt, text};
use super::rosters;
use crate::access::{AccessRecord, FORGOTTEN_AT_ONCE};
use crate::error::StoreError;
use crate::key::KeyId;
use crate::page::{Listing, Page};

/// Keeps what is about rosters that are there, and names of athletes and keys the same.
pub(super) fn record(conn: &Connection, accesses: &[AccessRecord]) -> Result<(), StoreError> {
    let sql = "INSERT INTO accesses (roster, entry, at_ms, athlete, key, method, code, request)
               SELECT r.roster, ?2, ?3, a.athlete, k.key, ?6, ?7, iif(a.athlete IS NULL AND ?4 IS NOT NULL, NULL, ?8)
               FROM rosters r LEFT JOIN athletes a ON a.roster = r.roster AND a.athlete = ?4
                 LEFT JOIN keys k ON k.key = ?5
               WHERE r.roster = ?1
               ON CONFLICT DO NOTHING";
    for access in accesses {
        let AccessRecord { entry, at_ms, roster, athlete, key, method, code, request } = access;
        let (roster, key) = (roster.as_str(), key.as_ref().map(KeyId::as_str));
        let athlete = athlete.as_ref().map(AthleteId::as_str);
        change(conn, sql, params![roster, entry, at_ms, athlete, key, method, code, request])?;
    }
    Ok(())
}

pub(super) fn list(
    conn: &Connection,
    (roster, athlete): (&RosterId, Option<&AthleteId>),
    page: &Page,
) -> Result<Listing<AccessRecord>, StoreError> {
    rosters::check(conn, roster)?;
    let sql = match athlete {
        None => {
            "SELECT entry, at_ms, athlete, key, method, code, request FROM accesses
             WHERE roster = ?1 AND entry < ?2 AND ?3 IS NULL ORDER BY entry DESC LIMIT ?4"
        }
        Some(_) => {
            "SELECT entry, at_ms, athlete, key, method, code, request FROM accesses
             WHERE roster = ?1 AND entry < ?2 AND athlete = ?3 ORDER BY entry DESC LIMIT ?4"
        }
    };
    let (before, whose) = (page.after.as_deref().unwrap_or(BEYOND), athlete.map(AthleteId::as_str));
    let found =
        all(conn, sql, params![roster.as_str(), before, whose, page.rows()?], |row| read(row, roster))?;
    Ok(Listing::cut(found, page, |access: &AccessRecord| &access.entry))
}

/// Takes out some of what ended in a roster before a moment, the oldest first; how many.
pub(super) fn forget(conn: &Connection, roster: &RosterId, before_ms: i64) -> Result<usize, StoreError> {
    let sql = "DELETE FROM accesses WHERE roster = ?1 AND entry IN
                 (SELECT entry FROM accesses WHERE roster = ?1 AND at_ms < ?2 ORDER BY entry LIMIT ?3)";
    change(conn, sql, params![roster.as_str(), before_ms, FORGOTTEN_AT_ONCE])
}

/// Sorts after every entry.
const BEYOND: &str = "~";

fn read(row: &Row<'_>, roster: &RosterId) -> Result<AccessRecord, StoreError> {
    let athlete: Option<String> = column(row, 2)?;
    let athlete = athlete.as_deref().map(AthleteId::new).transpose();
    Ok(AccessRecord {
        entry: text(row, 0)?.to_owned(),
        at_ms: column(row, 1)?,
        roster: roster.clone(),
        athlete: athlete.map_err(|error| corrupt("an access", error))?,
        key: column::<Option<String>>(row, 3)?.as_deref().and_then(KeyId::new),
        method: column(row, 4)?,
        code: column(row, 5)?,
        request: column(row, 6)?,
    })
}
