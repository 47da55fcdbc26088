//! Rows in SQL: rosters given away and taken in, row by row.

use nextrung_domain::ids::RosterId;
use rusqlite::{Connection, params};
use tokio::sync::mpsc::Receiver;

use super::query::{change, column, failed};
use super::rosters;
use crate::error::StoreError;
use crate::row::{Parcel, Row, Sealing};

type Read = fn(&rusqlite::Row<'_>) -> Result<Row, StoreError>;

/// The rows of a roster, in the order of [`Row`].
const TABLES: [(&str, Read); 6] = [
    ("SELECT title, bands, created_at_ms, updated_at_ms FROM rosters WHERE roster = ?1", |row| {
        Ok(Row::Roster {
            title: column(row, 0)?,
            bands: column(row, 1)?,
            created_at_ms: column(row, 2)?,
            updated_at_ms: column(row, 3)?,
        })
    }),
    (
        "SELECT athlete, profile, created_at_ms, updated_at_ms, last_sequence FROM athletes
         WHERE roster = ?1 ORDER BY athlete",
        |row| {
            Ok(Row::Athlete {
                athlete: column(row, 0)?,
                profile: column(row, 1)?,
                created_at_ms: column(row, 2)?,
                updated_at_ms: column(row, 3)?,
                last_sequence: column(row, 4)?,
            })
        },
    ),
    (
        "SELECT athlete, sequence, kind, client_set_id, arrived_at_ms, body FROM events
         WHERE roster = ?1 ORDER BY athlete, sequence",
        |row| {
            Ok(Row::Event {
                athlete: column(row, 0)?,
                sequence: column(row, 1)?,
                kind: column(row, 2)?,
                client_set_id: column(row, 3)?,
                arrived_at_ms: column(row, 4)?,
                body: column(row, 5)?,
            })
        },
    ),
    (
        "SELECT athlete, prescription, date, issued_at_ms, log_position, body FROM prescriptions
         WHERE roster = ?1 ORDER BY athlete, prescription",
        |row| {
            Ok(Row::Prescription {
                athlete: column(row, 0)?,
                prescription: column(row, 1)?,
                date: column(row, 2)?,
                issued_at_ms: column(row, 3)?,
                log_position: column(row, 4)?,
                body: column(row, 5)?,
            })
        },
    ),
    (
        "SELECT method, request_id, fingerprint, receipt FROM requests
         WHERE roster = ?1 ORDER BY method, request_id",
        |row| {
            Ok(Row::Request {
                method: column(row, 0)?,
                request_id: column(row, 1)?,
                fingerprint: column(row, 2)?,
                receipt: column(row, 3)?,
            })
        },
    ),
    ("SELECT digest, last_sequence, erased_at_ms FROM erasures WHERE roster = ?1 ORDER BY digest", |row| {
        Ok(Row::Erasure {
            digest: column(row, 0)?,
            last_sequence: column(row, 1)?,
            erased_at_ms: column(row, 2)?,
        })
    }),
];

/// Hands over every row of a roster in order, until `to` says that it is enough. Fails with [`StoreError::NotFound`].
pub(super) fn give(
    conn: &Connection,
    roster: &RosterId,
    mut to: impl FnMut(Row) -> Result<bool, StoreError>,
) -> Result<(), StoreError> {
    rosters::check(conn, roster)?;
    for (sql, read) in TABLES {
        let mut statement = conn.prepare_cached(sql).map_err(failed("preparing"))?;
        let mut rows = statement.query(params![roster.as_str()]).map_err(failed("reading"))?;
        while let Some(row) = rows.next().map_err(failed("reading"))? {
            if !to(read(row)?)? {
                return Ok(());
            }
        }
    }
    Ok(())
}

/// Takes rosters in; its caller undoes everything on an error. Runs on a thread of its own.
pub(super) fn take(conn: &Connection, mut from: Receiver<Parcel>) -> Result<(), StoreError> {
    loop {
        match from.blocking_recv() {
            Some(Parcel::Row(roster, row)) => insert(conn, &roster, &row)?,
            Some(Parcel::End(sent)) => {
                for (roster, seal) in sent {
                    let mut sealing = Sealing::default();
                    give(conn, &roster, |row| sealing.add(&row).map(|()| true))?;
                    if sealing.seal() != seal {
                        return Err(StoreError::Unproven { name: format!("rosters/{roster}") });
                    }
                }
                return Ok(());
            }
            None => return Err(StoreError::Stopped),
        }
    }
}

fn insert(conn: &Connection, roster: &RosterId, row: &Row) -> Result<(), StoreError> {
    let id = roster.as_str();
    let kept = match row {
        Row::Roster { title, bands, created_at_ms, updated_at_ms } => {
            let sql = "INSERT INTO rosters (roster, title, bands, created_at_ms, updated_at_ms)
                       VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT DO NOTHING";
            change(conn, sql, params![id, title, bands, created_at_ms, updated_at_ms])
        }
        Row::Athlete { athlete, profile, created_at_ms, updated_at_ms, last_sequence } => {
            let sql = "INSERT INTO athletes
                         (roster, athlete, profile, created_at_ms, updated_at_ms, last_sequence)
                       VALUES (?1, ?2, ?3, ?4, ?5, ?6)";
            change(conn, sql, params![id, athlete, profile, created_at_ms, updated_at_ms, last_sequence])
        }
        Row::Event { athlete, sequence, kind, client_set_id, arrived_at_ms, body } => {
            let sql = "INSERT INTO events
                         (roster, athlete, sequence, kind, client_set_id, arrived_at_ms, body)
                       VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)";
            change(conn, sql, params![id, athlete, sequence, kind, client_set_id, arrived_at_ms, body])
        }
        Row::Prescription { athlete, prescription, date, issued_at_ms, log_position, body } => {
            let sql = "INSERT INTO prescriptions
                         (roster, athlete, prescription, date, issued_at_ms, log_position, body)
                       VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)";
            change(conn, sql, params![id, athlete, prescription, date, issued_at_ms, log_position, body])
        }
        Row::Request { method, request_id, fingerprint, receipt } => {
            let sql = "INSERT INTO requests (roster, method, request_id, fingerprint, receipt)
                       VALUES (?1, ?2, ?3, ?4, ?5)";
            change(conn, sql, params![id, method, request_id, fingerprint, receipt])
        }
        Row::Erasure { digest, last_sequence, erased_at_ms } => {
            // What was erased was never in this file.
            let sql = "INSERT INTO erasures (roster, digest, last_sequence, erased_at_ms, is_swept)
                       VALUES (?1, ?2, ?3, ?4, 1)";
            change(conn, sql, params![id, digest, last_sequence, erased_at_ms])
        }
    }?;
    if kept == 0 {
        return Err(StoreError::AlreadyExists { what: "roster", name: format!("rosters/{roster}") });
    }
    Ok(())
}
