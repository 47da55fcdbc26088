//! The writer's groups, failures and end.

use std::sync::mpsc;
use std::time::Duration;

use rusqlite::Connection;
use tempfile::TempDir;
use tokio::sync::oneshot;
use tokio::time::timeout;

use super::{WriteCounts, Writer};
use crate::error::StoreError;
use crate::sqlite::query::{change, failed};

type Work = Box<dyn FnOnce(&Connection) -> Result<(), StoreError> + Send>;

/// A file with a table whose references are looked at only when a transaction commits.
fn file() -> (TempDir, Connection) {
    let dir = tempfile::tempdir().unwrap();
    let conn = Connection::open(dir.path().join("test.sqlite")).unwrap();
    conn.execute_batch(
        "PRAGMA journal_mode = WAL; PRAGMA foreign_keys = ON;
         CREATE TABLE t (n INTEGER PRIMARY KEY, filler BLOB,
                         parent INTEGER REFERENCES t (n) DEFERRABLE INITIALLY DEFERRED);",
    )
    .unwrap();
    (dir, conn)
}

fn rows(dir: &TempDir) -> Vec<i64> {
    let conn = Connection::open(dir.path().join("test.sqlite")).unwrap();
    let mut statement = conn.prepare("SELECT n FROM t ORDER BY n").unwrap();
    statement.query_map((), |row| row.get(0)).unwrap().map(Result::unwrap).collect()
}

fn insert(n: i64) -> Work {
    Box::new(move |conn| change(conn, "INSERT INTO t (n) VALUES (?1)", [n]).map(drop))
}

fn insert_then_fail(n: i64) -> Work {
    Box::new(move |conn| {
        change(conn, "INSERT INTO t (n) VALUES (?1)", [n])?;
        Err(StoreError::Moved { expected: 0, actual: 0 })
    })
}

fn insert_orphan(n: i64) -> Work {
    Box::new(move |conn| change(conn, "INSERT INTO t (n, parent) VALUES (?1, 999)", [n]).map(drop))
}

fn insert_large(n: i64) -> Work {
    Box::new(move |conn| {
        change(conn, "INSERT INTO t (n, filler) VALUES (?1, zeroblob(1000000))", [n]).map(drop)
    })
}

fn end_the_transaction() -> Work {
    Box::new(|conn| conn.execute_batch("ROLLBACK").map_err(failed("ending the transaction")))
}

/// Has the works committed together: they queue while a first write holds the writer up.
async fn as_one_group(writer: &Writer, works: Vec<Work>) -> Vec<Result<(), StoreError>> {
    let (open, gate) = mpsc::channel::<()>();
    let (starts, started) = oneshot::channel();
    let mut first = Box::pin(writer.write(move |_| {
        starts.send(()).unwrap();
        gate.recv().unwrap();
        Ok(())
    }));
    drop(timeout(Duration::ZERO, first.as_mut()).await);
    started.await.unwrap();
    let mut calls: Vec<_> = works.into_iter().map(|work| Box::pin(writer.write(work))).collect();
    for call in &mut calls {
        assert!(timeout(Duration::ZERO, call.as_mut()).await.is_err(), "it waits for the commit");
    }
    open.send(()).unwrap();
    first.await.unwrap();
    let mut answers = Vec::new();
    for call in calls {
        answers.push(call.await);
    }
    answers
}

fn all_lost(answers: &[Result<(), StoreError>]) -> bool {
    answers.iter().all(|a| matches!(a, Err(StoreError::Backend { doing: "committing", .. })))
}

#[tokio::test]
async fn a_failed_write_leaves_its_group_alone() {
    let (dir, conn) = file();
    let writer = Writer::start(conn, 256, 16).unwrap();
    let answers = as_one_group(&writer, vec![insert(1), insert_then_fail(2), insert(1), insert(3)]).await;
    assert!(
        matches!(
            answers.as_slice(),
            [
                Ok(()),
                Err(StoreError::Moved { .. }),
                Err(StoreError::Backend { doing: "writing", .. }),
                Ok(())
            ]
        ),
        "{answers:?}"
    );
    assert_eq!(rows(&dir), [1, 3]);
    assert_eq!(writer.counts(), WriteCounts { transactions: 2, writes: 3 });
    writer.close().await.unwrap();
}

#[tokio::test]
async fn a_group_has_a_largest_size() {
    let (dir, conn) = file();
    let writer = Writer::start(conn, 4, 16).unwrap();
    let answers = as_one_group(&writer, (0..10).map(insert).collect()).await;
    assert!(answers.iter().all(Result::is_ok), "{answers:?}");
    assert_eq!(rows(&dir), (0..10).collect::<Vec<_>>());
    assert_eq!(writer.counts(), WriteCounts { transactions: 1 + 3, writes: 11 });
}

#[tokio::test]
async fn a_failed_commit_fails_its_group_and_stops_the_writer() {
    let (dir, conn) = file();
    let writer = Writer::start(conn, 256, 16).unwrap();
    let answers =
        as_one_group(&writer, vec![insert(1), insert_then_fail(2), insert_orphan(3), insert(4)]).await;
    assert!(all_lost(&answers), "{answers:?}");
    assert_eq!(rows(&dir), [0; 0]);
    assert_eq!(writer.counts(), WriteCounts { transactions: 1, writes: 1 });
    assert!(matches!(writer.write(insert(5)).await, Err(StoreError::Stopped)));
    assert!(matches!(writer.close().await, Err(StoreError::Backend { doing: "committing", .. })));
}

#[tokio::test]
async fn a_transaction_that_ends_early_fails_its_group() {
    let (dir, conn) = file();
    let writer = Writer::start(conn, 256, 16).unwrap();
    let answers = as_one_group(&writer, vec![insert(1), end_the_transaction(), insert(2)]).await;
    assert!(all_lost(&answers), "{answers:?}");
    assert_eq!(rows(&dir), [0; 0]);
    assert!(matches!(writer.write(insert(3)).await, Err(StoreError::Stopped)));
}

#[tokio::test]
async fn writes_waiting_when_the_writer_stops_are_refused() {
    let (dir, conn) = file();
    let writer = Writer::start(conn, 2, 16).unwrap();
    let answers = as_one_group(&writer, vec![insert(1), insert_orphan(2), insert(3), insert(4)]).await;
    let (lost, refused) = answers.split_at(2);
    assert!(all_lost(lost), "{answers:?}");
    assert!(refused.iter().all(|a| matches!(a, Err(StoreError::Stopped))), "{answers:?}");
    assert_eq!(rows(&dir), [0; 0]);
}

#[tokio::test]
async fn a_full_disk_fails_the_group_and_may_pass() {
    let (dir, conn) = file();
    conn.pragma_update(None, "max_page_count", 20).unwrap();
    let writer = Writer::start(conn, 256, 16).unwrap();
    let answers = as_one_group(&writer, vec![insert(1), insert_large(2), insert(3)]).await;
    assert!(answers.iter().all(|a| matches!(a, Err(StoreError::Full { .. }))), "{answers:?}");
    assert_eq!(rows(&dir), [0; 0]);
    writer.write(insert(4)).await.unwrap();
    assert_eq!(rows(&dir), [4]);
    writer.close().await.unwrap();
}

#[tokio::test]
async fn a_long_write_ahead_log_is_moved_into_the_file() {
    let (dir, conn) = file();
    conn.pragma_update(None, "wal_autocheckpoint", 0).unwrap();
    let writer = Writer::start(conn, 256, 16).unwrap();
    let size = || std::fs::metadata(dir.path().join("test.sqlite")).unwrap().len();
    for n in 0..30 {
        writer.write(insert_large(n)).await.unwrap();
    }
    assert!(size() < 1_000_000, "not yet, {} bytes", size());
    for n in 30..40 {
        writer.write(insert_large(n)).await.unwrap();
    }
    assert!(size() > 30_000_000, "{} bytes", size());
}

#[tokio::test]
async fn another_process_that_holds_the_file_is_waited_for() {
    let (dir, conn) = file();
    conn.busy_timeout(Duration::from_millis(30)).unwrap();
    let other = Connection::open(dir.path().join("test.sqlite")).unwrap();
    let writer = Writer::start(conn, 256, 16).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    assert!(all_lost(&[writer.write(insert(1)).await]), "held too long");
    other.execute_batch("ROLLBACK").unwrap();
    writer.write(insert(2)).await.unwrap();
    assert_eq!(rows(&dir), [2]);
}

#[tokio::test]
async fn a_full_queue_makes_callers_wait() {
    let (dir, conn) = file();
    let writer = Writer::start(conn, 256, 1).unwrap();
    let (open, gate) = mpsc::channel::<()>();
    let hold = writer.write(move |_| {
        gate.recv().unwrap();
        Ok(())
    });
    let rest = async {
        let mut calls: Vec<_> = (0..3).map(|n| Box::pin(writer.write(insert(n)))).collect();
        for call in &mut calls {
            assert!(timeout(Duration::from_millis(5), call.as_mut()).await.is_err(), "it waits");
        }
        open.send(()).unwrap();
        for call in calls {
            call.await.unwrap();
        }
    };
    tokio::join!(hold, rest).0.unwrap();
    assert_eq!(rows(&dir), [0, 1, 2]);
}
