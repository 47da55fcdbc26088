//! Erasures in a file: not a byte is left, and a program that reads the file meanwhile is waited for and then told of.

use std::error::Error;
use std::path::Path;
use std::sync::Arc;

use nextrung_domain::event::EventBody;
use nextrung_domain::ids::AthleteRef;
use nextrung_store::conformance::scene;
use nextrung_store::erasure::Erasure;
use nextrung_store::error::StoreError;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use rusqlite::Connection;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

const WORD: &str = "quillbarmoss";

fn has_word(folder: &Path) -> Outcome<bool> {
    let mut found = false;
    for entry in std::fs::read_dir(folder)? {
        let bytes = std::fs::read(entry?.path())?;
        found |= bytes.windows(WORD.len()).any(|window| window == WORD.as_bytes());
    }
    Ok(found)
}

/// Athletes whose sets were written by turns, the middle one's with the word in their notes; all about the size of a page.
async fn fill(store: &Arc<SqliteStore>) -> Outcome<AthleteRef> {
    store.create_roster(scene::roster("hall")?, None).await?;
    let mut athletes = Vec::new();
    for name in ["a", "b", "c", "d", "e"] {
        athletes.push(store.create_athlete(scene::athlete("hall", name)?, None).await?.record.id);
    }
    for number in 0..400_usize {
        for (at, athlete) in athletes.iter().enumerate() {
            let word = if at == 2 { WORD } else { "easy" };
            let note = word.repeat(1 + (number * 7 + at * 3) % 60);
            let set = scene::full_set(&format!("s{number}"), &note)?;
            store.append(scene::append(athlete, vec![EventBody::Recorded { set }])).await?;
        }
    }
    athletes.into_iter().nth(2).ok_or_else(|| "the third".into())
}

#[tokio::test]
async fn pages_that_were_balanced_keep_nothing() -> Outcome<()> {
    let folder = tempfile::tempdir()?;
    let store = SqliteStore::open(folder.path().join("log.sqlite"), SqliteOptions::default()).await?;
    let store = Arc::new(store);
    let whom = fill(&store).await?;
    assert!(has_word(folder.path())?, "the search finds what is there");
    store.erase_athlete(Erasure { athlete: whom, erased_at_ms: scene::NOW }, None).await?;
    assert!(!has_word(folder.path())?, "while it is open");
    store.close().await?;
    assert!(!has_word(folder.path())?, "and after");
    Ok(())
}

#[tokio::test]
async fn a_program_that_reads_the_old_file_is_told_of_and_the_next_try_sweeps() -> Outcome<()> {
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("log.sqlite");
    let store = Arc::new(SqliteStore::open(&file, SqliteOptions::default()).await?);
    let whom = fill(&store).await?;
    let reader = Connection::open(&file)?;
    reader.execute_batch("BEGIN")?;
    let seen: i64 = reader.query_row("SELECT count(*) FROM events", (), |row| row.get(0))?;
    let asked = Some(scene::request(&whom, "erase", "once", 1));
    let erasure = Erasure { athlete: whom.clone(), erased_at_ms: scene::NOW };
    let refused = store.erase_athlete(erasure.clone(), asked.clone()).await;
    assert!(matches!(refused, Err(StoreError::Unswept { .. })), "{refused:?}");
    let gone = store.athlete(&whom).await;
    assert!(matches!(gone, Err(StoreError::NotFound { .. })), "erased all the same: {gone:?}");
    assert!(has_word(folder.path())?, "what the reader reads is there");
    let still: i64 = reader.query_row("SELECT count(*) FROM events", (), |row| row.get(0))?;
    assert_eq!(seen, still);
    drop(reader);
    let again = store.erase_athlete(erasure, asked).await?;
    assert!(again.was_replay);
    assert!(!again.record.was_before);
    assert!(!has_word(folder.path())?);
    Ok(())
}

/// A service that ended between the erasure and the sweep, as by a power cut.
#[tokio::test]
async fn what_was_not_swept_is_swept_when_the_file_is_opened() -> Outcome<()> {
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("log.sqlite");
    let store = Arc::new(SqliteStore::open(&file, SqliteOptions::default()).await?);
    let whom = fill(&store).await?;
    let reader = Connection::open(&file)?;
    reader.execute_batch("BEGIN; SELECT count(*) FROM events")?;
    let refused = store.erase_athlete(Erasure { athlete: whom, erased_at_ms: scene::NOW }, None).await;
    assert!(matches!(refused, Err(StoreError::Unswept { .. })), "{refused:?}");
    drop(reader);
    store.close().await?;
    let store = SqliteStore::open(&file, SqliteOptions::default()).await?;
    assert!(!has_word(folder.path())?);
    store.close().await?;
    Ok(())
}
