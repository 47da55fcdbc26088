//! Copies between the two backends, both ways: equal row by row, all or nothing, and safe to repeat.

#![cfg(unix)]

use std::error::Error;
use std::sync::Arc;

use nextrung_domain::ids::{AthleteId, RosterId};
use nextrung_store::append::Append;
use nextrung_store::conformance::scene;
use nextrung_store::copy::keys::Keys;
use nextrung_store::copy::{Copied, CopyError, copy};
use nextrung_store::erasure::Erasure;
use nextrung_store::error::StoreError;
use nextrung_store::key::{KeyId, KeyRecord, Reach, Role};
use nextrung_store::page::Page;
use nextrung_store::postgres::{PostgresAddress, PostgresOptions, PostgresStore, throwaway};
use nextrung_store::record::{Days, NewRoster};
use nextrung_store::row::{Parcel, Row, Rows, seal_of};
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use tempfile::TempDir;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

async fn file() -> Outcome<(Arc<SqliteStore>, TempDir)> {
    let dir = tempfile::tempdir()?;
    let store = SqliteStore::open(dir.path().join("log.sqlite"), SqliteOptions::default()).await?;
    Ok((Arc::new(store), dir))
}

async fn database() -> Outcome<Arc<PostgresStore>> {
    let address = PostgresAddress::parse(&throwaway::schema().await?)?;
    Ok(Arc::new(PostgresStore::open(&address, PostgresOptions::default()).await?))
}

/// Two rosters with everything in them that a log can have, more of it than is read or written at once.
async fn fill(store: &Arc<impl Store>) -> Outcome<()> {
    let title = "Zoë’s 队 \u{1f938} \"x\" \u{0}".to_owned();
    for id in ["hall", "a-1"] {
        let bands = (id == "hall").then(nextrung_domain::band::Bands::default);
        let new = NewRoster { title: title.clone(), bands, ..scene::roster(id)? };
        store.create_roster(new, None).await?;
        for (athlete, most) in [("wren", 2300), ("a-1", 5), ("a", 0)] {
            let made = scene::athlete(id, athlete)?;
            let key = scene::request(&made.id, "create-athlete", athlete, 3);
            let whose = store.create_athlete(made, Some(key)).await?.record.id;
            for first in (0..most).step_by(100) {
                let numbers = first..(first + 100).min(most);
                let full = |n| {
                    Ok(nextrung_domain::event::EventBody::Recorded {
                        set: scene::full_set(&format!("s{n}"), "a\u{0}b\n队")?,
                    })
                };
                let events = numbers.map(full).collect::<Result<Vec<_>, Box<dyn Error + Send + Sync>>>()?;
                let request = Some(scene::request(&whose, "record", &format!("{athlete}-{first}"), 1));
                store.append(Append { request, ..scene::append(&whose, events) }).await?;
            }
            for day in 1..=u8::try_from(most.min(28))? {
                let date = format!("2026-02-{day:02}");
                let issued = scene::prescription(&whose, &format!("p-{day}"), &date, day.into())?;
                store.save_prescription(issued, None).await?;
            }
        }
    }
    let gone = store.create_athlete(scene::athlete("hall", "gone")?, None).await?.record.id;
    let erasure = Erasure { athlete: gone, erased_at_ms: scene::NOW };
    store.erase_athlete(erasure, None).await?;
    let wren = scene::athlete("hall", "wren")?.id;
    let last = vec![scene::corrected("s7", 3)?, scene::withdrawn("s8")?];
    store.append(scene::append(&wren, last)).await?;
    Ok(())
}

fn names(copied: &[Copied]) -> Vec<(String, bool)> {
    copied.iter().map(|one| (one.roster.to_string(), one.was_there)).collect()
}

/// Everything that the trait tells of a roster, in a text.
async fn told(store: &impl Store) -> Outcome<String> {
    let mut text = String::new();
    for roster in store.rosters(&Page::first(9), None).await?.items {
        for athlete in store.athletes(&roster.id, &Page::first(9)).await?.items {
            let events = store.events(&athlete.id, 0, None, 9999).await?;
            let issued = store.prescriptions(&athlete.id, Days::default(), &Page::first(99)).await?;
            let key = scene::request(&athlete.id, "record", "wren-100", 1);
            let known = store.requested(&key).await?;
            text.push_str(&format!("{roster:?} {athlete:?} {events:?} {issued:?} {known:?}"));
        }
    }
    Ok(text)
}

/// There and back again; each place then says the same, and a repeat changes nothing.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_log_goes_to_the_other_backend_and_back() -> Outcome<()> {
    let ((first, _one), second, (third, _two)) = (file().await?, database().await?, file().await?);
    fill(&first).await?;
    let there = copy(&*first, &*second, &[]).await?;
    assert_eq!(names(&there), [("a-1".to_owned(), false), ("hall".to_owned(), false)]);
    let back = copy(&*second, &*third, &[]).await?;
    for (one, other) in there.iter().zip(&back) {
        assert_eq!(one, other);
        assert!(one.seal.counts.events > 2300 && one.seal.counts.prescriptions == 33, "{one:?}");
        assert_eq!(one.seal.counts.requests, 27, "{one:?}");
    }
    let wanted = told(&*first).await?;
    assert!(wanted.len() > 1_000_000 && wanted.contains("was_replay: true"), "{}", wanted.len());
    assert!(told(&*second).await? == wanted && told(&*third).await? == wanted);
    let again = copy(&*first, &*second, &[]).await?;
    assert_eq!(names(&again), [("a-1".to_owned(), true), ("hall".to_owned(), true)]);
    let wren = scene::athlete("hall", "wren")?.id;
    let repeat = Append {
        request: Some(scene::request(&wren, "record", "wren-100", 1)),
        ..scene::append(&wren, vec![scene::recorded("s100")?])
    };
    let answers = [second.append(repeat.clone()).await?, third.append(repeat.clone()).await?];
    let first_answer = first.append(repeat).await?;
    assert!(first_answer.was_replay && answers == [first_answer; 2], "a repeat is known in the new place");
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn one_roster_goes_alone_and_one_that_differs_stops_all() -> Outcome<()> {
    let ((source, _dir), target) = (file().await?, database().await?);
    fill(&source).await?;
    let hall = RosterId::new("hall")?;
    assert_eq!(
        names(&copy(&*source, &*target, std::slice::from_ref(&hall)).await?),
        [("hall".to_owned(), false)]
    );
    let wren = scene::athlete("hall", "wren")?.id;
    source.append(scene::append(&wren, vec![scene::recorded("new")?])).await?;
    let refused = copy(&*source, &*target, &[]).await;
    let is_named = matches!(&refused, Err(CopyError::Differ { rosters }) if *rosters == [hall]);
    assert!(is_named, "{refused:?}");
    assert_eq!(
        target.rosters(&Page::first(9), None).await?.items.len(),
        1,
        "the other one did not go either"
    );
    let back = copy(&*target, &*source, &[]).await;
    assert!(matches!(back, Err(CopyError::Differ { .. })), "{back:?}");
    let missing = copy(&*source, &*target, &[RosterId::new("nowhere")?]).await;
    assert!(matches!(missing, Err(CopyError::Store(StoreError::NotFound { .. }))), "{missing:?}");
    Ok(())
}

/// What a copy sends, with a change on its way.
async fn sent(source: &impl Rows, change: impl Fn(Row) -> Option<Row>, ends: bool) -> Outcome<Vec<Parcel>> {
    let roster = RosterId::new("a-1")?;
    let (sender, mut rows) = tokio::sync::mpsc::channel(9);
    let (given, mut parcels) = tokio::join!(source.give(&roster, sender), async {
        let mut parcels = Vec::new();
        while let Some(row) = rows.recv().await {
            parcels.extend(change(row).map(|row| Parcel::Row(roster.clone(), row)));
        }
        parcels
    });
    given?;
    if ends {
        parcels.push(Parcel::End(vec![(roster.clone(), seal_of(source, &roster).await?)]));
    }
    Ok(parcels)
}

async fn take(target: &impl Rows, parcels: Vec<Parcel>) -> Result<(), StoreError> {
    let (sender, receiver) = tokio::sync::mpsc::channel(9);
    let send = async {
        for parcel in parcels {
            drop(sender.send(parcel).await);
        }
        drop(sender);
    };
    tokio::join!(target.take(receiver), send).0
}

/// One row that is changed or left out on the way, or an end that never comes: nothing of it is kept, in either backend.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_does_not_read_back_is_not_kept() -> Outcome<()> {
    let ((source, _dir), (target, _other), database) = (file().await?, file().await?, database().await?);
    fill(&source).await?;
    let later = |mut row| {
        if let Row::Event { sequence: 1999, arrived_at_ms, .. } = &mut row {
            *arrived_at_ms += 1;
        }
        Some(row)
    };
    let forgetful =
        |row| (!matches!(&row, Row::Request { request_id, .. } if request_id == "wren-100")).then_some(row);
    let whole = |row| Some(row);
    let bad = [sent(&*source, later, true).await?, sent(&*source, forgetful, true).await?];
    for parcels in bad {
        let refused = [take(&*target, parcels.clone()).await, take(&*database, parcels).await];
        for refused in refused {
            assert!(matches!(refused, Err(StoreError::Unproven { .. })), "{refused:?}");
        }
    }
    let endless = sent(&*source, whole, false).await?;
    for refused in [take(&*target, endless.clone()).await, take(&*database, endless).await] {
        assert!(matches!(refused, Err(StoreError::Stopped)), "{refused:?}");
    }
    assert_eq!(target.rosters(&Page::first(9), None).await?.items, []);
    assert_eq!(database.rosters(&Page::first(9), None).await?.items, []);
    let good = sent(&*source, whole, true).await?;
    take(&*target, good.clone()).await?;
    take(&*database, good.clone()).await?;
    for refused in [take(&*target, good.clone()).await, take(&*database, good).await] {
        assert!(matches!(refused, Err(StoreError::AlreadyExists { what: "roster", .. })), "{refused:?}");
    }
    Ok(())
}

fn key(digit: char, role: Role, reaches: &[(&str, Option<&str>)]) -> Outcome<KeyRecord> {
    let reach = |(roster, athlete): &(&str, Option<&str>)| {
        let athlete = athlete.map(AthleteId::new).transpose()?;
        Ok(Reach { roster: RosterId::new(roster)?, athlete })
    };
    Ok(KeyRecord {
        id: KeyId::new(&digit.to_string().repeat(16)).ok_or("an id")?,
        secret_hash: [u8::try_from(digit)?; 32],
        role,
        title: "Zoë’s \u{0} key".to_owned(),
        reaches: reaches.iter().map(reach).collect::<Outcome<_>>()?,
        created_at_ms: scene::NOW,
        expires_at_ms: Some(scene::NOW + 5),
        revoked_at_ms: (digit == '2').then_some(scene::NOW + 3),
    })
}

/// There and back, as they were, and those alone that reach nothing but what was copied.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn keys_follow_their_rosters() -> Outcome<()> {
    let ((first, _one), second, (third, _two)) = (file().await?, database().await?, file().await?);
    fill(&first).await?;
    let all = [
        key('1', Role::Operator, &[])?,
        key('2', Role::Coach, &[("hall", None)])?,
        key('3', Role::Athlete, &[("hall", Some("wren"))])?,
        key('4', Role::Analyst, &[("a-1", None), ("hall", None)])?,
    ];
    for key in &all {
        first.create_key(key.clone()).await?;
    }
    let hall = [RosterId::new("hall")?];
    let keys = Keys::find(&*first, &*second, &hall).await?;
    assert!(keys.put(&*second).await.is_err(), "their roster is not there yet");
    copy(&*first, &*second, &hall).await?;
    assert_eq!((keys.put(&*second).await?, keys.there, keys.left), (2, 0, 2));
    assert_eq!(second.keys(&Page::first(9)).await?.items, all[1..3]);
    let rest = Keys::find(&*first, &*second, &[]).await?;
    copy(&*first, &*second, &[]).await?;
    assert_eq!((rest.put(&*second).await?, rest.there, rest.left), (2, 2, 0));
    let back = Keys::find(&*second, &*third, &[]).await?;
    copy(&*second, &*third, &[]).await?;
    assert_eq!(back.put(&*third).await?, 4);
    assert_eq!(third.keys(&Page::first(9)).await?.items, all);
    third.revoke_key(&all[0].id, scene::NOW + 1).await?;
    let differ = Keys::find(&*second, &*third, &[]).await;
    let is_named = matches!(&differ, Err(CopyError::KeysDiffer { keys }) if *keys == [all[0].id.clone()]);
    assert!(is_named, "{differ:?}");
    Ok(())
}

#[tokio::test]
async fn more_keys_than_are_read_at_a_time_follow_too() -> Outcome<()> {
    let ((first, _one), (second, _two)) = (file().await?, file().await?);
    fill(&first).await?;
    let some = key('0', Role::Operator, &[])?;
    for number in 0..501 {
        let id = KeyId::new(&format!("{number:016x}")).ok_or("an id")?;
        first.create_key(KeyRecord { id, ..some.clone() }).await?;
    }
    let keys = Keys::find(&*first, &*second, &[]).await?;
    copy(&*first, &*second, &[]).await?;
    assert_eq!(keys.put(&*second).await?, 501);
    Ok(())
}
