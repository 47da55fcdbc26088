//! File: opening the log's file, for the writer and for readers.

use std::error::Error;
use std::fs::File;
use std::io::{self, ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

use rusqlite::config::DbConfig;
use rusqlite::{Connection, ErrorCode, OpenFlags};

use super::query::failed;
use super::{schema, sweep};
use crate::error::StoreError;
use crate::plain::Plain;

#[cfg(test)]
mod tests;

/// Oldest SQLite taken: 3.51.3 mends a rare corruption of write-ahead logs under concurrent checkpoints
/// (sqlite.org, release notes of 3.51.3, from memory).
const NEEDED: (i32, &str) = (3_051_003, "3.51.3");

/// How long to wait for another process that holds the file.
pub(super) const BUSY: Duration = Duration::from_secs(5);

/// Pages in the write-ahead log, 4 KiB each, from which the writer moves them into the file. SQLite's own 1000 come every few
/// commits under load: a page that many sets touch is then written again and again (`cargo bench -p nextrung-store`). The
/// price is a longer log to read back after a crash.
pub(super) const CHECKPOINT: i64 = 8000;

/// Statements kept ready by a connection; more than the store has.
const STATEMENTS: usize = 64;

fn check_library() -> Result<(), StoreError> {
    if rusqlite::version_number() < NEEDED.0 {
        return Err(StoreError::SqliteTooOld { found: rusqlite::version().to_owned(), needed: NEEDED.1 });
    }
    Ok(())
}

fn open(path: &Path, flags: OpenFlags) -> Result<Connection, StoreError> {
    let conn = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)
        .map_err(failed("opening the file"))?;
    conn.busy_timeout(BUSY).map_err(failed("opening the file"))?;
    // Without it a statement whose plan might depend on a value is planned anew for every value.
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true).map_err(failed("opening the file"))?;
    conn.set_prepared_statement_cache_capacity(STATEMENTS);
    keep_in_memory(&conn)?;
    Ok(conn)
}

/// What SQLite needs for a while stays in memory: statement journals and sorters want a folder for temporary files otherwise,
/// and where there is none a write fails.
pub(super) fn keep_in_memory(conn: &Connection) -> Result<(), StoreError> {
    conn.pragma_update(None, "temp_store", "MEMORY").map_err(failed("setting up the connection"))
}

/// Makes a file when there is none, for its owner alone: whoever else uses the machine has no business with what people train.
/// SQLite gives what it puts beside a file the same mode. Where this fails, opening the file says why.
pub(super) fn make(path: &Path) {
    let mut options = File::options();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    drop(options.open(path));
}

/// Opens the file for writing, creating or migrating it as needed. Nothing in the file changes before it is known to be
/// a log or empty.
pub(super) fn for_writing(path: &Path) -> Result<Connection, StoreError> {
    check_library()?;
    make(path);
    let conn = open(path, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE)?;
    schema::version(&conn, path)?;
    let set = || {
        // FULL syncs the write-ahead log at every commit; NORMAL would lose answered writes at a power cut.
        conn.pragma_update(None, "synchronous", "FULL")?;
        conn.pragma_update(None, "fullfsync", "ON")?;
        conn.pragma_update(None, "foreign_keys", "ON")?;
        // The writer does it, because SQLite keeps quiet about one that fails.
        conn.pragma_update(None, "wal_autocheckpoint", 0)?;
        conn.pragma_update(None, "secure_delete", "ON")?;
        conn.pragma_update(None, "journal_size_limit", 64 << 20)
    };
    set().map_err(failed("setting up the connection"))?;
    schema::migrate(&conn, path)?;
    keep_a_write_ahead_log(&conn)?;
    write_again(&conn, path)?;
    if let Err(error) = sweep::sweep(&conn) {
        let Plain { kind, doing, code } = error.plain();
        tracing::warn!(kind, doing, code, "what was erased may still have bytes in the file");
    }
    Ok(conn)
}

/// Writes the write-ahead log once more as it reads, and syncs it. After a sync that failed, the kernel shows as written what
/// is not on the disk, and no later sync writes it. The log is read up to its first bad frame: commits added behind such a
/// place would be answered, and lost at a power cut. SQLite itself writes nothing again that it can read.
fn write_again(conn: &Connection, path: &Path) -> Result<(), StoreError> {
    let doing = "writing the log's tail again";
    let mut name = path.as_os_str().to_owned();
    name.push("-wal");
    // While this has the right to write, nobody changes the log: another process may have the file open.
    conn.execute_batch("BEGIN IMMEDIATE").map_err(failed(doing))?;
    let written = match File::options().read(true).write(true).open(name) {
        Ok(mut file) => copy_onto_itself(&mut file).and_then(|()| file.sync_all()),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(()),
        Err(error) => Err(error),
    };
    let ended = conn.execute_batch("ROLLBACK").map_err(failed(doing));
    written.map_err(|source| StoreError::Backend { doing, source: Arc::new(source) })?;
    ended
}

fn copy_onto_itself(file: &mut File) -> io::Result<()> {
    let mut chunk = vec![0; 1 << 18];
    let mut place = 0;
    loop {
        let read = file.read(&mut chunk)?;
        if read == 0 {
            return Ok(());
        }
        file.seek(SeekFrom::Start(place))?;
        file.write_all(&chunk[..read])?;
        place = file.stream_position()?;
    }
}

/// Makes the file keep a write-ahead log. SQLite does not wait here for others that have the file open, so this does.
fn keep_a_write_ahead_log(conn: &Connection) -> Result<(), StoreError> {
    let doing = "switching to a write-ahead log";
    let deadline = Instant::now() + BUSY;
    let mode: String = loop {
        match conn.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0)) {
            Err(error)
                if error.sqlite_error_code() == Some(ErrorCode::DatabaseBusy)
                    && Instant::now() < deadline =>
            {
                thread::sleep(Duration::from_millis(5));
            }
            ended => break ended.map_err(failed(doing))?,
        }
    };
    if mode == "wal" {
        return Ok(());
    }
    let source: Box<dyn Error + Send + Sync> = format!("the journal mode stays `{mode}`").into();
    Err(StoreError::Backend { doing, source: Arc::from(source) })
}

/// Opens the file for reading; it must be there.
pub(super) fn for_reading(path: &Path) -> Result<Connection, StoreError> {
    open(path, OpenFlags::SQLITE_OPEN_READ_ONLY)
}
