//! Rows in SQL: rosters given away and taken in, row by row.

use deadpool_postgres::{Client, Transaction};
use nextrung_domain::ids::RosterId;
use tokio::sync::mpsc::{self, Receiver, Sender};
use tokio_postgres::IsolationLevel;

use super::query::{all, change, column, failed, to_json};
use super::{events, rosters};
use crate::error::StoreError;
use crate::row::{Parcel, QUEUE, Row, Sealing};

/// Rows read or written at once.
const CHUNK: i64 = 1000;

/// However long the other side takes, neither the transaction nor a statement in it is cut off.
const PATIENT: &str = "SET LOCAL statement_timeout = 0; SET LOCAL idle_in_transaction_session_timeout = 0";

/// A table's rows behind two parts of a key, and how to read them.
struct Table {
    sql: &'static str,
    read: fn(&tokio_postgres::Row) -> Result<Row, StoreError>,
    /// The key of a row, to go on behind it.
    key: fn(&Row) -> (&str, &str),
}

const ATHLETES: Table = Table {
    sql: "SELECT athlete, profile, created_at_ms, updated_at_ms, last_sequence FROM athletes
          WHERE roster = $1 AND (athlete, '') > ($2, $3) ORDER BY athlete LIMIT $4",
    read: |row| {
        Ok(Row::Athlete {
            athlete: column(row, 0)?,
            profile: column(row, 1)?,
            created_at_ms: column(row, 2)?,
            updated_at_ms: column(row, 3)?,
            last_sequence: column(row, 4)?,
        })
    },
    key: |row| if let Row::Athlete { athlete, .. } = row { (athlete, "") } else { ("", "") },
};

const PRESCRIPTIONS: Table = Table {
    sql: "SELECT athlete, prescription, date, issued_at_ms, log_position, body FROM prescriptions
          WHERE roster = $1 AND (athlete, prescription) > ($2, $3) ORDER BY athlete, prescription LIMIT $4",
    read: |row| {
        Ok(Row::Prescription {
            athlete: column(row, 0)?,
            prescription: column(row, 1)?,
            date: column(row, 2)?,
            issued_at_ms: column(row, 3)?,
            log_position: column(row, 4)?,
            body: column(row, 5)?,
        })
    },
    key: |row| {
        if let Row::Prescription { athlete, prescription, .. } = row {
            (athlete, prescription)
        } else {
            ("", "")
        }
    },
};

const REQUESTS: Table = Table {
    sql: "SELECT method, request_id, fingerprint, receipt FROM requests
          WHERE roster = $1 AND (method, request_id) > ($2, $3) ORDER BY method, request_id LIMIT $4",
    read: |row| {
        Ok(Row::Request {
            method: column(row, 0)?,
            request_id: column(row, 1)?,
            fingerprint: column(row, 2)?,
            receipt: column(row, 3)?,
        })
    },
    key: |row| {
        if let Row::Request { method, request_id, .. } = row { (method, request_id) } else { ("", "") }
    },
};

/// The rows of a roster's erasures, few enough to be read at once.
const ERASURES: &str =
    "SELECT digest, last_sequence, erased_at_ms FROM erasures WHERE roster = $1 ORDER BY digest";

/// Sends every row of a roster in order, all of one moment. Fails with [`StoreError::NotFound`].
pub(super) async fn give(conn: &mut Client, roster: &RosterId, to: Sender<Row>) -> Result<(), StoreError> {
    let moment = conn.build_transaction().isolation_level(IsolationLevel::RepeatableRead).read_only(true);
    let tx = moment.start().await.map_err(failed("starting to read"))?;
    tx.batch_execute(PATIENT).await.map_err(failed("starting to read"))?;
    give_in(&tx, roster, to).await
}

async fn give_in(tx: &Transaction<'_>, roster: &RosterId, to: Sender<Row>) -> Result<(), StoreError> {
    let record = rosters::get(tx, roster).await?;
    let row = Row::Roster {
        title: record.title,
        bands: record.bands.as_ref().map(to_json).transpose()?,
        created_at_ms: record.created_at_ms,
        updated_at_ms: record.updated_at_ms,
    };
    let mut is_wanted = to.send(row).await.is_ok();
    is_wanted = is_wanted && give_table(tx, roster, (&ATHLETES, &to)).await?;
    is_wanted = is_wanted && give_events(tx, roster, &to).await?;
    is_wanted = is_wanted && give_table(tx, roster, (&PRESCRIPTIONS, &to)).await?;
    if is_wanted && give_table(tx, roster, (&REQUESTS, &to)).await? {
        for row in all(tx, ERASURES, &[&roster.as_str()]).await? {
            let (digest, last_sequence) = (column(&row, 0)?, column(&row, 1)?);
            let row = Row::Erasure { digest, last_sequence, erased_at_ms: column(&row, 2)? };
            if to.send(row).await.is_err() {
                break;
            }
        }
    }
    Ok(())
}

/// False when nobody wants more.
async fn give_table(
    tx: &Transaction<'_>,
    roster: &RosterId,
    (table, to): (&Table, &Sender<Row>),
) -> Result<bool, StoreError> {
    let (mut first, mut second) = (String::new(), String::new());
    loop {
        let found = all(tx, table.sql, &[&roster.as_str(), &first, &second, &CHUNK]).await?;
        if found.is_empty() {
            return Ok(true);
        }
        for row in &found {
            let row = (table.read)(row)?;
            let key = (table.key)(&row);
            (first, second) = (key.0.to_owned(), key.1.to_owned());
            if to.send(row).await.is_err() {
                return Ok(false);
            }
        }
    }
}

async fn give_events(tx: &Transaction<'_>, roster: &RosterId, to: &Sender<Row>) -> Result<bool, StoreError> {
    let sql = "SELECT athlete, sequence, kind, client_set_id, arrived_at_ms, body FROM events
               WHERE roster = $1 AND (athlete, sequence) > ($2, $3) ORDER BY athlete, sequence LIMIT $4";
    let (mut last_athlete, mut last_sequence) = (String::new(), 0_i64);
    loop {
        let found = all(tx, sql, &[&roster.as_str(), &last_athlete, &last_sequence, &CHUNK]).await?;
        if found.is_empty() {
            return Ok(true);
        }
        for row in &found {
            let (athlete, sequence): (String, i64) = (column(row, 0)?, column(row, 1)?);
            (last_athlete, last_sequence) = (athlete.clone(), sequence);
            let (kind, client_set_id) = (column(row, 2)?, column(row, 3)?);
            let (arrived_at_ms, body) = (column(row, 4)?, column(row, 5)?);
            let row = Row::Event { athlete, sequence, kind, client_set_id, arrived_at_ms, body };
            if to.send(row).await.is_err() {
                return Ok(false);
            }
        }
    }
}

/// Takes rosters in, in one transaction.
pub(super) async fn take(conn: &mut Client, mut from: Receiver<Parcel>) -> Result<(), StoreError> {
    let tx = conn.transaction().await.map_err(failed("beginning"))?;
    tx.batch_execute(PATIENT).await.map_err(failed("beginning"))?;
    let mut waiting = Waiting::default();
    loop {
        match from.recv().await {
            Some(Parcel::Row(
                roster,
                Row::Event { athlete, sequence, kind, client_set_id, arrived_at_ms, body },
            )) => {
                if waiting.is_of_another(&roster, &athlete) {
                    waiting.write(&tx).await?;
                    waiting.whose = Some((roster, athlete));
                }
                waiting.sequences.push(sequence);
                waiting.kinds.push(kind);
                waiting.sets.push(client_set_id);
                waiting.arrivals.push(arrived_at_ms);
                waiting.bodies.push(body);
            }
            Some(Parcel::Row(roster, row)) => {
                waiting.write(&tx).await?;
                insert(&tx, &roster, &row).await?;
            }
            Some(Parcel::End(sent)) => {
                waiting.write(&tx).await?;
                for (roster, seal) in sent {
                    if seal_in(&tx, &roster).await? != seal {
                        return Err(StoreError::Unproven { name: format!("rosters/{roster}") });
                    }
                }
                return tx.commit().await.map_err(failed("committing"));
            }
            None => return Err(StoreError::Stopped),
        }
    }
}

async fn seal_in(tx: &Transaction<'_>, roster: &RosterId) -> Result<crate::row::Seal, StoreError> {
    let (sender, mut rows) = mpsc::channel(QUEUE);
    let read = async {
        let mut sealing = Sealing::default();
        while let Some(row) = rows.recv().await {
            sealing.add(&row)?;
        }
        Ok::<_, StoreError>(sealing.seal())
    };
    let (given, seal) = tokio::join!(give_in(tx, roster, sender), read);
    given?;
    seal
}

/// Events of one athlete on their way into one statement.
#[derive(Default)]
struct Waiting {
    whose: Option<(RosterId, String)>,
    sequences: Vec<i64>,
    kinds: Vec<String>,
    sets: Vec<Option<String>>,
    arrivals: Vec<i64>,
    bodies: Vec<String>,
}

impl Waiting {
    /// True when a statement cannot take the next event too.
    fn is_of_another(&self, roster: &RosterId, athlete: &str) -> bool {
        let is_full = i64::try_from(self.sequences.len()).is_ok_and(|count| count >= CHUNK);
        let is_same = self.whose.as_ref().is_some_and(|(r, a)| r == roster && a == athlete);
        is_full || !is_same
    }

    /// Writes what is waiting, and is empty again.
    async fn write(&mut self, tx: &Transaction<'_>) -> Result<(), StoreError> {
        let Self { whose, sequences, kinds, sets, arrivals, bodies } = std::mem::take(self);
        if let Some((roster, athlete)) = whose {
            let id = roster.as_str();
            change(tx, events::INSERT, &[&id, &athlete, &sequences, &kinds, &sets, &arrivals, &bodies])
                .await?;
        }
        Ok(())
    }
}

async fn insert(tx: &Transaction<'_>, roster: &RosterId, row: &Row) -> Result<(), StoreError> {
    let id = roster.as_str();
    let kept = match row {
        Row::Roster { title, bands, created_at_ms, updated_at_ms } => {
            let sql = "INSERT INTO rosters (roster, title, bands, created_at_ms, updated_at_ms)
                       VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING";
            change(tx, sql, &[&id, &to_json(title)?, bands, created_at_ms, updated_at_ms]).await
        }
        Row::Athlete { athlete, profile, created_at_ms, updated_at_ms, last_sequence } => {
            let sql = "INSERT INTO athletes
                         (roster, athlete, profile, created_at_ms, updated_at_ms, last_sequence)
                       VALUES ($1, $2, $3, $4, $5, $6)";
            change(tx, sql, &[&id, athlete, profile, created_at_ms, updated_at_ms, last_sequence]).await
        }
        Row::Event { .. } => Ok(1),
        Row::Prescription { athlete, prescription, date, issued_at_ms, log_position, body } => {
            let sql = "INSERT INTO prescriptions
                         (roster, athlete, prescription, date, issued_at_ms, log_position, body)
                       VALUES ($1, $2, $3, $4, $5, $6, $7)";
            change(tx, sql, &[&id, athlete, prescription, date, issued_at_ms, log_position, body]).await
        }
        Row::Request { method, request_id, fingerprint, receipt } => {
            let sql = "INSERT INTO requests (roster, method, request_id, fingerprint, receipt)
                       VALUES ($1, $2, $3, $4, $5)";
            change(tx, sql, &[&id, method, request_id, fingerprint, receipt]).await
        }
        Row::Erasure { digest, last_sequence, erased_at_ms } => {
            let sql =
                "INSERT INTO erasures (roster, digest, last_sequence, erased_at_ms) VALUES ($1, $2, $3, $4)";
            change(tx, sql, &[&id, digest, last_sequence, erased_at_ms]).await
        }
    }?;
    if kept == 0 {
        return Err(StoreError::AlreadyExists { what: "roster", name: format!("rosters/{roster}") });
    }
    Ok(())
}
