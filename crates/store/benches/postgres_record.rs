//! Record in PostgreSQL: what a write costs there, and what is left to gain by putting several into one commit.
//!
//! `cargo bench -p nextrung-store --bench postgres_record`, on the server that `TEST_POSTGRES` names or on one of its own, whose files
//! are in memory. Clients record one set at a time, each for an athlete of its own, through one store. Beside it, in turns, as many
//! connections insert one row and commit, which is the least that any write does. Run it on a disk and in memory, where a commit
//! waits for nothing: how much faster the latter is bounds what fewer commits could gain.

use std::error::Error;
use std::io::Write;
use std::sync::Arc;
use std::time::{Duration, Instant};

use nextrung_store::append::Append;
use nextrung_store::conformance::scene;
use nextrung_store::postgres::{PostgresAddress, PostgresOptions, PostgresStore, throwaway};
use nextrung_store::store::Store;
use tokio::task::JoinSet;
use tokio_postgres::NoTls;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

const CLIENTS: [usize; 2] = [16, 64];
const TURN: Duration = Duration::from_secs(3);
const TURNS: usize = 5;

#[tokio::main(flavor = "multi_thread", worker_threads = 2)]
async fn main() -> Outcome<()> {
    for clients in CLIENTS {
        let (mut recorded, mut floor) = (Vec::new(), Vec::new());
        for _ in 0..TURNS {
            recorded.push(recording(clients).await?);
            floor.push(inserting(clients).await?);
        }
        let (recorded, floor) = (median(recorded), median(floor));
        writeln!(
            std::io::stdout(),
            "{clients} clients: {recorded:.0} sets/s, floor {floor:.0} rows/s, {:.2} of it",
            recorded / floor
        )?;
    }
    Ok(())
}

fn median(mut rates: Vec<f64>) -> f64 {
    rates.sort_by(f64::total_cmp);
    rates.get(rates.len() / 2).copied().unwrap_or(f64::NAN)
}

/// How often a second something was done by all tasks together.
#[expect(clippy::cast_precision_loss, reason = "counts far below 2^53")]
async fn rate(mut tasks: JoinSet<Outcome<usize>>, start: Instant) -> Outcome<f64> {
    let mut count = 0;
    while let Some(ended) = tasks.join_next().await {
        count += ended??;
    }
    Ok(count as f64 / start.elapsed().as_secs_f64())
}

async fn recording(clients: usize) -> Outcome<f64> {
    let address = PostgresAddress::parse(&throwaway::schema().await?)?;
    let store = Arc::new(PostgresStore::open(&address, PostgresOptions { sessions: clients }).await?);
    store.create_roster(scene::roster("coach")?, None).await?;
    let mut athletes = Vec::new();
    for client in 0..clients {
        let athlete = scene::athlete("coach", &format!("a{client}"))?;
        athletes.push(store.create_athlete(athlete, None).await?.record.id);
    }
    let start = Instant::now();
    let mut tasks = JoinSet::new();
    for id in athletes {
        let store = Arc::clone(&store);
        tasks.spawn(async move {
            let mut count = 0;
            while start.elapsed() < TURN {
                let key = format!("s{count}");
                let request = Some(scene::request(&id, "record", &key, 1));
                store.append(Append { request, ..scene::append(&id, vec![scene::recorded(&key)?]) }).await?;
                count += 1;
            }
            Ok(count)
        });
    }
    let found = rate(tasks, start).await?;
    store.close().await?;
    Ok(found)
}

async fn inserting(clients: usize) -> Outcome<f64> {
    let address = throwaway::schema().await?;
    let (client, connection) = tokio_postgres::connect(&address, NoTls).await?;
    let running = tokio::spawn(connection);
    client
        .batch_execute("CREATE TABLE row (client bigint, number bigint, PRIMARY KEY (client, number))")
        .await?;
    drop(client);
    running.await??;
    let mut connected = Vec::new();
    for _ in 0..clients {
        let (client, connection) = tokio_postgres::connect(&address, NoTls).await?;
        tokio::spawn(connection);
        let insert = client.prepare("INSERT INTO row VALUES ($1, $2)").await?;
        connected.push((client, insert));
    }
    let start = Instant::now();
    let mut tasks = JoinSet::new();
    for (number, (client, insert)) in connected.into_iter().enumerate() {
        let number = i64::try_from(number)?;
        tasks.spawn(async move {
            let mut count = 0_usize;
            while start.elapsed() < TURN {
                client.execute(&insert, &[&number, &i64::try_from(count)?]).await?;
                count += 1;
            }
            Ok(count)
        });
    }
    rate(tasks, start).await
}
