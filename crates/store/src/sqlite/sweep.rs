//! Sweep: what was erased leaves no byte in the file or in the write-ahead log.
//!
//! Deleted rows are overwritten as they go (`secure_delete`), but SQLite copies rows between pages when a tree is balanced
//! and leaves the old places as they were. So the file is written anew from what is still kept, which also makes it end
//! where that ends, and the write-ahead log is emptied. What the disk itself remembers is out of reach.

use std::error::Error;
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

use rusqlite::Connection;

use super::file::{BUSY, keep_in_memory};
use super::query::{change, column, failed, first};
use crate::error::StoreError;

/// Largest file that is written anew in memory, bytes; a larger one needs room among the temporary files.
const IN_MEMORY: i64 = 256 << 20;

/// Sweeps the file when something was erased since it was swept last. The connection is in no transaction. Fails with
/// [`StoreError::Unswept`], when another program keeps reading what the file was, among others.
pub(super) fn sweep(conn: &Connection) -> Result<(), StoreError> {
    run(conn).map_err(|error| {
        if let StoreError::Backend { doing, source } = error {
            StoreError::Unswept { doing, source }
        } else {
            error
        }
    })
}

fn run(conn: &Connection) -> Result<(), StoreError> {
    if first(conn, "SELECT 1 FROM erasures WHERE is_swept = 0", (), |_| Ok(()))?.is_none() {
        return Ok(());
    }
    write_anew(conn, IN_MEMORY)?;
    empty_the_log(conn)?;
    change(conn, "UPDATE erasures SET is_swept = 1 WHERE is_swept = 0", ()).map(drop)
}

/// Writes the file anew, in memory when it is not larger than `most` bytes. Only this may want a folder for temporary files.
fn write_anew(conn: &Connection, most: i64) -> Result<(), StoreError> {
    let sql = "SELECT page_count * page_size FROM pragma_page_count, pragma_page_size";
    let size: i64 = first(conn, sql, (), |row| column(row, 0))?.unwrap_or(i64::MAX);
    let rewrite = || {
        if size > most {
            conn.pragma_update(None, "temp_store", "FILE")?;
        }
        conn.execute_batch("VACUUM")
    };
    let written = rewrite().map_err(failed("writing the file anew"));
    keep_in_memory(conn)?;
    written
}

/// Moves the write-ahead log into the file and cuts it off, once nobody reads from it any more.
fn empty_the_log(conn: &Connection) -> Result<(), StoreError> {
    let deadline = Instant::now() + BUSY;
    loop {
        // It does not wait by itself: holding the right to write, it would wait for one who waits for that right.
        let run = || {
            conn.busy_timeout(Duration::ZERO)?;
            let left = conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", (), |row| row.get::<_, i64>(0));
            conn.busy_timeout(BUSY)?;
            left
        };
        if run().map_err(failed("emptying the write-ahead log"))? == 0 {
            return Ok(());
        }
        if Instant::now() > deadline {
            let source: Box<dyn Error + Send + Sync> = "another program reads the file".into();
            return Err(StoreError::Unswept {
                doing: "emptying the write-ahead log",
                source: Arc::from(source),
            });
        }
        thread::sleep(Duration::from_millis(20));
    }
}

#[cfg(test)]
mod tests {
    use super::super::file::for_writing;
    use super::*;

    #[test]
    fn nothing_else_wants_temporary_files_after_a_large_file_was_written_anew() {
        let dir = tempfile::tempdir().unwrap();
        let conn = for_writing(&dir.path().join("log.sqlite")).unwrap();
        let place = || conn.query_row("PRAGMA temp_store", (), |row| row.get::<_, i64>(0)).unwrap();
        conn.execute_batch("PRAGMA temp_store = FILE").unwrap();
        assert_eq!(place(), 1);
        write_anew(&conn, 0).unwrap();
        assert_eq!(place(), 2, "in memory");
    }
}
