//! Events in SQL.

use std::collections::BTreeSet;

use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use rusqlite::{Connection, Row, params};

use super::athletes;
use super::query::{all, change, column, corrupt, count, first, integer, text, to_json};
use crate::append::{Append, Appended};
use crate::error::StoreError;
use crate::event_text::Reader;
use crate::{batch, event_text};

fn read(row: &Row<'_>, athlete: &AthleteRef, bodies: &mut Reader) -> Result<StoredEvent, StoreError> {
    let sequence = count(row, 0)?;
    let body = bodies
        .read(text(row, 1)?, text(row, 3)?)
        .map_err(|error| corrupt(format!("event {sequence} of {athlete}"), error))?;
    Ok(StoredEvent { sequence, arrived_at_ms: column(row, 2)?, body })
}

pub(super) fn insert(
    conn: &Connection,
    athlete: &AthleteRef,
    sequence: u64,
    arrived_at_ms: i64,
    body: &EventBody,
) -> Result<(), StoreError> {
    let sql = "INSERT INTO events (roster, athlete, sequence, kind, client_set_id, arrived_at_ms, body)
               VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)";
    let set = body.client_set_id().map(ClientSetId::as_str);
    let (roster, id) = (athlete.roster.as_str(), athlete.athlete.as_str());
    let (kind, text) = (event_text::kind(body), to_json(body)?);
    change(conn, sql, params![roster, id, integer(sequence), kind, set, arrived_at_ms, text])?;
    Ok(())
}

pub(super) fn append(conn: &Connection, append: &Append) -> Result<(AthleteRef, Appended), StoreError> {
    let Append { athlete, request: _, expected_sequence, arrived_at_ms, events } = append;
    let before = athletes::last_sequence(conn, athlete)?;
    if let Some(expected) = expected_sequence.filter(|expected| *expected != before) {
        return Err(StoreError::Moved { expected, actual: before });
    }
    batch::check(events, recorded(conn, athlete, events)?)?;
    let mut last = before;
    for body in events {
        last += 1;
        insert(conn, athlete, last, *arrived_at_ms, body)?;
    }
    athletes::advance(conn, athlete, last)?;
    if let Some(profile) = batch::last_profile(events) {
        athletes::set_profile(conn, athlete, profile, *arrived_at_ms)?;
    }
    let appended = Appended {
        first_sequence: before + 1,
        last_sequence: last,
        arrived_at_ms: *arrived_at_ms,
        was_replay: false,
    };
    Ok((athlete.clone(), appended))
}

/// Whether the log has an event with that sequence.
pub(super) fn has(conn: &Connection, athlete: &AthleteRef, sequence: u64) -> Result<bool, StoreError> {
    let sql = "SELECT 1 FROM events WHERE roster = ?1 AND athlete = ?2 AND sequence = ?3";
    let params = params![athlete.roster.as_str(), athlete.athlete.as_str(), integer(sequence)];
    Ok(first(conn, sql, params, |_| Ok(()))?.is_some())
}

/// Those sets of `events` that the log has already.
fn recorded<'e>(
    conn: &Connection,
    athlete: &AthleteRef,
    events: &'e [EventBody],
) -> Result<BTreeSet<&'e ClientSetId>, StoreError> {
    let sql = "SELECT 1 FROM events INDEXED BY events_recorded
               WHERE roster = ?1 AND athlete = ?2 AND client_set_id = ?3 AND kind = 'recorded'";
    let mut found = BTreeSet::new();
    for set in batch::sets(events) {
        let params = params![athlete.roster.as_str(), athlete.athlete.as_str(), set.as_str()];
        if first(conn, sql, params, |_| Ok(()))?.is_some() {
            found.insert(set);
        }
    }
    Ok(found)
}

pub(super) fn list(
    conn: &Connection,
    athlete: &AthleteRef,
    (after, up_to): (u64, Option<u64>),
    limit: u32,
) -> Result<Vec<StoredEvent>, StoreError> {
    athletes::last_sequence(conn, athlete)?;
    let sql = "SELECT sequence, kind, arrived_at_ms, body FROM events
               WHERE roster = ?1 AND athlete = ?2 AND sequence > ?3 AND sequence <= ?4
               ORDER BY sequence LIMIT ?5";
    let (roster, id) = (athlete.roster.as_str(), athlete.athlete.as_str());
    let up_to = integer(up_to.unwrap_or(u64::MAX));
    let mut bodies = Reader::new();
    all(conn, sql, params![roster, id, integer(after), up_to, limit], |row| read(row, athlete, &mut bodies))
}

pub(super) fn of_sets(
    conn: &Connection,
    athlete: &AthleteRef,
    sets: &[ClientSetId],
) -> Result<Vec<StoredEvent>, StoreError> {
    athletes::last_sequence(conn, athlete)?;
    // Left to itself the planner walks the athlete's whole log.
    let sql = "SELECT sequence, kind, arrived_at_ms, body FROM events INDEXED BY events_recorded
               WHERE roster = ?1 AND athlete = ?2 AND client_set_id = ?3 AND kind = 'recorded'
               UNION ALL
               SELECT sequence, kind, arrived_at_ms, body FROM events INDEXED BY events_amending
               WHERE roster = ?1 AND athlete = ?2 AND client_set_id = ?3 AND kind IN ('corrected', 'withdrawn')";
    let (mut found, mut bodies) = (Vec::new(), Reader::new());
    for set in sets.iter().collect::<BTreeSet<_>>() {
        let params = params![athlete.roster.as_str(), athlete.athlete.as_str(), set.as_str()];
        found.extend(all(conn, sql, params, |row| read(row, athlete, &mut bodies))?);
    }
    found.sort_by_key(|event| event.sequence);
    Ok(found)
}
