//! Record: how fast sets are recorded and read, on the disk under the target directory.
//!
//! `cargo bench -p nextrung-store --bench record -- [recording] [reading]`. Recording: 16 clients with 4 appends of one
//! set each in flight, against the same with a commit for each append, and against one append at a time; in turns on the
//! same file system. Reading: the whole log of one athlete with 4,500 sets, warm.

use std::error::Error;
use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use nextrung_domain::event::EventBody;
use nextrung_domain::ids::AthleteRef;
use nextrung_store::append::Append;
use nextrung_store::conformance::scene;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use tokio::task::JoinSet;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

const CLIENTS: usize = 16;
const IN_FLIGHT: usize = 4;
const TURN: Duration = Duration::from_secs(2);
const TURNS: usize = 3;
const SETS: u32 = 4500;
const READS: usize = 200;

#[tokio::main(flavor = "multi_thread", worker_threads = 2)]
async fn main() -> Outcome<()> {
    let dir = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR"))?;
    let asked: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with('-')).collect();
    let is_wanted = |what: &str| asked.is_empty() || asked.iter().any(|word| word == what);
    if is_wanted("recording") {
        compare(dir.path()).await?;
    }
    if is_wanted("reading") {
        let mut times = reading(&dir.path().join("read.sqlite")).await?;
        times.sort_unstable();
        let at = |share: usize| times.get(READS * share / 100).copied().unwrap_or_default();
        let (fastest, median, most) = (at(0), at(50), at(90));
        say(&format!("reading {SETS} sets: fastest {fastest:?}, median {median:?}, 90 % within {most:?}"))?;
    }
    Ok(())
}

fn say(line: &str) -> Outcome<()> {
    Ok(writeln!(std::io::stdout(), "{line}")?)
}

/// Takes turns, so that a slow moment of the disk or the machine falls on every way of recording.
async fn compare(dir: &Path) -> Outcome<()> {
    let one = SqliteOptions { group: 1, ..SqliteOptions::default() };
    let all = CLIENTS * IN_FLIGHT;
    let ways =
        [("grouped", SqliteOptions::default(), all), ("a commit each", one, all), ("one at a time", one, 1)];
    let mut rates = ways.map(|_| Vec::new());
    for turn in 0..TURNS {
        for ((way, options, tasks), rates) in ways.iter().zip(&mut rates) {
            let rate = recording(&dir.join(format!("{way} {turn}.sqlite")), *options, *tasks).await?;
            let Rate { per_second, per_transaction } = rate;
            say(&format!("{way}: {per_second:.0} sets/s, {per_transaction:.1} to a commit"))?;
            rates.push(rate);
        }
    }
    let [grouped, each, single] = rates.map(median);
    say(&format!(
        "medians: grouped is {:.1} x a commit each, {:.1} x one at a time",
        grouped / each,
        grouped / single
    ))
}

struct Rate {
    per_second: f64,
    per_transaction: f64,
}

fn median(mut rates: Vec<Rate>) -> f64 {
    rates.sort_by(|a, b| a.per_second.total_cmp(&b.per_second));
    rates.get(rates.len() / 2).map_or(f64::NAN, |rate| rate.per_second)
}

#[expect(clippy::cast_precision_loss, reason = "counts far below 2^53")]
async fn recording(path: &Path, options: SqliteOptions, tasks: usize) -> Outcome<Rate> {
    let store = Arc::new(SqliteStore::open(path, options).await?);
    store.create_roster(scene::roster("coach")?, None).await?;
    let mut running = JoinSet::new();
    let before = store.counts();
    let start = Instant::now();
    for task in 0..tasks {
        let store = Arc::clone(&store);
        running.spawn(async move { client(&store, task, start + TURN).await });
    }
    while let Some(ended) = running.join_next().await {
        ended??;
    }
    let seconds = start.elapsed().as_secs_f64();
    let after = store.counts();
    store.close().await?;
    let writes = (after.writes - before.writes) as f64;
    let transactions = (after.transactions - before.transactions) as f64;
    Ok(Rate { per_second: writes / seconds, per_transaction: writes / transactions })
}

/// One call in flight of one client; four of them share an athlete.
async fn client(store: &SqliteStore, task: usize, end: Instant) -> Outcome<()> {
    let athlete = scene::athlete("coach", &format!("a{}", task / IN_FLIGHT))?;
    let id = athlete.id.clone();
    if task.is_multiple_of(IN_FLIGHT) {
        store.create_athlete(athlete, None).await?;
    }
    while store.athlete(&id).await.is_err() {
        tokio::task::yield_now().await;
    }
    for n in 0_u32.. {
        let key = format!("{task}.{n}");
        let request = Some(scene::request(&id, "record", &key, 1));
        store.append(Append { request, ..scene::append(&id, vec![scene::recorded(&key)?]) }).await?;
        if Instant::now() >= end {
            break;
        }
    }
    Ok(())
}

async fn reading(path: &Path) -> Outcome<Vec<Duration>> {
    let store = SqliteStore::open(path, SqliteOptions::default()).await?;
    store.create_roster(scene::roster("coach")?, None).await?;
    let id = store.create_athlete(scene::athlete("coach", "wren")?, None).await?.record.id;
    for start in (0..SETS).step_by(30) {
        let sets = (start..start + 30).map(typical).collect::<Outcome<Vec<_>>>()?;
        store.append(scene::append(&id, sets)).await?;
    }
    let mut times = Vec::new();
    for _ in 0..READS {
        times.push(read(&store, &id).await?);
    }
    store.close().await?;
    Ok(times)
}

async fn read(store: &SqliteStore, id: &AthleteRef) -> Outcome<Duration> {
    let start = Instant::now();
    let found = store.events(id, 1, None, u32::MAX).await?;
    let took = start.elapsed();
    if found.len() != usize::try_from(SETS)? {
        return Err(format!("read {} sets", found.len()).into());
    }
    Ok(took)
}

/// Every third set has all fields.
fn typical(n: u32) -> Outcome<EventBody> {
    let key = format!("2026-03-14:{n}");
    let set = if n.is_multiple_of(3) { scene::full_set(&key, "felt steady")? } else { scene::set(&key)? };
    Ok(EventBody::Recorded { set })
}
