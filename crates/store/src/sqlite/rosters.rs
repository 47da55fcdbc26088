//! Rosters in SQL.

use nextrung_domain::ids::RosterId;
use rusqlite::{Connection, Row, params};

use super::query::{all, change, column, corrupt, first, from_json, text, to_json};
use crate::error::StoreError;
use crate::key::KeyId;
use crate::page::{Listing, Page};
use crate::record::{NewRoster, RosterChange, RosterRecord, Written};

fn name(id: &RosterId) -> String {
    format!("rosters/{id}")
}

fn missing(id: &RosterId) -> StoreError {
    StoreError::NotFound { what: "roster", name: name(id) }
}

fn read(row: &Row<'_>) -> Result<RosterRecord, StoreError> {
    let id = RosterId::new(text(row, 0)?).map_err(|error| corrupt("a roster's id", error))?;
    let bands = column::<Option<String>>(row, 2)?;
    let bands = bands.map(|bands| from_json(&bands, || format!("the bands of {}", name(&id)))).transpose()?;
    Ok(RosterRecord {
        title: column(row, 1)?,
        bands,
        created_at_ms: column(row, 3)?,
        updated_at_ms: column(row, 4)?,
        id,
    })
}

pub(super) fn create(conn: &Connection, roster: NewRoster) -> Result<Written<RosterRecord>, StoreError> {
    let NewRoster { id, title, bands, created_at_ms } = roster;
    let sql =
        "INSERT INTO rosters (roster, title, bands, created_at_ms, updated_at_ms) VALUES (?1, ?2, ?3, ?4, ?4)
               ON CONFLICT DO NOTHING";
    let text = bands.as_ref().map(to_json).transpose()?;
    if change(conn, sql, params![id.as_str(), title, text, created_at_ms])? == 0 {
        return Err(StoreError::AlreadyExists { what: "roster", name: name(&id) });
    }
    let record = RosterRecord { id, title, bands, created_at_ms, updated_at_ms: created_at_ms };
    Ok(Written { record, was_replay: false })
}

pub(super) fn update(conn: &Connection, wanted: &RosterChange) -> Result<Written<RosterRecord>, StoreError> {
    let RosterChange { id, title, bands, updated_at_ms } = wanted;
    let sql = "UPDATE rosters SET title = coalesce(?2, title), bands = iif(?3, ?4, bands), updated_at_ms = ?5
               WHERE roster = ?1 RETURNING roster, title, bands, created_at_ms, updated_at_ms";
    let text = bands.as_ref().and_then(Option::as_ref).map(to_json).transpose()?;
    let params = params![id.as_str(), title, bands.is_some(), text, updated_at_ms];
    let record = first(conn, sql, params, read)?.ok_or_else(|| missing(id))?;
    Ok(Written { record, was_replay: false })
}

pub(super) fn get(conn: &Connection, id: &RosterId) -> Result<RosterRecord, StoreError> {
    let sql = "SELECT roster, title, bands, created_at_ms, updated_at_ms FROM rosters WHERE roster = ?1";
    first(conn, sql, params![id.as_str()], read)?.ok_or_else(|| missing(id))
}

/// Fails with [`StoreError::NotFound`].
pub(super) fn check(conn: &Connection, id: &RosterId) -> Result<(), StoreError> {
    let sql = "SELECT 1 FROM rosters WHERE roster = ?1";
    first(conn, sql, params![id.as_str()], |_| Ok(()))?.ok_or_else(|| missing(id))
}

/// Rosters in the order of their ids; with a key, those of which it reaches everybody.
pub(super) fn list(
    conn: &Connection,
    page: &Page,
    within: Option<&KeyId>,
) -> Result<Listing<RosterRecord>, StoreError> {
    let sql = "SELECT roster, title, bands, created_at_ms, updated_at_ms FROM rosters
               WHERE roster > ?1 AND (?3 IS NULL OR EXISTS (
                 SELECT 1 FROM reaches WHERE reaches.roster = rosters.roster AND key = ?3 AND athlete = ''))
               ORDER BY roster LIMIT ?2";
    let after = page.after.as_deref().unwrap_or_default();
    let found = all(conn, sql, params![after, page.rows()?, within.map(KeyId::as_str)], read)?;
    Ok(Listing::cut(found, page, |roster| roster.id.as_str()))
}
