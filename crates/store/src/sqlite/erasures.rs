//! Erasures in SQL.

use nextrung_domain::ids::{AthleteRef, RosterId};
use rusqlite::{Connection, Row, params};

use super::query::{all, change, column, count, first, integer};
use super::{athletes, rosters};
use crate::erasure::{self, Erased, Erasure, Trace};
use crate::error::StoreError;
use crate::record::Written;

pub(super) fn erase(conn: &Connection, erasure: &Erasure) -> Result<Written<Erased>, StoreError> {
    let Erasure { athlete, erased_at_ms } = erasure;
    rosters::check(conn, &athlete.roster)?;
    let last_sequence = match athletes::last_sequence(conn, athlete) {
        Ok(last_sequence) => last_sequence,
        Err(missing @ StoreError::NotFound { .. }) => {
            let before = erasure::before(athlete, &traces(conn, &athlete.roster)?);
            return before.map(|record| Written { record, was_replay: false }).ok_or(missing);
        }
        Err(error) => return Err(error),
    };
    let whose = [athlete.roster.as_str(), athlete.athlete.as_str()];
    let erased = Erased {
        erased_at_ms: *erased_at_ms,
        was_before: false,
        events: gone(conn, "DELETE FROM events WHERE roster = ?1 AND athlete = ?2", whose)?,
        prescriptions: gone(conn, "DELETE FROM prescriptions WHERE roster = ?1 AND athlete = ?2", whose)?,
        requests: gone(conn, REQUESTS, whose)?,
        keys: erase_keys(conn, athlete)?,
    };
    change(conn, "DELETE FROM athletes WHERE roster = ?1 AND athlete = ?2", whose)?;
    let Trace { digest, last_sequence, erased_at_ms } = Trace::of(erasure, last_sequence);
    let sql = "INSERT INTO erasures (roster, digest, last_sequence, erased_at_ms, is_swept)
               VALUES (?1, ?2, ?3, ?4, 0)";
    change(conn, sql, params![athlete.roster.as_str(), digest, integer(last_sequence), erased_at_ms])?;
    Ok(Written { record: erased, was_replay: false })
}

/// Requests are told apart by what they were answered; a roster's are few enough to be looked through.
const REQUESTS: &str = "DELETE FROM requests WHERE roster = ?1
    AND ?1 IN (json_extract(receipt, '$.athlete.roster'), json_extract(receipt, '$.athlete.id.roster'))
    AND ?2 IN (json_extract(receipt, '$.athlete.athlete'), json_extract(receipt, '$.athlete.id.athlete'))";

fn gone(conn: &Connection, sql: &str, whose: [&str; 2]) -> Result<u64, StoreError> {
    Ok(change(conn, sql, whose)?.try_into().unwrap_or(u64::MAX))
}

/// Takes the athlete out of every reach, and away the keys that reach nobody any more.
fn erase_keys(conn: &Connection, athlete: &AthleteRef) -> Result<u64, StoreError> {
    let whose = [athlete.roster.as_str(), athlete.athlete.as_str()];
    let sql = "SELECT key FROM reaches WHERE roster = ?1 AND athlete = ?2";
    let reaching: Vec<String> = all(conn, sql, whose, |row| column(row, 0))?;
    let named = "UPDATE accesses SET athlete = NULL, request = NULL WHERE roster = ?1 AND athlete = ?2";
    change(conn, named, whose)?;
    change(conn, "DELETE FROM reaches WHERE roster = ?1 AND athlete = ?2", whose)?;
    let mut erased = 0;
    for key in reaching {
        let sql = "DELETE FROM keys WHERE key = ?1 AND NOT EXISTS (SELECT 1 FROM reaches WHERE key = ?1)";
        if change(conn, sql, params![key])? == 1 {
            let sql = "UPDATE accesses SET key = NULL WHERE roster = ?1 AND key = ?2";
            change(conn, sql, params![athlete.roster.as_str(), key])?;
            erased += 1;
        }
    }
    Ok(erased)
}

fn traces(conn: &Connection, roster: &RosterId) -> Result<Vec<Trace>, StoreError> {
    let read = |row: &Row<'_>| {
        Ok(Trace { digest: column(row, 0)?, last_sequence: count(row, 1)?, erased_at_ms: column(row, 2)? })
    };
    let sql = "SELECT digest, last_sequence, erased_at_ms FROM erasures WHERE roster = ?1";
    all(conn, sql, params![roster.as_str()], read)
}

/// Sequence of the first event of a new log in a roster.
pub(super) fn first_sequence(conn: &Connection, roster: &RosterId) -> Result<u64, StoreError> {
    let sql = "SELECT last_sequence FROM erasures WHERE roster = ?1 ORDER BY last_sequence DESC LIMIT 1";
    let longest = first(conn, sql, params![roster.as_str()], |row| count(row, 0))?;
    Ok(erasure::first_sequence(longest))
}
