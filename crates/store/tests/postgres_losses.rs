//! What the log does when connections to PostgreSQL are lost, above all in the middle of a commit.
//!
//! Between store and server stands a relay that is told what to do to the next commit that passes it.

#![cfg(unix)]

use std::error::Error;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use nextrung_domain::ids::AthleteRef;
use nextrung_store::append::Append;
use nextrung_store::conformance::scene;
use nextrung_store::error::StoreError;
use nextrung_store::postgres::{PostgresAddress, PostgresOptions, PostgresStore, throwaway};
use nextrung_store::store::Store;
use tempfile::TempDir;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{UnixListener, UnixStream};

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

/// The name of a server's socket in its folder.
const SOCKET: &str = ".s.PGSQL.5432";

/// What happens to the next commit, or to every connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fault {
    /// Nothing.
    Nothing,
    /// The connection is lost before the server hears of the commit.
    BeforeCommit,
    /// The connection is lost before the answer to the commit comes back.
    AfterCommit,
    /// The connection is lost, and the commit reaches the server only a while later.
    LateCommit,
    /// The connection is lost at the next thing asked.
    Once,
    /// Nobody gets through.
    Away,
}

/// Stands between store and server.
struct Relay {
    fault: Arc<Mutex<Fault>>,
    folder: TempDir,
}

impl Relay {
    fn to(server: PathBuf) -> Outcome<Self> {
        let folder = tempfile::tempdir_in("/tmp")?;
        let fault = Arc::new(Mutex::new(Fault::Nothing));
        let listener = UnixListener::bind(folder.path().join(SOCKET))?;
        let told = Arc::clone(&fault);
        tokio::spawn(async move {
            while let Ok((client, _)) = listener.accept().await {
                if *told.lock().unwrap_or_else(PoisonError::into_inner) != Fault::Away {
                    tokio::spawn(pass(client, server.clone(), Arc::clone(&told)));
                }
            }
        });
        Ok(Self { fault, folder })
    }

    fn set(&self, fault: Fault) {
        *self.fault.lock().unwrap_or_else(PoisonError::into_inner) = fault;
    }

    /// True once the fault has happened.
    fn is_over(&self) -> bool {
        *self.fault.lock().unwrap_or_else(PoisonError::into_inner) == Fault::Nothing
    }
}

/// Passes everything on, until a fault says otherwise.
async fn pass(mut client: UnixStream, server: PathBuf, fault: Arc<Mutex<Fault>>) -> std::io::Result<()> {
    let mut server = UnixStream::connect(server.join(SOCKET)).await?;
    let (mut asked, mut told) = (vec![0; 1 << 16], vec![0; 1 << 16]);
    loop {
        tokio::select! {
            read = client.read(&mut asked) => {
                let Some(bytes) = asked.get(..read?).filter(|bytes| !bytes.is_empty()) else { return Ok(()) };
                let is_commit = bytes.windows(7).any(|part| part == b"COMMIT\0");
                match if is_commit || now(&fault) == Fault::Once { take(&fault) } else { now(&fault) } {
                    Fault::BeforeCommit if is_commit => return Ok(()),
                    Fault::AfterCommit if is_commit => {
                        server.write_all(bytes).await?;
                        // Its answer, which nobody hears.
                        return server.read(&mut told).await.map(drop);
                    }
                    Fault::LateCommit if is_commit => {
                        drop(client);
                        tokio::time::sleep(Duration::from_millis(400)).await;
                        server.write_all(bytes).await?;
                        // Its answer, which nobody hears.
                        return server.read(&mut told).await.map(drop);
                    }
                    Fault::Once | Fault::Away => return Ok(()),
                    Fault::Nothing | Fault::BeforeCommit | Fault::AfterCommit | Fault::LateCommit => server.write_all(bytes).await?,
                }
            }
            read = server.read(&mut told) => {
                let Some(bytes) = told.get(..read?).filter(|bytes| !bytes.is_empty()) else { return Ok(()) };
                client.write_all(bytes).await?;
            }
        }
    }
}

fn now(fault: &Mutex<Fault>) -> Fault {
    *fault.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The fault of a commit happens once.
fn take(fault: &Mutex<Fault>) -> Fault {
    let mut fault = fault.lock().unwrap_or_else(PoisonError::into_inner);
    let now = *fault;
    if now != Fault::Away {
        *fault = Fault::Nothing;
    }
    now
}

/// A store behind a relay, another one beside it, and an athlete.
async fn scene() -> Outcome<(Relay, Arc<PostgresStore>, Arc<PostgresStore>, AthleteRef)> {
    let direct = throwaway::schema().await?;
    let direct = format!("{direct}&application_name={}", schema_of(&direct)?);
    let (start, rest) = direct.split_once('@').ok_or("a user")?;
    let (host, rest) = rest.split_once('/').ok_or("a database")?;
    let relay = Relay::to(Path::new(&host.replace("%2F", "/")).to_owned())?;
    let folder = relay.folder.path().display().to_string().replace('/', "%2F");
    let open = async |address: &str| {
        let store =
            PostgresStore::open(&PostgresAddress::parse(address)?, PostgresOptions { sessions: 4 }).await?;
        Ok::<_, Box<dyn Error + Send + Sync>>(Arc::new(store))
    };
    let behind = open(&format!("{start}@{folder}/{rest}")).await?;
    let beside = open(&direct).await?;
    let id = scene::wren(&behind).await?;
    Ok((relay, behind, beside, id))
}

fn schema_of(address: &str) -> Outcome<&str> {
    Ok(address.rsplit_once("%3D").ok_or("a schema")?.1)
}

fn keyed(id: &AthleteRef, set: &str) -> Outcome<Append> {
    let request = Some(scene::request(id, "record", set, 1));
    Ok(Append { request, ..scene::append(id, vec![scene::recorded(set)?]) })
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_write_with_a_key_is_done_once_wherever_its_connection_is_lost() -> Outcome<()> {
    let (relay, behind, beside, id) = scene().await?;
    let faults = [Fault::BeforeCommit, Fault::AfterCommit, Fault::LateCommit];
    for (number, fault) in (0_u64..).zip(faults.iter().cycle().take(9)) {
        relay.set(*fault);
        let append = keyed(&id, &format!("s{number}"))?;
        let done = behind.append(append.clone()).await.map_err(|error| format!("{fault:?}: {error:?}"))?;
        assert!(relay.is_over(), "{fault:?} happened");
        assert_eq!((done.first_sequence, done.last_sequence), (number + 2, number + 2), "{fault:?}");
        let again = beside.append(append).await?;
        assert!(again.was_replay && again.first_sequence == done.first_sequence, "{fault:?}: {again:?}");
        let found = beside.events(&id, 0, None, 100).await?;
        let sequences: Vec<u64> = found.iter().map(|event| event.sequence).collect();
        assert_eq!(sequences, (1..=number + 2).collect::<Vec<_>>(), "{fault:?}: once, and no gap");
    }
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_write_without_a_key_is_never_tried_blindly() -> Outcome<()> {
    let (relay, behind, beside, id) = scene().await?;
    let mut kept = 1;
    for (fault, is_kept) in [(Fault::AfterCommit, true), (Fault::BeforeCommit, false)] {
        relay.set(fault);
        let set = scene::recorded(&format!("{fault:?}").to_lowercase())?;
        let lost = behind.append(scene::append(&id, vec![set])).await;
        assert!(
            matches!(lost, Err(StoreError::Unreachable { doing: "committing", .. })),
            "{fault:?}: {lost:?}"
        );
        assert!(relay.is_over(), "{fault:?} happened");
        kept += u64::from(is_kept);
        assert_eq!(beside.athlete(&id).await?.last_sequence, kept, "{fault:?}");
    }
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_database_that_goes_away_is_told_and_comes_back() -> Outcome<()> {
    let (relay, behind, beside, id) = scene().await?;
    behind.append(keyed(&id, "before")?).await?;
    relay.set(Fault::Away);
    let is_away = |error: &StoreError| matches!(error, StoreError::Unreachable { .. });
    let read = behind.events(&id, 0, None, 10).await;
    assert!(read.as_ref().is_err_and(is_away), "{read:?}");
    let written = behind.append(keyed(&id, "while")?).await;
    assert!(written.as_ref().is_err_and(is_away), "{written:?}");
    beside.append(keyed(&id, "beside")?).await?;
    relay.set(Fault::Nothing);
    assert_eq!(behind.append(keyed(&id, "while")?).await?.first_sequence, 4);
    assert_eq!(behind.events(&id, 0, None, 10).await?.len(), 4);
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_read_whose_connection_is_lost_is_begun_anew() -> Outcome<()> {
    let (relay, behind, _beside, id) = scene().await?;
    for _ in 0..5 {
        relay.set(Fault::Once);
        assert_eq!(behind.events(&id, 0, None, 10).await?.len(), 1);
        assert!(relay.is_over(), "the connection was lost");
    }
    Ok(())
}

/// Sessions that the server ends, as a restart does, are replaced without anybody noticing.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sessions_that_were_ended_are_replaced() -> Outcome<()> {
    let address = throwaway::schema().await?;
    let name = schema_of(&address)?;
    let named = PostgresAddress::parse(&format!("{address}&application_name={name}"))?;
    let behind = Arc::new(PostgresStore::open(&named, PostgresOptions::default()).await?);
    let id = scene::wren(&behind).await?;
    let (client, connection) = tokio_postgres::connect(&address, tokio_postgres::NoTls).await?;
    tokio::spawn(connection);
    for round in 0..5 {
        behind.append(keyed(&id, &format!("s{round}"))?).await?;
        let sql = "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE application_name = $1";
        let ended = client.query(sql, &[&name]).await?;
        assert!(!ended.is_empty(), "a session was ended");
        assert_eq!(behind.athlete(&id).await?.last_sequence, round + 2);
    }
    Ok(())
}
