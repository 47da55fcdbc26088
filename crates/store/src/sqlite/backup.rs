//! Backup: a copy of a log's file as it was at one moment, while a service writes to it, and proof that it is one.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};

use super::query::{all, column, failed, first, text};
use super::{file, schema};
use crate::error::StoreError;

/// What a copy holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BackedUp {
    /// Version of the schema.
    pub schema: i64,
    /// Rows by table, in the order of the tables' names; as many as the log had at the moment of the copy.
    pub rows: Vec<(String, u64)>,
    /// Bytes of the file.
    pub bytes: u64,
}

/// Copies a log's file to a new one, all of one moment. Writers are not held up. The copy is checked as a whole (structure,
/// references, rows by table) before it gets its name; after any failure there is none.
///
/// Fails with [`StoreError::AlreadyExists`] when something is at `to`, [`StoreError::Foreign`] and
/// [`StoreError::UnknownSchema`] for what is no log, [`StoreError::Unproven`] when the copy is not equal, and
/// [`StoreError::Corrupt`] when the log itself is damaged.
pub fn back_up(from: &Path, to: &Path) -> Result<BackedUp, StoreError> {
    for taken in [to.to_owned(), beside(to, "-wal"), beside(to, "-journal")] {
        if taken.exists() {
            return Err(StoreError::AlreadyExists { what: "file", name: taken.display().to_string() });
        }
    }
    let part = beside(to, ".part");
    let made = copy(from, &part).and_then(|copied| {
        // Unlike a rename, a link never replaces what came to be there meanwhile.
        fs::hard_link(&part, to).map_err(in_out("naming the copy"))?;
        let folder = to.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(in_out("keeping the copy"))?;
        Ok(copied)
    });
    for left in [part.clone(), beside(&part, "-wal"), beside(&part, "-shm"), beside(&part, "-journal")] {
        // Mostly there is none.
        drop(fs::remove_file(left));
    }
    made
}

fn copy(from: &Path, part: &Path) -> Result<BackedUp, StoreError> {
    let doing = "copying the file";
    // A copy that was broken off is of no use.
    drop(fs::remove_file(part));
    let source = file::for_reading(from)?;
    let schema = schema::version(&source, from)?;
    if schema == 0 {
        return Err(StoreError::Foreign { path: from.to_owned(), reason: "it is empty".to_owned() });
    }
    let moment = source.unchecked_transaction().map_err(failed("starting to read"))?;
    let rows = rows(&moment)?;
    file::make(part);
    let mut target = Connection::open(part).map_err(failed(doing))?;
    file::keep_in_memory(&target)?;
    let step = Backup::new(&moment, &mut target).and_then(|backup| backup.step(-1)).map_err(failed(doing))?;
    if step != StepResult::Done {
        return Err(unproven(from));
    }
    target.close().map_err(|(_, error)| failed(doing)(error))?;
    drop(moment);
    check(part, schema, &rows)?;
    let kept = File::open(part).and_then(|file| file.sync_all().and_then(|()| file.metadata()));
    Ok(BackedUp { schema, rows, bytes: kept.map_err(in_out(doing))?.len() })
}

/// Fails unless a copy is whole and has these rows.
fn check(part: &Path, wanted: i64, rows_wanted: &[(String, u64)]) -> Result<(), StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(part, flags).map_err(failed("opening the copy"))?;
    file::keep_in_memory(&conn)?;
    let told = all(&conn, "PRAGMA integrity_check", (), |row| Ok(text(row, 0)?.to_owned()))?;
    let dangling = first(&conn, "PRAGMA foreign_key_check", (), |_| Ok(()))?.is_some();
    let is_same = schema::version(&conn, part)? == wanted && rows(&conn)? == rows_wanted;
    if told != ["ok"] || dangling || !is_same {
        return Err(unproven(part));
    }
    conn.close().map_err(|(_, error)| failed("closing the copy")(error))
}

/// Rows by table.
fn rows(conn: &Connection) -> Result<Vec<(String, u64)>, StoreError> {
    let sql =
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name";
    let tables: Vec<String> = all(conn, sql, (), |row| column(row, 0))?;
    let count = |table: String| {
        let sql = format!("SELECT count(*) FROM {table}");
        let rows = first(conn, &sql, (), |row| super::query::count(row, 0))?;
        Ok((table, rows.unwrap_or_default()))
    };
    tables.into_iter().map(count).collect()
}

fn beside(path: &Path, end: &str) -> PathBuf {
    let mut beside = path.as_os_str().to_owned();
    beside.push(end);
    PathBuf::from(beside)
}

fn unproven(path: &Path) -> StoreError {
    StoreError::Unproven { name: path.display().to_string() }
}

fn in_out(doing: &'static str) -> impl Fn(io::Error) -> StoreError {
    move |error| StoreError::Backend { doing, source: Arc::new(error) }
}
