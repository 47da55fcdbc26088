//! Backends: SQLite and PostgreSQL give equal answers to any list of calls, and keep equal rows.

#![cfg(unix)]

use std::error::Error;
use std::fmt::Debug;
use std::io::Write;
use std::time::Instant;

use nextrung_domain::band::Bands;
use nextrung_domain::event::EventBody;
use nextrung_domain::ids::{AthleteRef, ClientSetId, PrescriptionId, RosterId};
use nextrung_store::append::Append;
use nextrung_store::conformance::scene;
use nextrung_store::erasure::Erasure;
use nextrung_store::error::StoreError;
use nextrung_store::page::Page;
use nextrung_store::postgres::{PostgresAddress, PostgresOptions, PostgresStore, throwaway};
use nextrung_store::record::{Days, NewAthlete, NewRoster, RosterChange};
use nextrung_store::request::RequestKey;
use nextrung_store::row::{Rows, seal_of};
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestCaseError, TestRng, TestRunner};

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

/// Lists of calls, unless `NEXTRUNG_LISTS` says how many.
const LISTS: u32 = 48;

/// Ids whose order by bytes is not that of words.
const NAMES: [&str; 5] = ["a", "a-1", "a0", "ab", "b"];

/// A request: its id and its content.
type Asked = Option<(u8, u8)>;

/// One event of an append, about one of a few sets.
#[derive(Debug, Clone)]
enum Told {
    Recorded(u8),
    Corrected(u8, u16),
    Withdrawn(u8),
    Profiled(u8),
}

/// One call. Small numbers name rosters, athletes, sets and so on.
#[derive(Debug, Clone)]
enum Call {
    CreateRoster(u8, Asked),
    UpdateRoster(u8, (bool, Option<bool>), Asked),
    CreateAthlete((u8, u8), Asked),
    Append((u8, u8), Vec<Told>, Option<u64>, Asked),
    Save((u8, u8), (u8, u8, i64), Asked),
    Erase((u8, u8), Asked),
    Read((u8, u8)),
    Events((u8, u8), (u64, Option<u64>), u32),
    OfSets((u8, u8), Vec<u8>),
    Lists(u8, u32, Option<u8>),
    Prescriptions((u8, u8), (Option<u8>, Option<u8>), (u32, Option<u8>)),
    Requested(u8, (u8, u8)),
}

fn told() -> impl Strategy<Value = Told> {
    prop_oneof![
        5 => (0..8_u8).prop_map(Told::Recorded),
        2 => (0..8_u8, 0..9_u16).prop_map(|(set, done)| Told::Corrected(set, done)),
        1 => (0..8_u8).prop_map(Told::Withdrawn),
        1 => (0..3_u8).prop_map(Told::Profiled),
    ]
}

fn call() -> impl Strategy<Value = Call> {
    let asked = || prop::option::of((0..6_u8, 0..2_u8));
    let whose = || (0..3_u8, 0..5_u8);
    let events = prop::collection::vec(told(), 0..5);
    let read = prop_oneof![
        whose().prop_map(Call::Read),
        (whose(), (0..9_u64, prop::option::of(0..12_u64)), 0..6_u32)
            .prop_map(|(whose, range, limit)| Call::Events(whose, range, limit)),
        (whose(), prop::collection::vec(0..8_u8, 0..6)).prop_map(|(whose, sets)| Call::OfSets(whose, sets)),
        (0..3_u8, 0..4_u32, prop::option::of(0..5_u8))
            .prop_map(|(roster, size, after)| Call::Lists(roster, size, after)),
        (
            whose(),
            (prop::option::of(0..9_u8), prop::option::of(0..9_u8)),
            (1..4_u32, prop::option::of(0..4_u8))
        )
            .prop_map(|(whose, days, page)| Call::Prescriptions(whose, days, page)),
        (0..5_u8, (0..6_u8, 0..2_u8)).prop_map(|(method, asked)| Call::Requested(method, asked)),
    ];
    prop_oneof![
        2 => (0..3_u8, asked()).prop_map(|(roster, asked)| Call::CreateRoster(roster, asked)),
        1 => (0..3_u8, (any::<bool>(), prop::option::of(any::<bool>())), asked())
            .prop_map(|(roster, change, asked)| Call::UpdateRoster(roster, change, asked)),
        4 => (whose(), asked()).prop_map(|(whose, asked)| Call::CreateAthlete(whose, asked)),
        9 => (whose(), events, prop::option::weighted(0.3, 1..9_u64), asked())
            .prop_map(|(whose, events, expected, asked)| Call::Append(whose, events, expected, asked)),
        3 => (whose(), (0..4_u8, 0..9_u8, 0..4_i64), asked())
            .prop_map(|(whose, issued, asked)| Call::Save(whose, issued, asked)),
        1 => (whose(), asked()).prop_map(|(whose, asked)| Call::Erase(whose, asked)),
        6 => read,
    ]
}

fn whose((roster, athlete): (u8, u8)) -> Outcome<NewAthlete> {
    Ok(scene::athlete(NAMES[usize::from(roster)], NAMES[usize::from(athlete)])?)
}

/// The key of a request to the first roster, so that one id can come from several kinds of writes.
fn key(method: &str, asked: Asked) -> Outcome<Option<RequestKey>> {
    let roster = whose((0, 0))?.id;
    Ok(asked.map(|(id, content)| scene::request(&roster, method, &format!("r{id}"), content)))
}

fn event(told: &Told) -> Outcome<EventBody> {
    Ok(match told {
        Told::Recorded(set) => scene::recorded(&format!("s{set}"))?,
        Told::Corrected(set, done) => scene::corrected(&format!("s{set}"), *done)?,
        Told::Withdrawn(set) => scene::withdrawn(&format!("s{set}"))?,
        Told::Profiled(name) => {
            EventBody::Profiled { profile: Box::new(scene::profile(&format!("n{name}\u{0}队"))) }
        }
    })
}

/// An answer as text. A fault of the backend is not one.
fn text<T: Debug>(answer: Result<T, StoreError>) -> Outcome<String> {
    match answer {
        Err(
            fault @ (StoreError::Backend { .. }
            | StoreError::Full { .. }
            | StoreError::Unreachable { .. }
            | StoreError::Corrupt { .. }),
        ) => Err(fault.into()),
        answer => Ok(format!("{answer:?}")),
    }
}

async fn write(store: &impl Store, call: &Call) -> Outcome<String> {
    match call {
        Call::CreateRoster(roster, asked) => {
            let new = scene::roster(NAMES[usize::from(*roster)])?;
            text(
                store
                    .create_roster(NewRoster { bands: Some(Bands::default()), ..new }, key("record", *asked)?)
                    .await,
            )
        }
        Call::UpdateRoster(roster, (is_titled, bands), asked) => {
            let change = RosterChange {
                id: RosterId::new(NAMES[usize::from(*roster)])?,
                title: is_titled.then(|| "New\u{0}".to_owned()),
                bands: bands.map(|some| some.then(Bands::default)),
                updated_at_ms: scene::NOW + 7,
            };
            text(store.update_roster(change, key("update", *asked)?).await)
        }
        Call::CreateAthlete(id, asked) => {
            text(store.create_athlete(whose(*id)?, key("create", *asked)?).await)
        }
        Call::Append(id, events, expected_sequence, asked) => {
            let events = events.iter().map(event).collect::<Outcome<_>>()?;
            let request = key("record", *asked)?;
            let append = scene::append(&whose(*id)?.id, events);
            text(store.append(Append { request, expected_sequence: *expected_sequence, ..append }).await)
        }
        Call::Save(id, (name, day, later), asked) => {
            let date = format!("2026-03-1{day}");
            let issued = scene::prescription(&whose(*id)?.id, &format!("p{name}"), &date, *later)?;
            text(store.save_prescription(issued, key("prescribe", *asked)?).await)
        }
        Call::Erase(id, asked) => {
            let erasure = Erasure { athlete: whose(*id)?.id, erased_at_ms: scene::NOW + 9 };
            text(store.erase_athlete(erasure, key("erase", *asked)?).await)
        }
        Call::Read(_)
        | Call::Events(..)
        | Call::OfSets(..)
        | Call::Lists(..)
        | Call::Prescriptions(..)
        | Call::Requested(..) => read(store, call).await,
    }
}

async fn read(store: &impl Store, call: &Call) -> Outcome<String> {
    match call {
        Call::Read(id) => {
            let id = whose(*id)?.id;
            let both = [id.clone(), whose((0, 0))?.id];
            let found = (store.athlete(&id).await, store.roster(&id.roster).await);
            Ok(format!("{} {} {}", text(found.0)?, text(found.1)?, text(store.positions(&both).await)?))
        }
        Call::Events(id, (after, up_to), limit) => {
            text(store.events(&whose(*id)?.id, *after, *up_to, *limit).await)
        }
        Call::OfSets(id, sets) => {
            let sets = sets.iter().map(|set| ClientSetId::new(&format!("s{set}")));
            let sets = sets.collect::<Result<Vec<_>, _>>()?;
            text(store.events_of_sets(&whose(*id)?.id, &sets).await)
        }
        Call::Lists(roster, size, after) => {
            let after = after.map(|at| NAMES[usize::from(at)].to_owned());
            let page = Page { size: *size, after };
            let roster = RosterId::new(NAMES[usize::from(*roster)])?;
            let rosters = text(store.rosters(&page, None).await)?;
            Ok(format!("{rosters} {}", text(store.athletes(&roster, &page).await)?))
        }
        Call::Prescriptions(id, (from, to), (size, after)) => {
            let day = |day: u8| scene::day(&format!("2026-03-1{day}"));
            let days = Days { from: from.map(day).transpose()?, to: to.map(day).transpose()? };
            let page = Page { size: *size, after: after.map(|name| format!("p{name}")) };
            let id: AthleteRef = whose(*id)?.id;
            let one = store.prescription(&id, &PrescriptionId::new("p1")?).await;
            Ok(format!("{} {}", text(store.prescriptions(&id, days, &page).await)?, text(one)?))
        }
        Call::Requested(method, asked) => {
            let method = ["record", "update", "create", "prescribe", "erase"][usize::from(*method)];
            match key(method, Some(*asked))? {
                Some(key) => text(store.requested(&key).await),
                None => Ok(String::new()),
            }
        }
        Call::CreateRoster(..)
        | Call::UpdateRoster(..)
        | Call::CreateAthlete(..)
        | Call::Append(..)
        | Call::Erase(..)
        | Call::Save(..) => Err(format!("{call:?} is no read").into()),
    }
}

async fn seals(store: &impl Rows) -> Outcome<String> {
    let mut all = String::new();
    for roster in store.rosters(&Page::first(9), None).await?.items {
        all.push_str(&format!("{} {:?}\n", roster.id, seal_of(store, &roster.id).await?));
    }
    Ok(all)
}

/// Fails at the first call that is answered otherwise, or with rows that differ. The number of answers that were no errors.
async fn compare(calls: &[Call]) -> Outcome<usize> {
    compare_without(calls, None).await
}

/// [`compare`] with one call, by its number, that PostgreSQL does not get.
async fn compare_without(calls: &[Call], kept_back: Option<usize>) -> Outcome<usize> {
    let folder = tempfile::tempdir()?;
    let file = SqliteStore::open(folder.path().join("log.sqlite"), SqliteOptions::default()).await?;
    let address = PostgresAddress::parse(&throwaway::schema().await?)?;
    let database = PostgresStore::open(&address, PostgresOptions { sessions: 2 }).await?;
    let mut good = 0;
    for (number, call) in calls.iter().enumerate() {
        if kept_back == Some(number) {
            write(&file, call).await?;
            continue;
        }
        let (one, other) = (write(&file, call).await?, write(&database, call).await?);
        if one != other {
            return Err(format!("call {number}, {call:?}:\nSQLite     {one}\nPostgreSQL {other}").into());
        }
        good += usize::from(one.starts_with("Ok"));
    }
    let (one, other) = (seals(&file).await?, seals(&database).await?);
    if one == other { Ok(good) } else { Err(format!("rows differ:\n{one}{other}").into()) }
}

#[test]
fn any_list_of_calls_is_answered_alike() {
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build();
    let runtime = runtime.expect("a runtime");
    let lists =
        std::env::var("NEXTRUNG_LISTS").map_or(LISTS, |text| text.parse().expect("a number of lists"));
    let began = Instant::now();
    let config = Config { cases: lists, failure_persistence: None, ..Config::default() };
    // A roster and athletes come first, or else hardly anything is found.
    let calls = prop::collection::vec(call(), 10..60).prop_map(|calls| {
        let first = [Call::CreateRoster(0, None), Call::CreateRoster(1, None)].into_iter();
        let athletes = [(0, 0), (0, 1), (1, 0)].map(|whose| Call::CreateAthlete(whose, None));
        first.chain(athletes).chain(calls).collect::<Vec<_>>()
    });
    let mut runner = TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha));
    let good = std::sync::atomic::AtomicUsize::new(0);
    let run = |list: Vec<Call>| {
        let answered = runtime.block_on(compare(&list));
        let answered = answered.map_err(|error| TestCaseError::fail(format!("{error:?}")))?;
        good.fetch_add(answered, std::sync::atomic::Ordering::Relaxed);
        Ok(())
    };
    if let Err(failure) = runner.run(&calls, run) {
        panic!("{failure}");
    }
    let good = good.into_inner();
    assert!(good > 500, "{good} answers that were no errors");
    let harness = "SQLite against PostgreSQL on random lists of calls";
    let seconds = began.elapsed().as_secs();
    let line = format!(
        "| {harness} | {lists} lists, {good} answers that were no errors | 0 wrong | | {seconds} s |\n"
    );
    std::io::stdout().write_all(line.as_bytes()).expect("standard output");
}

#[tokio::test]
async fn planted_a_call_that_one_backend_does_not_get_is_found() {
    let calls = [
        Call::CreateRoster(0, Some((0, 0))),
        Call::CreateAthlete((0, 0), None),
        Call::Append((0, 0), vec![Told::Recorded(1), Told::Recorded(2)], None, Some((1, 0))),
        Call::Append((0, 0), vec![Told::Corrected(1, 3)], None, None),
        Call::Save((0, 0), (1, 2, 3), None),
        Call::UpdateRoster(0, (true, None), None),
    ];
    assert!(compare(&calls).await.is_ok());
    for number in 0..calls.len() {
        let found = compare_without(&calls, Some(number)).await;
        assert!(found.is_err(), "{:?} was not missed", calls[number]);
    }
}
