//! Query: cached statements that fail with the store's own errors.

use std::error::Error;
use std::sync::Arc;

use deadpool_postgres::GenericClient;
use serde::Serialize;
use serde::de::DeserializeOwned;
use tokio_postgres::Row;
use tokio_postgres::error::SqlState;
use tokio_postgres::types::{FromSql, ToSql};

use crate::error::StoreError;

/// The values of a statement.
pub(super) type Params<'p> = &'p [&'p (dyn ToSql + Sync)];

/// Turns the driver's error into the store's; `doing` says what failed.
pub(super) fn failed(doing: &'static str) -> impl Fn(tokio_postgres::Error) -> StoreError {
    move |error| {
        if error.code() == Some(&SqlState::DISK_FULL) {
            StoreError::Full { doing, source: Arc::new(error) }
        } else if is_away(&error) {
            unreachable(doing, error)
        } else {
            StoreError::Backend { doing, source: Arc::new(error) }
        }
    }
}

/// The database could not be asked, or not in time.
pub(super) fn unreachable(doing: &'static str, error: impl Error + Send + Sync + 'static) -> StoreError {
    StoreError::Unreachable { doing, source: Arc::new(error) }
}

/// True when it is not the statement that is to blame but the way to the server, or its state. Codes: PostgreSQL
/// documentation, appendix A.
fn is_away(error: &tokio_postgres::Error) -> bool {
    let Some(code) = error.code() else {
        // The driver's own errors have no code: a lost connection, or one that was never made. That one timed out only
        // its text tells.
        let is_of_system = Error::source(error).is_some_and(<dyn Error>::is::<std::io::Error>);
        return error.is_closed() || is_of_system || error.to_string() == "timeout waiting for server";
    };
    let (class, is_one) = (code.code().get(..2).unwrap_or_default(), |other: &SqlState| code == other);
    matches!(class, "08" | "53")
        || code.code().starts_with("57P")
        || is_one(&SqlState::LOCK_NOT_AVAILABLE)
        || is_one(&SqlState::QUERY_CANCELED)
        || is_one(&SqlState::READ_ONLY_SQL_TRANSACTION)
}

/// PostgreSQL's code of an error, if it came from there.
pub(super) fn code(error: &StoreError) -> Option<&SqlState> {
    if let StoreError::Backend { source, .. }
    | StoreError::Full { source, .. }
    | StoreError::Unreachable { source, .. } = error
    {
        source.downcast_ref::<tokio_postgres::Error>()?.code()
    } else {
        None
    }
}

pub(super) fn corrupt(what: impl Into<String>, error: impl Into<Box<dyn Error + Send + Sync>>) -> StoreError {
    StoreError::Corrupt { what: what.into(), source: Arc::from(error.into()) }
}

/// Runs a statement to its end; the number of rows changed.
pub(super) async fn change(
    conn: &impl GenericClient,
    sql: &str,
    params: Params<'_>,
) -> Result<u64, StoreError> {
    let statement = conn.prepare_cached(sql).await.map_err(failed("preparing"))?;
    conn.execute(&statement, params).await.map_err(failed("writing"))
}

/// The first row, if there is one.
pub(super) async fn first(
    conn: &impl GenericClient,
    sql: &str,
    params: Params<'_>,
) -> Result<Option<Row>, StoreError> {
    Ok(all(conn, sql, params).await?.into_iter().next())
}

/// Every row.
pub(super) async fn all(
    conn: &impl GenericClient,
    sql: &str,
    params: Params<'_>,
) -> Result<Vec<Row>, StoreError> {
    let statement = conn.prepare_cached(sql).await.map_err(failed("preparing"))?;
    conn.query(&statement, params).await.map_err(failed("reading"))
}

/// A column of a row.
pub(super) fn column<'r, T: FromSql<'r>>(row: &'r Row, index: usize) -> Result<T, StoreError> {
    row.try_get(index).map_err(|error| corrupt("a row", error))
}

/// A column that counts; PostgreSQL's integers have a sign.
pub(super) fn count(row: &Row, index: usize) -> Result<u64, StoreError> {
    u64::try_from(column::<i64>(row, index)?).map_err(|error| corrupt("a row", error))
}

/// A count as PostgreSQL takes it; beyond its range nothing is stored, so the bound does as well.
pub(super) fn integer(count: u64) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

/// JSON text of a value of ours.
pub(super) fn to_json(value: &(impl Serialize + ?Sized)) -> Result<String, StoreError> {
    serde_json::to_string(value)
        .map_err(|error| StoreError::Backend { doing: "encoding", source: Arc::new(error) })
}

/// A value of ours from JSON text; `what` names the row.
pub(super) fn from_json<T: DeserializeOwned>(
    text: &str,
    what: impl FnOnce() -> String,
) -> Result<T, StoreError> {
    serde_json::from_str(text).map_err(|error| corrupt(what(), error))
}
