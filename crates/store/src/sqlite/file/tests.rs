//! Opening a log's file, alone and among others.

use std::thread;
use std::time::Duration;

use rusqlite::StatementStatus;

use super::{for_reading, for_writing};

#[test]
fn a_commit_is_synced_and_references_are_checked() {
    let dir = tempfile::tempdir().unwrap();
    let conn = for_writing(&dir.path().join("log.sqlite")).unwrap();
    let setting = |name: &str| conn.pragma_query_value(None, name, |row| row.get::<_, i64>(0)).unwrap();
    assert_eq!(setting("synchronous"), 2, "2 is FULL");
    assert_eq!(setting("foreign_keys"), 1);
    assert_eq!(setting("temp_store"), 2, "2 is memory: there may be no folder for temporary files");
    let mode: String = conn.pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
    assert_eq!(mode, "wal");
}

#[test]
fn a_reader_cannot_write() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("log.sqlite");
    let _writer = for_writing(&path).unwrap();
    let reader = for_reading(&path).unwrap();
    let place = reader.pragma_query_value(None, "temp_store", |row| row.get::<_, i64>(0)).unwrap();
    assert_eq!(place, 2, "2 is memory");
    let error = reader.execute("DELETE FROM rosters", ()).unwrap_err();
    assert_eq!(error.sqlite_error_code(), Some(rusqlite::ErrorCode::ReadOnly));
}

#[test]
fn a_statement_is_planned_once_whatever_it_is_asked_for() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("log.sqlite");
    let writer = for_writing(&path).unwrap();
    for conn in [for_reading(&path).unwrap(), writer] {
        let mut statement = conn.prepare("SELECT entry FROM accesses WHERE roster = ?1 LIMIT ?2").unwrap();
        for (roster, most) in [("coach", 1), ("pier", 2), ("coach", 3)] {
            assert!(statement.query((roster, most)).unwrap().next().unwrap().is_none());
        }
        assert_eq!(statement.get_status(StatementStatus::RePrepare), 0);
    }
}

#[test]
fn every_statement_of_the_schema_is_strict() {
    let dir = tempfile::tempdir().unwrap();
    let conn = for_writing(&dir.path().join("log.sqlite")).unwrap();
    let sql = "SELECT count(*), sum(strict) FROM pragma_table_list WHERE schema = 'main' AND name NOT LIKE 'sqlite%'";
    let found: (i64, i64) = conn.query_row(sql, (), |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    assert_eq!(found, (9, 9));
}

#[test]
fn the_file_itself_keeps_a_set_from_being_recorded_twice() {
    let dir = tempfile::tempdir().unwrap();
    let conn = for_writing(&dir.path().join("log.sqlite")).unwrap();
    let insert = |sequence: i64, kind: &str| {
        let sql = "INSERT INTO events VALUES ('coach', 'wren', ?1, ?2, 'a', 0, '{}')";
        conn.execute(sql, (sequence, kind)).map_err(|error| error.sqlite_error_code())
    };
    conn.execute_batch(
        "INSERT INTO rosters VALUES ('coach', '', NULL, 0, 0);
         INSERT INTO athletes VALUES ('coach', 'wren', '{}', 0, 0, 1);",
    )
    .unwrap();
    let refused = Err(Some(rusqlite::ErrorCode::ConstraintViolation));
    assert_eq!(insert(1, "recorded"), Ok(1));
    assert_eq!(insert(2, "recorded"), refused);
    assert_eq!(insert(2, "corrected"), Ok(1));
    assert_eq!(insert(2, "corrected"), refused, "nor a sequence from being used twice");
    assert_eq!(insert(3, "other"), refused, "nor an unknown kind from being kept");
}

#[test]
fn switching_to_a_write_ahead_log_waits_for_others() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("log.sqlite");
    let other = for_writing(&path).unwrap();
    other.execute_batch("PRAGMA journal_mode = DELETE; BEGIN IMMEDIATE").unwrap();
    let opening = thread::spawn(move || for_writing(&path).map(drop));
    thread::sleep(Duration::from_millis(60));
    assert!(!opening.is_finished(), "the other is still writing");
    other.execute_batch("COMMIT").unwrap();
    opening.join().unwrap().unwrap();
}

/// Backups as well: they are made of the same parts.
#[cfg(unix)]
#[test]
fn what_is_made_is_for_its_owner_alone() {
    use std::os::unix::fs::PermissionsExt;
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("log.sqlite");
    let writer = for_writing(&path).unwrap();
    writer.execute_batch("INSERT INTO rosters VALUES ('coach', '', NULL, 0, 0)").unwrap();
    super::super::back_up(&path, &dir.path().join("backup.sqlite")).unwrap();
    let mut seen = 0;
    for entry in std::fs::read_dir(dir.path()).unwrap() {
        let entry = entry.unwrap();
        assert_eq!(entry.metadata().unwrap().permissions().mode() & 0o777, 0o600, "{:?}", entry.path());
        seen += 1;
    }
    assert_eq!(seen, 4, "the file, its log, the log's index and the backup");
}
