//! Athletes in SQL.

use nextrung_domain::event::EventBody;
use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
use nextrung_domain::profile::Profile;
use rusqlite::{Connection, Row, params};

use super::query::{all, change, column, corrupt, count, first, from_json, integer, text, to_json};
use super::{erasures, events, rosters};
use crate::error::StoreError;
use crate::page::{Listing, Page};
use crate::record::{AthleteRecord, NewAthlete, Written};

fn missing(id: &AthleteRef) -> StoreError {
    StoreError::NotFound { what: "athlete", name: id.to_string() }
}

fn read(row: &Row<'_>, roster: &RosterId) -> Result<AthleteRecord, StoreError> {
    let athlete = AthleteId::new(text(row, 0)?).map_err(|error| corrupt("an athlete's id", error))?;
    let id = AthleteRef { roster: roster.clone(), athlete };
    Ok(AthleteRecord {
        profile: from_json(text(row, 1)?, || format!("the profile of {id}"))?,
        created_at_ms: column(row, 2)?,
        updated_at_ms: column(row, 3)?,
        last_sequence: count(row, 4)?,
        id,
    })
}

pub(super) fn create(conn: &Connection, athlete: NewAthlete) -> Result<Written<AthleteRecord>, StoreError> {
    let NewAthlete { id, profile, created_at_ms } = athlete;
    rosters::check(conn, &id.roster)?;
    let sql = "INSERT INTO athletes (roster, athlete, profile, created_at_ms, updated_at_ms, last_sequence)
               VALUES (?1, ?2, ?3, ?4, ?4, ?5) ON CONFLICT DO NOTHING";
    let last_sequence = erasures::first_sequence(conn, &id.roster)?;
    let (roster, athlete, first) = (id.roster.as_str(), id.athlete.as_str(), integer(last_sequence));
    let params = params![roster, athlete, to_json(&profile)?, created_at_ms, first];
    if change(conn, sql, params)? == 0 {
        return Err(StoreError::AlreadyExists { what: "athlete", name: id.to_string() });
    }
    let body = EventBody::Profiled { profile: Box::new(profile.clone()) };
    events::insert(conn, &id, last_sequence, created_at_ms, &body)?;
    let record = AthleteRecord { id, profile, created_at_ms, updated_at_ms: created_at_ms, last_sequence };
    Ok(Written { record, was_replay: false })
}

pub(super) fn get(conn: &Connection, id: &AthleteRef) -> Result<AthleteRecord, StoreError> {
    let sql = "SELECT athlete, profile, created_at_ms, updated_at_ms, last_sequence FROM athletes
               WHERE roster = ?1 AND athlete = ?2";
    let params = params![id.roster.as_str(), id.athlete.as_str()];
    first(conn, sql, params, |row| read(row, &id.roster))?.ok_or_else(|| missing(id))
}

/// Sequence of the log's last event. Fails with [`StoreError::NotFound`].
pub(super) fn last_sequence(conn: &Connection, id: &AthleteRef) -> Result<u64, StoreError> {
    let sql = "SELECT last_sequence FROM athletes WHERE roster = ?1 AND athlete = ?2";
    let params = params![id.roster.as_str(), id.athlete.as_str()];
    first(conn, sql, params, |row| count(row, 0))?.ok_or_else(|| missing(id))
}

pub(super) fn list(
    conn: &Connection,
    roster: &RosterId,
    page: &Page,
) -> Result<Listing<AthleteRecord>, StoreError> {
    rosters::check(conn, roster)?;
    let sql = "SELECT athlete, profile, created_at_ms, updated_at_ms, last_sequence FROM athletes
               WHERE roster = ?1 AND athlete > ?2 ORDER BY athlete LIMIT ?3";
    let after = page.after.as_deref().unwrap_or_default();
    let found = all(conn, sql, params![roster.as_str(), after, page.rows()?], |row| read(row, roster))?;
    Ok(Listing::cut(found, page, |record| record.id.athlete.as_str()))
}

/// Moves the log's end to `last`.
pub(super) fn advance(conn: &Connection, id: &AthleteRef, last: u64) -> Result<(), StoreError> {
    let sql = "UPDATE athletes SET last_sequence = ?3 WHERE roster = ?1 AND athlete = ?2";
    change(conn, sql, params![id.roster.as_str(), id.athlete.as_str(), integer(last)])?;
    Ok(())
}

/// Puts a profile in force.
pub(super) fn set_profile(
    conn: &Connection,
    id: &AthleteRef,
    profile: &Profile,
    arrived_at_ms: i64,
) -> Result<(), StoreError> {
    let sql = "UPDATE athletes SET profile = ?3, updated_at_ms = ?4 WHERE roster = ?1 AND athlete = ?2";
    let params = params![id.roster.as_str(), id.athlete.as_str(), to_json(profile)?, arrived_at_ms];
    change(conn, sql, params)?;
    Ok(())
}
