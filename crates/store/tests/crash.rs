//! What the log keeps when its process is killed, or its disk fails.
//!
//! The writing happens in a second process: this test binary again, told by an environment variable which file to write.

#![cfg(unix)]

use std::error::Error;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;

use nextrung_domain::ids::AthleteRef;
use nextrung_store::conformance::scene;
use nextrung_store::error::StoreError;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use tokio::task::JoinSet;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

const FILE: &str = "NEXTRUNG_STORE_CRASH_FILE";

async fn open(path: &Path) -> Outcome<(Arc<SqliteStore>, AthleteRef)> {
    let store = Arc::new(SqliteStore::open(path, SqliteOptions::default()).await?);
    let id = scene::athlete("coach", "wren")?.id;
    if store.athlete(&id).await.is_err() {
        scene::wren(&store).await?;
    }
    Ok((store, id))
}

/// This test again in a process of its own, started by `launcher`.
fn second_process(mut launcher: Command, test: &str, path: &Path) -> Outcome<Child> {
    let child =
        launcher.args([test, "--exact", "--nocapture"]).env(FILE, path).stdout(Stdio::piped()).spawn()?;
    Ok(child)
}

/// The number that a line reports, after whatever the test harness printed on it.
fn reported(line: &str) -> Option<u64> {
    line.rsplit_once("kept ").and_then(|(_, number)| number.parse().ok())
}

fn report(sequence: u64) -> Outcome<()> {
    // One write, so that a kill leaves no half line that reads as another number.
    Ok(std::io::stdout().write_all(format!("kept {sequence}\n").as_bytes())?)
}

async fn sequences(path: &Path) -> Outcome<Vec<u64>> {
    let (store, id) = open(path).await?;
    let found = store.events(&id, 0, None, u32::MAX).await?.iter().map(|e| e.sequence).collect();
    store.close().await?;
    Ok(found)
}

/// Appends from eight tasks, each telling what was answered, until killed.
async fn write_for_ever(path: &Path) -> Outcome<()> {
    let (store, id) = open(path).await?;
    let start = store.athlete(&id).await?.last_sequence;
    let mut tasks = JoinSet::new();
    for task in 0..8 {
        let (store, id) = (Arc::clone(&store), id.clone());
        tasks.spawn(async move {
            for n in 0.. {
                let set = scene::recorded(&format!("{start}.{task}.{n}"))?;
                report(store.append(scene::append(&id, vec![set])).await?.last_sequence)?;
            }
            Outcome::Ok(())
        });
    }
    tasks.join_next().await.ok_or("a task")??
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_was_answered_survives_a_kill() -> Outcome<()> {
    if let Some(path) = std::env::var_os(FILE) {
        return write_for_ever(Path::new(&path)).await;
    }
    let dir = tempfile::tempdir()?;
    let path = dir.path().join("log.sqlite");
    let mut most = 0;
    for answers in [20, 75, 150] {
        let this = Command::new(std::env::current_exe()?);
        let mut child = second_process(this, "what_was_answered_survives_a_kill", &path)?;
        let lines = BufReader::new(child.stdout.take().ok_or("its output")?).lines();
        let mut kept = Vec::new();
        for line in lines {
            kept.extend(reported(&line?));
            if kept.len() == answers {
                child.kill()?;
            }
        }
        child.wait()?;
        assert!(kept.len() >= answers, "it was killed at work, after {} answers", kept.len());
        let found = sequences(&path).await?;
        let last = found.len() as u64;
        assert_eq!(found, (1..=last).collect::<Vec<_>>(), "no gaps");
        most = most.max(kept.into_iter().max().unwrap_or_default());
        assert!(last >= most, "{most} was answered, {last} are there");
    }
    Ok(())
}

/// Appends until the disk fails, then sees that nothing more is taken and that reading goes on.
async fn write_until_refused(path: &Path) -> Outcome<()> {
    let (store, id) = open(path).await?;
    let mut answered = store.athlete(&id).await?.last_sequence;
    let error = loop {
        let set = scene::recorded(&format!("s{answered}"))?;
        match store.append(scene::append(&id, vec![set])).await {
            Ok(done) => answered = done.last_sequence,
            Err(error) => break error,
        }
        report(answered)?;
    };
    assert!(matches!(error, StoreError::Backend { doing: "committing", .. }), "{error:?}");
    for turn in 0..3 {
        let again = store.append(scene::append(&id, vec![scene::recorded("again")?])).await;
        assert!(matches!(again, Err(StoreError::Stopped)), "turn {turn}: {again:?}");
    }
    assert_eq!(store.athlete(&id).await?.last_sequence, answered, "reading goes on");
    assert!(store.close().await.is_err(), "closing tells of it");
    Ok(())
}

/// The disk fails by a limit on the size of files, which makes the kernel refuse to write.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn after_a_failed_disk_nothing_is_tried_again() -> Outcome<()> {
    if let Some(path) = std::env::var_os(FILE) {
        return write_until_refused(Path::new(&path)).await;
    }
    let dir = tempfile::tempdir()?;
    let path = dir.path().join("log.sqlite");
    let mut limited = Command::new("sh");
    limited.args(["-c", "trap '' XFSZ; ulimit -f 400; exec \"$0\" \"$@\""]).arg(std::env::current_exe()?);
    let child = second_process(limited, "after_a_failed_disk_nothing_is_tried_again", &path)?;
    let output = child.wait_with_output()?;
    let text = String::from_utf8(output.stdout)?;
    assert!(output.status.success(), "{text}");
    let most = text.lines().filter_map(reported).max().ok_or("an answer before the disk failed")?;
    let found = sequences(&path).await?;
    assert!(found.len() as u64 >= most, "{most} was answered, {} are there", found.len());
    assert_eq!(found, (1..=found.len() as u64).collect::<Vec<_>>(), "no gaps");
    Ok(())
}
