//! Requests in SQL.

use rusqlite::{Connection, params};

use super::prescriptions;
use super::query::{change, column, first, from_json, text, to_json};
use crate::append::Appended;
use crate::error::StoreError;
use crate::request::{Answer, Receipt, Replayable, RequestKey};

/// Does `write` and keeps its answer, or gives the answer kept for the same request.
pub(super) fn once<T: Replayable>(
    conn: &Connection,
    request: Option<&RequestKey>,
    write: impl FnOnce(&Connection) -> Result<T, StoreError>,
) -> Result<T, StoreError> {
    let Some(key) = request else { return write(conn) };
    if let Some(answer) = answered(conn, key)? {
        return T::again(answer).ok_or_else(|| key.reused());
    }
    let done = write(conn)?;
    insert(conn, key, &done.receipt())?;
    Ok(done)
}

/// What the request was answered, if it was done.
pub(super) fn answered(conn: &Connection, key: &RequestKey) -> Result<Option<Answer>, StoreError> {
    key.check()?;
    let RequestKey { roster, method, id, fingerprint } = key;
    let sql =
        "SELECT fingerprint, receipt FROM requests WHERE roster = ?1 AND method = ?2 AND request_id = ?3";
    let receipt = first(conn, sql, params![roster.as_str(), method, id], |row| {
        if column::<[u8; 32]>(row, 0)? != *fingerprint {
            return Err(key.reused());
        }
        from_json(text(row, 1)?, || format!("the answer to request {id} of rosters/{roster}"))
    })?;
    receipt.map(|receipt| answer(conn, receipt)).transpose()
}

fn answer(conn: &Connection, receipt: Receipt) -> Result<Answer, StoreError> {
    Ok(match receipt {
        Receipt::Roster { roster } => Answer::Roster(roster),
        Receipt::Athlete { athlete } => Answer::Athlete(athlete),
        Receipt::Appended { athlete, first, last, arrived_at_ms } => {
            let appended =
                Appended { first_sequence: first, last_sequence: last, arrived_at_ms, was_replay: true };
            Answer::Appended(athlete, appended)
        }
        Receipt::Prescription { athlete, id } => {
            Answer::Prescription(prescriptions::get(conn, &athlete, id.as_str())?)
        }
        Receipt::Erased { erased } => Answer::Erased(erased),
    })
}

fn insert(conn: &Connection, key: &RequestKey, receipt: &Receipt) -> Result<(), StoreError> {
    let RequestKey { roster, method, id, fingerprint } = key;
    let sql = "INSERT INTO requests (roster, method, request_id, fingerprint, receipt)
               VALUES (?1, ?2, ?3, ?4, ?5)";
    change(conn, sql, params![roster.as_str(), method, id, fingerprint, to_json(receipt)?])?;
    Ok(())
}
