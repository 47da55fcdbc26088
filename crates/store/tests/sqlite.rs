//! The SQLite backend: the store's promises, and those of its file.

use std::error::Error;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use nextrung_domain::ids::AthleteRef;
use nextrung_store::conformance::{self, scene};
use nextrung_store::error::StoreError;
use nextrung_store::page::Page;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use rusqlite::Connection;
use tempfile::TempDir;
use tokio::task::JoinSet;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

async fn at(path: &Path) -> Result<Arc<SqliteStore>, StoreError> {
    Ok(Arc::new(SqliteStore::open(path, SqliteOptions::default()).await?))
}

async fn open() -> Outcome<(Arc<SqliteStore>, TempDir)> {
    let dir = tempfile::tempdir()?;
    Ok((at(&dir.path().join("log.sqlite")).await?, dir))
}

/// Appends one set for each number.
async fn append(store: &SqliteStore, id: &AthleteRef, numbers: impl Iterator<Item = u32>) -> Outcome<()> {
    for n in numbers {
        store.append(scene::append(id, vec![scene::recorded(&format!("s{n}"))?])).await?;
    }
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_promise_is_kept() -> Outcome<()> {
    let broken = conformance::broken(open).await?;
    assert!(broken.is_empty(), "{broken:#?}");
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_promise_is_kept_with_one_reader_and_one_write_to_a_commit() -> Outcome<()> {
    let open = async || {
        let dir = tempfile::tempdir()?;
        let options = SqliteOptions { readers: 1, group: 1, queue: 64 };
        let store = SqliteStore::open(dir.path().join("log.sqlite"), options).await?;
        Ok::<_, Box<dyn Error + Send + Sync>>((Arc::new(store), dir))
    };
    let broken = conformance::broken(open).await?;
    assert!(broken.is_empty(), "{broken:#?}");
    Ok(())
}

#[tokio::test]
async fn a_log_opened_again_is_the_same() -> Outcome<()> {
    let (store, dir) = open().await?;
    let id = scene::wren(&store).await?;
    append(&store, &id, 0..50).await?;
    let issued = scene::prescription(&id, "p", "2026-03-14", 0)?;
    let key = scene::request(&id, "prescribe", "r", 1);
    store.save_prescription(issued, Some(key.clone())).await?;
    let everything = async |store: &SqliteStore| {
        Ok::<_, StoreError>((
            store.rosters(&Page::first(9), None).await?,
            store.athlete(&id).await?,
            store.events(&id, 0, None, 100).await?,
            store.requested(&key).await?,
        ))
    };
    let before = everything(&store).await?;
    assert_eq!(before.2.len(), 51);
    drop(store);
    let path = dir.path().join("log.sqlite");
    let again = at(&path).await?;
    assert_eq!(everything(&again).await?, before, "after a drop");
    again.close().await?;
    assert_eq!(everything(&*at(&path).await?).await?, before, "after a close");
    Ok(())
}

#[tokio::test]
async fn closing_leaves_everything_in_the_file_itself() -> Outcome<()> {
    let (store, dir) = open().await?;
    let id = scene::wren(&store).await?;
    append(&store, &id, 0..20).await?;
    let seen = store.athlete(&id).await?;
    // The reader stays open, so that SQLite does not tidy up by itself.
    store.close().await?;
    let copy = dir.path().join("copy.sqlite");
    std::fs::copy(dir.path().join("log.sqlite"), &copy)?;
    assert_eq!(at(&copy).await?.athlete(&id).await?, seen);
    Ok(())
}

/// Another process that reads for long, such as a backup, does not keep a server from ending.
#[tokio::test]
async fn closing_does_not_wait_for_other_readers() -> Outcome<()> {
    let (store, dir) = open().await?;
    let id = scene::wren(&store).await?;
    let mut other = Connection::open(dir.path().join("log.sqlite"))?;
    let reading = other.transaction()?;
    let count =
        |conn: &Connection| conn.query_row("SELECT count(*) FROM events", (), |row| row.get::<_, u32>(0));
    assert_eq!(count(&reading)?, 1);
    append(&store, &id, 0..20).await?;
    let start = Instant::now();
    store.close().await?;
    assert!(start.elapsed() < Duration::from_secs(4), "it took {:?}", start.elapsed());
    assert_eq!(count(&reading)?, 1, "a read sees one moment");
    drop(reading);
    assert_eq!(count(&other)?, 21, "nothing is lost");
    Ok(())
}

/// What a crash leaves of the write-ahead log may end anywhere.
#[tokio::test]
async fn a_torn_write_ahead_log_gives_a_whole_beginning() -> Outcome<()> {
    let (store, dir) = open().await?;
    let id = scene::wren(&store).await?;
    append(&store, &id, 0..30).await?;
    let tail = std::fs::read(dir.path().join("log.sqlite-wal"))?;
    let mut most = 0;
    for part in 1..=12 {
        let torn = tempfile::tempdir()?;
        let path = torn.path().join("log.sqlite");
        std::fs::copy(dir.path().join("log.sqlite"), &path)?;
        let kept = tail.get(..tail.len() * part / 12).ok_or("a part of the tail")?;
        std::fs::write(torn.path().join("log.sqlite-wal"), kept)?;
        let store = at(&path).await?;
        let last = match store.athlete(&id).await {
            Ok(record) => record.last_sequence,
            Err(StoreError::NotFound { .. }) => continue,
            Err(other) => return Err(other.into()),
        };
        let found: Vec<u64> = store.events(&id, 0, None, 100).await?.iter().map(|e| e.sequence).collect();
        assert_eq!(found, (1..=last).collect::<Vec<_>>(), "part {part}");
        assert!(last >= most, "more of the tail never gives less");
        most = last;
    }
    assert_eq!(most, 31, "the whole tail gives everything");
    Ok(())
}

#[tokio::test]
async fn a_newer_schema_is_refused() -> Outcome<()> {
    let (store, dir) = open().await?;
    store.close().await?;
    drop(store);
    let path = dir.path().join("log.sqlite");
    Connection::open(&path)?.pragma_update(None, "user_version", 7)?;
    let refused = at(&path).await.err();
    assert!(matches!(refused, Some(StoreError::UnknownSchema { found: 7, known: 3 })), "{refused:?}");
    Ok(())
}

#[tokio::test]
async fn a_file_of_something_else_is_refused_and_left_alone() -> Outcome<()> {
    let dir = tempfile::tempdir()?;
    let text = dir.path().join("notes.txt");
    std::fs::write(&text, "not a database, but long enough to be taken for one ".repeat(40))?;
    let tables = dir.path().join("tables.sqlite");
    Connection::open(&tables)?.execute_batch("CREATE TABLE other (n)")?;
    let marked = dir.path().join("marked.sqlite");
    Connection::open(&marked)?.execute_batch("PRAGMA application_id = 77; PRAGMA user_version = 1")?;
    for path in [text, tables, marked] {
        let before = std::fs::read(&path)?;
        let refused = at(&path).await.err();
        let is_named = matches!(&refused, Some(StoreError::Foreign { path: named, .. }) if *named == path);
        assert!(is_named, "{refused:?}");
        assert_eq!(std::fs::read(&path)?, before, "{} is left alone", path.display());
    }
    let nowhere = at(&dir.path().join("missing/log.sqlite")).await.err();
    assert!(matches!(nowhere, Some(StoreError::Backend { doing: "opening the file", .. })), "{nowhere:?}");
    Ok(())
}

#[tokio::test]
async fn an_empty_file_becomes_a_log() -> Outcome<()> {
    let dir = tempfile::tempdir()?;
    let path = dir.path().join("log.sqlite");
    std::fs::write(&path, "")?;
    scene::wren(&at(&path).await?).await?;
    Ok(())
}

#[tokio::test]
async fn a_body_that_cannot_be_read_is_named() -> Outcome<()> {
    let (store, dir) = open().await?;
    let id = scene::wren(&store).await?;
    append(&store, &id, 0..3).await?;
    let raw = Connection::open(dir.path().join("log.sqlite"))?;
    raw.execute("UPDATE events SET body = '{' WHERE sequence = 3", ())?;
    let found = store.events(&id, 0, None, 10).await;
    let is_named = matches!(&found, Err(StoreError::Corrupt { what, .. }) if what == "event 3 of rosters/coach/athletes/wren");
    assert!(is_named, "{found:?}");
    assert_eq!(store.events(&id, 0, Some(2), 10).await?.len(), 2, "the rest can be read");
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn writes_at_the_same_time_share_commits() -> Outcome<()> {
    let (store, _dir) = open().await?;
    let id = scene::wren(&store).await?;
    let before = store.counts();
    let mut tasks = JoinSet::new();
    for task in 0..64 {
        let (store, id) = (Arc::clone(&store), id.clone());
        tasks.spawn(async move { append(&store, &id, task * 8..task * 8 + 8).await });
    }
    while let Some(ended) = tasks.join_next().await {
        ended??;
    }
    let after = store.counts();
    let (writes, transactions) = (after.writes - before.writes, after.transactions - before.transactions);
    assert_eq!(writes, 512);
    assert!(transactions * 4 <= writes, "{transactions} transactions for {writes} writes");
    Ok(())
}

/// As two processes would, and several times, because they must meet.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_new_file_can_be_opened_by_several_at_once() -> Outcome<()> {
    let dir = tempfile::tempdir()?;
    for round in 0..8 {
        let path = dir.path().join(format!("log-{round}.sqlite"));
        let mut opening = JoinSet::new();
        for _ in 0..4 {
            let path = path.clone();
            opening.spawn(async move { at(&path).await });
        }
        while let Some(opened) = opening.join_next().await {
            opened??;
        }
    }
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn several_may_write_to_one_file() -> Outcome<()> {
    let (first, dir) = open().await?;
    let second = at(&dir.path().join("log.sqlite")).await?;
    let id = scene::wren(&first).await?;
    let mut tasks = JoinSet::new();
    for (n, store) in (0..).zip([&first, &second, &first, &second]) {
        let (store, id) = (Arc::clone(store), id.clone());
        tasks.spawn(async move { append(&store, &id, n * 10..n * 10 + 10).await });
    }
    while let Some(ended) = tasks.join_next().await {
        ended??;
    }
    for store in [first, second] {
        let found: Vec<u64> = store.events(&id, 0, None, 100).await?.iter().map(|e| e.sequence).collect();
        assert_eq!(found, (1..=41).collect::<Vec<_>>());
    }
    Ok(())
}
