//! The PostgreSQL backend: the store's promises, and those of a database that several share.

use std::error::Error;
use std::sync::Arc;

use nextrung_domain::ids::AthleteRef;
use nextrung_store::append::Append;
use nextrung_store::conformance::{self, scene};
use nextrung_store::error::StoreError;
use nextrung_store::postgres::throwaway::{self, Throwaway};
use nextrung_store::postgres::{PostgresAddress, PostgresOptions, PostgresStore};
use nextrung_store::record::NewRoster;
use nextrung_store::store::Store;
use tokio::task::JoinSet;
use tokio_postgres::NoTls;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

async fn at(address: &str) -> Result<Arc<PostgresStore>, StoreError> {
    let bad = |_| StoreError::Refused { field: "address", expected: "one" };
    let address = PostgresAddress::parse(address).map_err(bad)?;
    Ok(Arc::new(PostgresStore::open(&address, PostgresOptions { sessions: 6 }).await?))
}

async fn open() -> Outcome<(Arc<PostgresStore>, String)> {
    let address = throwaway::schema().await?;
    Ok((at(&address).await?, address))
}

/// Runs statements past the store.
async fn raw(address: &str, sql: &str) -> Outcome<()> {
    let (client, connection) = tokio_postgres::connect(address, NoTls).await?;
    let running = tokio::spawn(connection);
    client.batch_execute(sql).await?;
    drop(client);
    Ok(running.await??)
}

/// Appends one set for each number.
async fn append(store: &PostgresStore, id: &AthleteRef, numbers: impl Iterator<Item = u32>) -> Outcome<()> {
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

/// As on a database that knows nothing weaker: whoever meets another one begins anew.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_promise_is_kept_by_serializable_transactions() -> Outcome<()> {
    let open = async || {
        let address = throwaway::schema().await?;
        let address = format!("{address}%20-cdefault_transaction_isolation%3Dserializable");
        Ok::<_, Box<dyn Error + Send + Sync>>((at(&address).await?, address))
    };
    let broken = conformance::broken(open).await?;
    assert!(broken.is_empty(), "{broken:#?}");
    Ok(())
}

/// A disk cannot be filled here without rights; what the server says of one is said by a trigger.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_full_disk_of_the_server_is_told_and_passes() -> Outcome<()> {
    let (store, address) = open().await?;
    let id = scene::wren(&store).await?;
    let full = "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS
                  $$ BEGIN RAISE EXCEPTION SQLSTATE '53100' USING MESSAGE = 'could not extend file'; END $$;
                CREATE TRIGGER full_disk BEFORE INSERT ON events FOR EACH ROW EXECUTE FUNCTION full_disk()";
    raw(&address, full).await?;
    let before = store.athlete(&id).await?.last_sequence;
    let request = Some(scene::request(&id, "record", "r1", 1));
    let write = Append { request, ..scene::append(&id, vec![scene::recorded("s1")?]) };
    let refused = store.append(write.clone()).await;
    assert!(matches!(refused, Err(StoreError::Full { .. })), "{refused:?}");
    assert_eq!(refused.unwrap_err().plain().code, "53100");
    assert_eq!(store.athlete(&id).await?.last_sequence, before, "nothing is kept, and reads go on");
    raw(&address, "DROP TRIGGER full_disk ON events").await?;
    assert!(!store.append(write).await?.was_replay);
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_promise_is_kept_with_one_session() -> Outcome<()> {
    let open = async || {
        let address = throwaway::schema().await?;
        let options = PostgresOptions { sessions: 1 };
        let store = PostgresStore::open(&PostgresAddress::parse(&address)?, options).await?;
        Ok::<_, Box<dyn Error + Send + Sync>>((Arc::new(store), ()))
    };
    let broken = conformance::broken(open).await?;
    assert!(broken.is_empty(), "{broken:#?}");
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn replicas_that_start_at_once_make_the_tables_once() -> Outcome<()> {
    for round in 0..6 {
        let mut address = throwaway::schema().await?;
        if round % 2 == 1 {
            address += "%20-cdefault_transaction_isolation%3Dserializable";
        }
        let mut starting = JoinSet::new();
        for _ in 0..6 {
            let address = address.clone();
            starting.spawn(async move { at(&address).await });
        }
        let mut stores = Vec::new();
        while let Some(started) = starting.join_next().await {
            stores.push(started??);
        }
        let id = scene::wren(&stores[0]).await?;
        for store in stores {
            assert_eq!(store.athlete(&id).await?.last_sequence, 1);
        }
    }
    Ok(())
}

/// Whoever takes the steps holds the row for all of them: nobody else begins in the middle.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_start_waits_for_the_steps_of_another() -> Outcome<()> {
    let (store, address) = open().await?;
    drop(store);
    raw(&address, "UPDATE nextrung_schema SET version = 0").await?;
    let (mut client, connection) = tokio_postgres::connect(&address, NoTls).await?;
    tokio::spawn(connection);
    let steps = client.transaction().await?;
    steps.batch_execute("SELECT version FROM nextrung_schema FOR UPDATE").await?;
    let whose = address.clone();
    let starting = tokio::spawn(async move { at(&whose).await });
    tokio::time::sleep(std::time::Duration::from_millis(300)).await;
    assert!(!starting.is_finished(), "it waits");
    steps.batch_execute("UPDATE nextrung_schema SET version = 3").await?;
    steps.commit().await?;
    scene::wren(&starting.await??).await?;
    Ok(())
}

#[tokio::test]
async fn a_newer_schema_is_refused() -> Outcome<()> {
    let (store, address) = open().await?;
    store.close().await?;
    raw(&address, "UPDATE nextrung_schema SET version = 7").await?;
    let refused = at(&address).await.err();
    assert!(matches!(refused, Some(StoreError::UnknownSchema { found: 7, known: 3 })), "{refused:?}");
    Ok(())
}

#[tokio::test]
async fn steps_that_fail_leave_nothing() -> Outcome<()> {
    let address = throwaway::schema().await?;
    raw(&address, "CREATE TABLE requests (other text)").await?;
    let refused = at(&address).await.err();
    assert!(
        matches!(refused, Some(StoreError::Backend { doing: "migrating the schema", .. })),
        "{refused:?}"
    );
    raw(&address, "DROP TABLE requests").await?;
    scene::wren(&at(&address).await?).await?;
    Ok(())
}

#[tokio::test]
async fn a_server_that_does_not_sync_is_refused() -> Outcome<()> {
    let server = Throwaway::start(&["fsync=off"])?;
    let refused = at(&server.address()).await.err();
    let is_named =
        matches!(&refused, Some(StoreError::NotDurable { found }) if found == "its `fsync` is off");
    assert!(is_named, "{refused:?}");
    Ok(())
}

/// The table says what the session that wrote to it had set.
#[tokio::test]
async fn every_commit_is_waited_for_whatever_the_server_says() -> Outcome<()> {
    for (setting, wanted) in [("off", "on"), ("local", "on"), ("on", "on"), ("remote_apply", "remote_apply")]
    {
        let address = throwaway::schema().await?;
        let store = at(&format!("{address}%20-csynchronous_commit%3D{setting}")).await?;
        raw(
            &address,
            "ALTER TABLE rosters ADD COLUMN seen text DEFAULT current_setting('synchronous_commit')",
        )
        .await?;
        store.create_roster(scene::roster("a")?, None).await?;
        let check = format!("DO $$ BEGIN ASSERT (SELECT seen FROM rosters) = '{wanted}'; END $$");
        raw(&address, &check).await.map_err(|error| format!("{setting}: {error:?}"))?;
    }
    Ok(())
}

#[tokio::test]
async fn a_body_that_cannot_be_read_is_named() -> Outcome<()> {
    let (store, address) = open().await?;
    let id = scene::wren(&store).await?;
    append(&store, &id, 0..3).await?;
    raw(&address, "UPDATE events SET body = '{' WHERE sequence = 3").await?;
    let found = store.events(&id, 0, None, 10).await;
    let is_named = matches!(&found, Err(StoreError::Corrupt { what, .. }) if what == "event 3 of rosters/coach/athletes/wren");
    assert!(is_named, "{found:?}");
    assert_eq!(store.events(&id, 0, Some(2), 10).await?.len(), 2, "the rest can be read");
    Ok(())
}

#[tokio::test]
async fn a_title_of_any_signs_is_kept() -> Outcome<()> {
    let (store, _) = open().await?;
    let new = NewRoster { title: "a\u{0}b".to_owned(), ..scene::roster("a")? };
    store.create_roster(new.clone(), None).await?;
    assert_eq!(store.roster(&new.id).await?.title, new.title);
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn several_may_write_to_one_log() -> Outcome<()> {
    let (first, address) = open().await?;
    let (second, third) = (at(&address).await?, at(&address).await?);
    let id = scene::wren(&first).await?;
    let mut tasks = JoinSet::new();
    for (n, store) in (0..).zip([&first, &second, &third, &first, &second, &third]) {
        let (store, id) = (Arc::clone(store), id.clone());
        tasks.spawn(async move { append(&store, &id, n * 20..n * 20 + 20).await });
    }
    while let Some(ended) = tasks.join_next().await {
        ended??;
    }
    for store in [first, second, third] {
        let found: Vec<u64> = store.events(&id, 0, None, 1000).await?.iter().map(|e| e.sequence).collect();
        assert_eq!(found, (1..=121).collect::<Vec<_>>());
    }
    Ok(())
}

/// The same requests sent through several at once, of every kind of write: each is done once, and all get one answer.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_request_sent_through_several_at_once_is_done_once() -> Outcome<()> {
    let (first, address) = open().await?;
    let stores = [first, at(&address).await?, at(&address).await?];
    let id = scene::wren(&stores[0]).await?;
    for round in 0..12 {
        let mut tasks = JoinSet::new();
        for n in 0..9 {
            let (store, id) = (Arc::clone(&stores[n % 3]), id.clone());
            tasks.spawn(async move { everything(&store, &id, round).await });
        }
        let mut answers = Vec::new();
        while let Some(ended) = tasks.join_next().await {
            answers.push(ended??);
        }
        let firsts = |kind: usize| answers.iter().filter(|answer| !answer[kind].1).count();
        assert_eq!([0, 1, 2].map(firsts), [1, 1, 1], "done once");
        for answer in &answers {
            let plain = |answer: &[(String, bool); 3]| answer.clone().map(|(text, _)| text);
            assert_eq!(plain(answer), plain(&answers[0]), "one answer for all");
        }
    }
    assert_eq!(stores[1].athlete(&id).await?.last_sequence, 13);
    Ok(())
}

/// A roster, an append and a prescription, each with its answer and whether it was one given before.
async fn everything(store: &PostgresStore, id: &AthleteRef, round: u32) -> Outcome<[(String, bool); 3]> {
    let request = |method: &str| Some(scene::request(id, method, &format!("r{round}"), 1));
    let made = store.create_roster(scene::roster(&format!("r{round}"))?, request("create-roster")).await?;
    let set = scene::recorded(&format!("s{round}"))?;
    let append = Append { request: request("record"), ..scene::append(id, vec![set]) };
    let appended = store.append(append).await?;
    let issued = scene::prescription(id, &format!("p{round}"), "2026-03-14", 0)?;
    let issued = store.save_prescription(issued, request("prescribe")).await?;
    Ok([
        (format!("{:?}", made.record), made.was_replay),
        (format!("{}", appended.first_sequence), appended.was_replay),
        (format!("{:?}", issued.record), issued.was_replay),
    ])
}
