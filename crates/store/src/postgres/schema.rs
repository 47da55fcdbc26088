//! Schema: the steps from each version of the tables to the next, and the row that says how far a database is.

use deadpool_postgres::{Client, Transaction};
use tokio_postgres::error::SqlState;

use super::query::{code, column, failed};
use super::tries::{Tries, is_lost_to_another};
use crate::error::StoreError;

/// The steps in order, each with the schema it leads to; those that were released never change.
const STEPS: [(i64, &str); 3] = [
    (1, include_str!("schema/001.sql")),
    (2, include_str!("schema/002.sql")),
    (3, include_str!("schema/003.sql")),
];

/// Newest schema known here.
pub(super) const NEWEST: i64 = STEPS[STEPS.len() - 1].0;

/// Makes the one row that says how far the tables are, 0 at first.
const MARK: &str = "CREATE TABLE IF NOT EXISTS nextrung_schema
                      (one BOOLEAN NOT NULL PRIMARY KEY CHECK (one), version BIGINT NOT NULL);
                    INSERT INTO nextrung_schema (one, version) VALUES (TRUE, 0) ON CONFLICT DO NOTHING";

/// Brings the tables to [`NEWEST`], all steps or none. The row stays locked from the first look to the end, so that of
/// several replicas that start at once one takes the steps while the others wait. Fails with
/// [`StoreError::UnknownSchema`].
pub(super) async fn migrate(conn: &mut Client) -> Result<(), StoreError> {
    if version(conn).await? == NEWEST {
        return Ok(());
    }
    // Another replica may take long over the steps.
    let mut tries = Tries::of_whoever_waits();
    loop {
        match attempt(conn).await {
            Ok(()) => return Ok(()),
            Err(Failed { error, is_passing }) => {
                if !is_passing || !tries.again().await {
                    return Err(error);
                }
            }
        }
    }
}

/// A try that failed.
struct Failed {
    error: StoreError,
    /// True when that was for another one at the same work.
    is_passing: bool,
}

async fn attempt(conn: &mut Client) -> Result<(), Failed> {
    let marked = conn.batch_execute(MARK).await.map_err(failed("marking the schema"));
    marked.map_err(|error| Failed { is_passing: is_meeting(&error), error })?;
    // Where transactions are serializable, whoever waited for the row begins anew to see what was done.
    migrate_marked(conn).await.map_err(|error| Failed { is_passing: is_lost_to_another(&error), error })
}

async fn migrate_marked(conn: &mut Client) -> Result<(), StoreError> {
    let doing = "migrating the schema";
    let tx = conn.transaction().await.map_err(failed(doing))?;
    // Whoever waits here waits for a whole run of steps.
    let patient = "SET LOCAL lock_timeout = 0; SET LOCAL statement_timeout = 0";
    tx.batch_execute(patient).await.map_err(failed(doing))?;
    take(&tx).await?;
    tx.commit().await.map_err(failed(doing))
}

async fn take(tx: &Transaction<'_>) -> Result<(), StoreError> {
    let doing = "migrating the schema";
    let sql = "SELECT version FROM nextrung_schema WHERE one FOR UPDATE";
    let row = tx.query_one(sql, &[]).await.map_err(failed(doing))?;
    let found = known(column(&row, 0)?)?;
    if found == NEWEST {
        return Ok(());
    }
    for (_, step) in STEPS.iter().filter(|(leads_to, _)| *leads_to > found) {
        tx.batch_execute(step).await.map_err(failed(doing))?;
    }
    let sql = "UPDATE nextrung_schema SET version = $1 WHERE one";
    tx.execute(sql, &[&NEWEST]).await.map_err(failed(doing))?;
    Ok(())
}

/// The schema of a database, 0 for one that was never a log. Changes nothing.
async fn version(conn: &Client) -> Result<i64, StoreError> {
    let sql = "SELECT version FROM nextrung_schema WHERE one";
    match conn.query_opt(sql, &[]).await.map_err(failed("looking at the schema")) {
        Ok(Some(row)) => known(column(&row, 0)?),
        Ok(None) => Ok(0),
        Err(error) if code(&error) == Some(&SqlState::UNDEFINED_TABLE) => Ok(0),
        Err(error) => Err(error),
    }
}

fn known(found: i64) -> Result<i64, StoreError> {
    if found > NEWEST { Err(StoreError::UnknownSchema { found, known: NEWEST }) } else { Ok(found) }
}

/// True when another one was making the same table.
fn is_meeting(error: &StoreError) -> bool {
    let meeting = [
        SqlState::UNIQUE_VIOLATION,
        SqlState::DUPLICATE_TABLE,
        SqlState::DUPLICATE_OBJECT,
        SqlState::T_R_SERIALIZATION_FAILURE,
        SqlState::INTERNAL_ERROR,
    ];
    code(error).is_some_and(|code| meeting.contains(code))
}
