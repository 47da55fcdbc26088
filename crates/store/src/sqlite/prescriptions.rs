//! Prescriptions in SQL.

use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{AthleteRef, PrescriptionId};
use rusqlite::{Connection, Row, params};

use super::query::{all, change, column, corrupt, count, first, integer, text};
use super::{athletes, events};
use crate::error::StoreError;
use crate::page::{Listing, Page};
use crate::record::{Days, PrescriptionRecord, Written};

fn name(athlete: &AthleteRef, id: &str) -> String {
    format!("{athlete}/prescriptions/{id}")
}

fn read(row: &Row<'_>, athlete: &AthleteRef) -> Result<PrescriptionRecord, StoreError> {
    let id = text(row, 0)?;
    let bad = |error| corrupt(name(athlete, id), error);
    Ok(PrescriptionRecord {
        athlete: athlete.clone(),
        id: PrescriptionId::new(id).map_err(|error| corrupt("a prescription's id", error))?,
        date: CivilDate::parse(text(row, 1)?).map_err(bad)?,
        issued_at_ms: column(row, 2)?,
        log_position: count(row, 3)?,
        body: column(row, 4)?,
    })
}

pub(super) fn save(
    conn: &Connection,
    prescription: PrescriptionRecord,
) -> Result<Written<PrescriptionRecord>, StoreError> {
    let PrescriptionRecord { athlete, id, date, issued_at_ms, log_position, body } = &prescription;
    let actual = athletes::last_sequence(conn, athlete)?;
    if !events::has(conn, athlete, *log_position)? {
        return Err(StoreError::Moved { expected: *log_position, actual });
    }
    let sql =
        "INSERT INTO prescriptions (roster, athlete, prescription, date, issued_at_ms, log_position, body)
               VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT DO NOTHING";
    let (roster, whose) = (athlete.roster.as_str(), athlete.athlete.as_str());
    let (date, position) = (date.to_string(), integer(*log_position));
    let params = params![roster, whose, id.as_str(), date, issued_at_ms, position, body];
    if change(conn, sql, params)? == 0 {
        return Err(StoreError::AlreadyExists { what: "prescription", name: name(athlete, id.as_str()) });
    }
    Ok(Written { record: prescription, was_replay: false })
}

pub(super) fn get(
    conn: &Connection,
    athlete: &AthleteRef,
    id: &str,
) -> Result<PrescriptionRecord, StoreError> {
    let sql = "SELECT prescription, date, issued_at_ms, log_position, body FROM prescriptions
               WHERE roster = ?1 AND athlete = ?2 AND prescription = ?3";
    let params = params![athlete.roster.as_str(), athlete.athlete.as_str(), id];
    first(conn, sql, params, |row| read(row, athlete))?
        .ok_or_else(|| StoreError::NotFound { what: "prescription", name: name(athlete, id) })
}

pub(super) fn list(
    conn: &Connection,
    athlete: &AthleteRef,
    days: Days,
    page: &Page,
) -> Result<Listing<PrescriptionRecord>, StoreError> {
    athletes::last_sequence(conn, athlete)?;
    let sql = "SELECT prescription, date, issued_at_ms, log_position, body FROM prescriptions
               WHERE roster = ?1 AND athlete = ?2 AND date >= ?3 AND date <= ?4
                 AND (date, issued_at_ms, prescription) < (?5, ?6, ?7)
               ORDER BY date DESC, issued_at_ms DESC, prescription DESC LIMIT ?8";
    let (roster, whose) = (athlete.roster.as_str(), athlete.athlete.as_str());
    let from = days.from.map_or_else(String::new, |day| day.to_string());
    let to = days.to.map_or_else(|| BEYOND.to_owned(), |day| day.to_string());
    let (date, issued, id) = match &page.after {
        None => (BEYOND.to_owned(), i64::MAX, BEYOND.to_owned()),
        Some(id) => {
            let last = get(conn, athlete, id)?;
            (last.date.to_string(), last.issued_at_ms, id.clone())
        }
    };
    let params = params![roster, whose, from, to, date, issued, id, page.rows()?];
    let found = all(conn, sql, params, |row| read(row, athlete))?;
    Ok(Listing::cut(found, page, |record| record.id.as_str()))
}

/// Sorts after every date and every id.
const BEYOND: &str = "~";
