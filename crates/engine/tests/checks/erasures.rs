//! Erasures: nobody is answered from what was erased, in the engine that erased it or in others on the same database.

#![cfg(unix)]

use std::num::NonZeroUsize;
use std::sync::Arc;
use std::time::Duration;

use nextrung_domain::ids::AthleteRef;
use nextrung_engine::engine::Engine;
use nextrung_engine::error::EngineError;
use nextrung_engine::watch::Watch;
use nextrung_store::error::StoreError;
use nextrung_store::postgres::{PostgresAddress, PostgresOptions, PostgresStore, throwaway};
use nextrung_store::store::Store;

use crate::spec::Spec;
use crate::world::{HandClock, TODAY, World, date, engine, named, people, profile, request, staleness};

/// Five sets of pull-ups of so many reps, on days of their own.
async fn train(engine: &Engine<impl Store>, athlete: &AthleteRef, (round, done): (u16, u8)) {
    for number in 0..5_u16 {
        let day = 780 + i32::from(number);
        let drafts = [Spec { key: number, day, session: 1, number: 1, what: 3, done }.draft()];
        let asked = request("RecordSets", &format!("{round}-{number}"), &drafts);
        engine.record_sets(athlete, &drafts, &asked, false).await.expect("recorded");
    }
}

async fn make(engine: &Engine<impl Store>, name: &str, round: u16) {
    let draft = profile(&["pull/one-arm-pull-up"]);
    let asked = request("CreateAthlete", &format!("again-{round}"), &round);
    engine.create_athlete(named(name), &draft, &asked).await.expect("made anew");
}

async fn erase(engine: &Engine<impl Store>, athlete: &AthleteRef, round: u16) {
    let asked = request("EraseAthlete", &format!("erase-{round}"), &round);
    let erased = engine.erase_athlete(athlete, &asked).await.expect("erased");
    assert!(!erased.was_before);
    let again = engine.erase_athlete(athlete, &asked).await.expect("the first answer");
    assert_eq!(again, erased);
}

fn is_gone<T>(ended: &Result<T, EngineError>) -> bool {
    matches!(ended, Err(EngineError::Store(StoreError::NotFound { what: "athlete", .. })))
}

async fn all_refuse(engine: &Engine<impl Store>, athlete: &AthleteRef) {
    assert!(is_gone(&engine.head(athlete).await));
    assert!(is_gone(&engine.preview(athlete, date(TODAY + 1)).await));
    let asked = request("Prescribe", "gone", &0);
    assert!(is_gone(&engine.prescribe(athlete, date(TODAY + 1), &asked).await));
    let drafts = [Spec { key: 99, day: 790, session: 1, number: 1, what: 3, done: 5 }.draft()];
    let asked = request("RecordSets", "gone", &drafts);
    assert!(is_gone(&engine.record_sets(athlete, &drafts, &asked, false).await));
    assert!(is_gone(&engine.review_gates(athlete, date(TODAY), "pull/archer").await));
}

async fn replicas() -> [Arc<Engine<PostgresStore>>; 2] {
    let address = throwaway::schema().await.expect("a schema");
    let address = PostgresAddress::parse(&address).expect("an address");
    let clock = HandClock::at(TODAY);
    let mut all = Vec::new();
    for _ in 0..2 {
        let store = PostgresStore::open(&address, PostgresOptions { sessions: 4 }).await.expect("a log");
        all.push(engine(store, clock.clone(), NonZeroUsize::new(16).expect("a number")));
    }
    all.try_into().unwrap_or_else(|_| panic!("two"))
}

/// The new log is as long as the erased one, so that only its sequences can tell them apart.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_replica_that_remembers_the_erased_never_answers_from_it() {
    let [writer, reader] = replicas().await;
    let wren = people(&writer, &["wren", "lark"]).await.remove(0);
    train(&writer, &named("lark"), (90, 7)).await;
    let lark = reader.preview(&named("lark"), date(TODAY + 1)).await.expect("lark's").prescription;
    for round in 0..4_u16 {
        let done = if round % 2 == 0 { 9 } else { 2 };
        train(&writer, &wren, (round, done)).await;
        let old = reader.preview(&wren, date(TODAY + 1)).await.expect("a prescription");
        let asked = request("Prescribe", &format!("p-{round}"), &round);
        let issued = reader.prescribe(&wren, date(TODAY + 1), &asked).await.expect("issued");
        reader.why(&wren, issued.id.as_ref().expect("an id")).await.expect("why");
        erase(&writer, &wren, round).await;
        if round >= 2 {
            // Asked in between, the other replica finds nobody.
            all_refuse(&reader, &wren).await;
            let why = reader.why(&wren, issued.id.as_ref().expect("an id")).await;
            let is_unknown =
                matches!(why, Err(EngineError::Store(StoreError::NotFound { what: "prescription", .. })));
            assert!(is_unknown, "{why:?}");
        }
        make(&writer, "wren", round).await;
        assert_eq!(staleness(&reader, &wren).await, None, "round {round}: the new log, still empty");
        train(&writer, &wren, (round + 50, 12 - done)).await;
        assert_eq!(staleness(&reader, &wren).await, None, "round {round}");
        let new = reader.preview(&wren, date(TODAY + 1)).await.expect("a prescription");
        assert_eq!(
            new.prescription,
            writer.preview(&wren, date(TODAY + 1)).await.expect("the same").prescription
        );
        assert_ne!(new.prescription, old.prescription, "another athlete");
        erase(&writer, &wren, round + 100).await;
        make(&writer, "wren", round + 100).await;
    }
    let after = reader.preview(&named("lark"), date(TODAY + 1)).await.expect("lark's").prescription;
    assert_eq!(after, lark, "others are answered as before");
}

#[tokio::test]
async fn one_engine_forgets_whom_it_erases() {
    let (world, wren) = World::with_wren().await;
    train(&world.engine, &wren, (0, 9)).await;
    let old = world.engine.preview(&wren, date(TODAY + 1)).await.expect("a prescription");
    let asked = request("Prescribe", "p", &0);
    let issued = world.engine.prescribe(&wren, date(TODAY + 1), &asked).await.expect("issued");
    world.engine.why(&wren, issued.id.as_ref().expect("an id")).await.expect("why");
    assert_eq!(world.engine.cache_size().0, 1);
    erase(&world.engine, &wren, 0).await;
    assert_eq!(world.engine.cache_size().0, 0);
    all_refuse(&world.engine, &wren).await;
    make(&world.engine, "wren", 0).await;
    train(&world.engine, &wren, (1, 2)).await;
    assert_eq!(staleness(&world.engine, &wren).await, None);
    let new = world.engine.preview(&wren, date(TODAY + 1)).await.expect("a prescription");
    assert_ne!(new.prescription, old.prescription);
}

/// Whether asked in between or not: nothing of a new athlete is told as a change of the old one.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_watch_ends_with_the_erasure_also_when_another_has_the_name_by_then() {
    let [writer, reader] = replicas().await;
    let wren = people(&writer, &["wren"]).await.remove(0);
    train(&writer, &wren, (0, 9)).await;
    for (round, (watcher, is_made_anew)) in
        (0_u16..).zip([(&writer, false), (&reader, false), (&writer, true), (&reader, true)])
    {
        let day = Some(date(TODAY + 1));
        let mut watch = Watch::begin(watcher.clone(), vec![wren.clone()], day).await.expect("a watch");
        watch.next().await.expect("told");
        erase(&writer, &wren, round).await;
        if is_made_anew {
            make(&writer, "wren", round).await;
            train(&writer, &wren, (round + 50, 2)).await;
        }
        let told = tokio::time::timeout(Duration::from_secs(20), watch.next()).await.expect("in time");
        assert!(is_gone(&told), "round {round}");
        if !is_made_anew {
            make(&writer, "wren", round).await;
        }
    }
}
