//! Prescriptions in SQL.

use deadpool_postgres::{GenericClient, Transaction};
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{AthleteRef, PrescriptionId};
use tokio_postgres::Row;

use super::query::{all, change, column, corrupt, count, first, integer};
use super::writer::Write;
use super::{athletes, events};
use crate::error::StoreError;
use crate::page::{Listing, Page};
use crate::record::{Days, PrescriptionRecord, Written};

/// Sorts after every date and every id.
const BEYOND: &str = "~";

fn name(athlete: &AthleteRef, id: &str) -> String {
    format!("{athlete}/prescriptions/{id}")
}

fn read(row: &Row, athlete: &AthleteRef) -> Result<PrescriptionRecord, StoreError> {
    let id: &str = column(row, 0)?;
    let bad = |error| corrupt(name(athlete, id), error);
    Ok(PrescriptionRecord {
        athlete: athlete.clone(),
        id: PrescriptionId::new(id).map_err(|error| corrupt("a prescription's id", error))?,
        date: CivilDate::parse(column(row, 1)?).map_err(bad)?,
        issued_at_ms: column(row, 2)?,
        log_position: count(row, 3)?,
        body: column(row, 4)?,
    })
}

impl Write for PrescriptionRecord {
    type Done = Written<Self>;

    fn place(&self) -> [&str; 2] {
        [self.athlete.roster.as_str(), self.athlete.athlete.as_str()]
    }

    async fn run(&self, tx: &Transaction<'_>) -> Result<Self::Done, StoreError> {
        let Self { athlete, id, date, issued_at_ms, log_position, body } = self;
        let actual = athletes::hold(tx, athlete).await?;
        if !events::has(tx, athlete, *log_position).await? {
            return Err(StoreError::Moved { expected: *log_position, actual });
        }
        let sql = "INSERT INTO prescriptions
                     (roster, athlete, prescription, date, issued_at_ms, log_position, body)
                   VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT DO NOTHING";
        let (roster, whose) = (athlete.roster.as_str(), athlete.athlete.as_str());
        let (date, position) = (date.to_string(), integer(*log_position));
        let id = id.as_str();
        if change(tx, sql, &[&roster, &whose, &id, &date, issued_at_ms, &position, body]).await? == 0 {
            return Err(StoreError::AlreadyExists { what: "prescription", name: name(athlete, id) });
        }
        Ok(Written { record: self.clone(), was_replay: false })
    }
}

pub(super) async fn get(
    conn: &impl GenericClient,
    athlete: &AthleteRef,
    id: &str,
) -> Result<PrescriptionRecord, StoreError> {
    let sql = "SELECT prescription, date, issued_at_ms, log_position, body FROM prescriptions
               WHERE roster = $1 AND athlete = $2 AND prescription = $3";
    let found = first(conn, sql, &[&athlete.roster.as_str(), &athlete.athlete.as_str(), &id]).await?;
    let missing = || StoreError::NotFound { what: "prescription", name: name(athlete, id) };
    read(&found.ok_or_else(missing)?, athlete)
}

pub(super) async fn list(
    conn: &impl GenericClient,
    athlete: &AthleteRef,
    days: Days,
    page: &Page,
) -> Result<Listing<PrescriptionRecord>, StoreError> {
    athletes::last_sequence(conn, athlete).await?;
    let sql = "SELECT prescription, date, issued_at_ms, log_position, body FROM prescriptions
               WHERE roster = $1 AND athlete = $2 AND date >= $3 AND date <= $4
                 AND (date, issued_at_ms, prescription) < ($5, $6, $7)
               ORDER BY date DESC, issued_at_ms DESC, prescription DESC LIMIT $8";
    let (roster, whose) = (athlete.roster.as_str(), athlete.athlete.as_str());
    let from = days.from.map_or_else(String::new, |day| day.to_string());
    let to = days.to.map_or_else(|| BEYOND.to_owned(), |day| day.to_string());
    let (date, issued, id) = match &page.after {
        None => (BEYOND.to_owned(), i64::MAX, BEYOND.to_owned()),
        Some(id) => {
            let last = get(conn, athlete, id).await?;
            (last.date.to_string(), last.issued_at_ms, id.clone())
        }
    };
    let found = all(conn, sql, &[&roster, &whose, &from, &to, &date, &issued, &id, &page.rows()?]).await?;
    let found = found.iter().map(|row| read(row, athlete)).collect::<Result<_, _>>()?;
    Ok(Listing::cut(found, page, |record: &PrescriptionRecord| record.id.as_str()))
}
