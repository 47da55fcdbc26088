//! Schema: the marks of a log's file, and the steps from each version of it to the next.

use std::path::Path;

use rusqlite::{Connection, ErrorCode};

use super::query::failed;
use crate::error::StoreError;

/// SQLite's `application_id` of a log: "NXRG".
const APPLICATION: i32 = 0x4e58_5247;

/// The steps in order, each with the schema it leads to; those that were released never change.
const STEPS: [(i64, &str); 3] = [
    (1, include_str!("schema/001.sql")),
    (2, include_str!("schema/002.sql")),
    (3, include_str!("schema/003.sql")),
];

/// Newest schema known here.
const NEWEST: i64 = STEPS[STEPS.len() - 1].0;

/// The schema of a file, 0 for an empty one. Changes nothing. Fails with [`StoreError::Foreign`] or
/// [`StoreError::UnknownSchema`].
pub(super) fn version(conn: &Connection, path: &Path) -> Result<i64, StoreError> {
    let foreign = |reason: String| StoreError::Foreign { path: path.to_owned(), reason };
    // One statement, because another process may be making the file a log just now.
    let sql = "SELECT application_id, user_version, (SELECT count(*) FROM sqlite_schema)
               FROM pragma_application_id, pragma_user_version";
    let read = || conn.query_row(sql, (), |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)));
    let (application, version, objects): (i32, i64, i64) = read().map_err(|error| {
        if error.sqlite_error_code() == Some(ErrorCode::NotADatabase) {
            foreign("it is no SQLite file".to_owned())
        } else {
            failed("looking at the file")(error)
        }
    })?;
    if (application, version, objects) == (0, 0, 0) {
        return Ok(0);
    }
    if application != APPLICATION || version < 1 {
        return Err(foreign(format!("its application_id is {application}, its user_version {version}")));
    }
    if version > NEWEST {
        return Err(StoreError::UnknownSchema { found: version, known: NEWEST });
    }
    Ok(version)
}

/// Brings a file to [`NEWEST`], all steps or none, alone with the file from the first look to the end.
pub(super) fn migrate(conn: &Connection, path: &Path) -> Result<(), StoreError> {
    if version(conn, path)? == NEWEST {
        return Ok(());
    }
    let doing = "migrating the schema";
    conn.execute_batch("BEGIN EXCLUSIVE").map_err(failed(doing))?;
    let steps = version(conn, path).and_then(|found| {
        for (_, step) in STEPS.iter().filter(|(leads_to, _)| *leads_to > found) {
            conn.execute_batch(step).map_err(failed(doing))?;
        }
        conn.pragma_update(None, "application_id", APPLICATION).map_err(failed(doing))?;
        conn.pragma_update(None, "user_version", NEWEST).map_err(failed(doing))
    });
    let end = if steps.is_ok() { "COMMIT" } else { "ROLLBACK" };
    let ended = conn.execute_batch(end).map_err(failed(doing));
    steps.and(ended)
}
