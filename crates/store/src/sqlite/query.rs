//! Query: cached statements that fail with the store's own errors.

use std::error::Error;
use std::sync::Arc;

use rusqlite::types::FromSql;
use rusqlite::{Connection, ErrorCode, Params, Row};
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::error::StoreError;

/// Turns SQLite's error into the store's; `doing` says what failed.
pub(super) fn failed(doing: &'static str) -> impl Fn(rusqlite::Error) -> StoreError {
    move |error| {
        let code = error.sqlite_error_code();
        if matches!(code, Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase)) {
            corrupt("the log's file", error)
        } else if code == Some(ErrorCode::DiskFull) {
            StoreError::Full { doing, source: Arc::new(error) }
        } else {
            StoreError::Backend { doing, source: Arc::new(error) }
        }
    }
}

/// SQLite's code of an error, if it came from there.
pub(super) fn code(error: &StoreError) -> Option<ErrorCode> {
    if let StoreError::Backend { source, .. }
    | StoreError::Full { source, .. }
    | StoreError::Unswept { source, .. } = error
    {
        source.downcast_ref::<rusqlite::Error>()?.sqlite_error_code()
    } else {
        None
    }
}

pub(super) fn corrupt(what: impl Into<String>, error: impl Into<Box<dyn Error + Send + Sync>>) -> StoreError {
    StoreError::Corrupt { what: what.into(), source: Arc::from(error.into()) }
}

/// Runs a statement to its end; the number of rows changed.
pub(super) fn change(conn: &Connection, sql: &str, params: impl Params) -> Result<usize, StoreError> {
    let run = || conn.prepare_cached(sql)?.execute(params);
    run().map_err(failed("writing"))
}

/// The first row, if there is one.
pub(super) fn first<T>(
    conn: &Connection,
    sql: &str,
    params: impl Params,
    read: impl FnOnce(&Row<'_>) -> Result<T, StoreError>,
) -> Result<Option<T>, StoreError> {
    let mut statement = conn.prepare_cached(sql).map_err(failed("preparing"))?;
    let mut rows = statement.query(params).map_err(failed("reading"))?;
    rows.next().map_err(failed("reading"))?.map(read).transpose()
}

/// Every row.
pub(super) fn all<T>(
    conn: &Connection,
    sql: &str,
    params: impl Params,
    mut read: impl FnMut(&Row<'_>) -> Result<T, StoreError>,
) -> Result<Vec<T>, StoreError> {
    let mut statement = conn.prepare_cached(sql).map_err(failed("preparing"))?;
    let mut rows = statement.query(params).map_err(failed("reading"))?;
    let mut found = Vec::new();
    while let Some(row) = rows.next().map_err(failed("reading"))? {
        found.push(read(row)?);
    }
    Ok(found)
}

/// A column of a row.
pub(super) fn column<T: FromSql>(row: &Row<'_>, index: usize) -> Result<T, StoreError> {
    row.get(index).map_err(|error| corrupt("a row", error))
}

/// A text column, not copied.
pub(super) fn text<'r>(row: &'r Row<'_>, index: usize) -> Result<&'r str, StoreError> {
    let value = row.get_ref(index).map_err(|error| corrupt("a row", error))?;
    value.as_str().map_err(|error| corrupt("a row", error))
}

/// A column that counts; SQLite's integers have a sign.
pub(super) fn count(row: &Row<'_>, index: usize) -> Result<u64, StoreError> {
    u64::try_from(column::<i64>(row, index)?).map_err(|error| corrupt("a row", error))
}

/// A count as SQLite takes it; beyond its range nothing is stored, so the bound does as well.
pub(super) fn integer(count: u64) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

/// JSON text of a value of ours.
pub(super) fn to_json(value: &impl Serialize) -> Result<String, StoreError> {
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
