//! Prescriptions: made from the sets before the day and from nothing else, kept as issued, read back equal.

use std::collections::BTreeSet;

use nextrung_domain::draft::SetDraft;
use nextrung_domain::ids::{AthleteRef, PrescriptionId};
use nextrung_domain::profile_draft::ProfileDraft;
use nextrung_engine::error::EngineError;
use nextrung_engine::issued::Issued;
use nextrung_engine::prescribe::MAX_DAYS_AHEAD;
use nextrung_store::error::StoreError;
use nextrung_store::page::Page;
use nextrung_store::record::Days;

use crate::dice::Dice;
use crate::spec::{Spec, WHATS};
use crate::world::{TODAY, World, date, named, parts, people, profile, request};

/// Histories of the tests over many of them.
const HISTORIES: u64 = 60;

/// Some weeks of training, in training order.
fn weeks(seed: u64) -> Vec<Spec> {
    let mut dice = Dice::new(seed);
    let small = |value: usize| u8::try_from(value).expect("a small number");
    let favourites: Vec<u8> = (0..3).map(|_| small(dice.below(usize::from(WHATS)))).collect();
    let mut sets = Vec::new();
    for day in (0..90).filter(|day| day % 3 == 0) {
        for number in 1..=1 + dice.below(6) {
            let what =
                if dice.once_in(4) { small(dice.below(usize::from(WHATS))) } else { *dice.pick(&favourites) };
            let key = u16::try_from(sets.len()).expect("few sets");
            let done = small(dice.below(9));
            sets.push(Spec { key, day: 640 + day, session: 1, number: small(number), what, done });
        }
    }
    sets
}

async fn record(world: &World, athlete: &AthleteRef, id: &str, specs: &[Spec]) {
    let drafts: Vec<SetDraft> = specs.iter().map(|spec| spec.draft()).collect();
    for (number, batch) in drafts.chunks(200).enumerate() {
        let asked = request("RecordSets", &format!("{}-{id}-{number}", athlete.athlete), &batch);
        world.engine.record_sets(athlete, batch, &asked, false).await.expect("recorded");
    }
}

async fn issue(world: &World, athlete: &AthleteRef, id: &str, day: i32) -> Issued {
    let asked = request("Prescribe", &format!("{}-{id}", athlete.athlete), &day);
    world.engine.prescribe(athlete, date(day), &asked).await.expect("issued")
}

fn names(seeds: std::ops::Range<u64>) -> Vec<String> {
    seeds.map(|seed| format!("wren-{seed}")).collect()
}

async fn world_of(names: &[String]) -> World {
    let world = World::caching(4).await;
    people(&world.engine, &names.iter().map(String::as_str).collect::<Vec<_>>()).await;
    world
}

#[tokio::test]
async fn sets_on_the_day_and_after_it_change_nothing() {
    let names = names(0..HISTORIES);
    let world = world_of(&names).await;
    let mut dice = Dice::new(7);
    for (seed, name) in (0..).zip(&names) {
        let wren = named(name);
        let sets = weeks(seed);
        let day = 640 + 30 + i32::try_from(dice.below(60)).expect("a day");
        let split = sets.partition_point(|spec| spec.day < day);
        record(&world, &wren, "before", &sets[..split]).await;
        let before = world.engine.preview(&wren, date(day)).await.expect("made");
        let mut later = sets[split..].to_vec();
        later.push(Spec { key: 900, day, session: 2, number: 9, what: 6, done: 9 });
        dice.shuffle(&mut later);
        record(&world, &wren, "after", &later).await;
        let after = world.engine.preview(&wren, date(day)).await.expect("made");
        assert_eq!(after.prescription, before.prescription, "{name}");
        assert!(after.log_position > before.log_position);
        let next = world.engine.preview(&wren, date(day + 1)).await.expect("made");
        assert_ne!(next.prescription, before.prescription, "{name}: pain on the day counts on the next");
    }
}

#[tokio::test]
async fn what_is_kept_reads_back_equal() {
    let names = names(100..100 + HISTORIES);
    let world = world_of(&names).await;
    let mut kinds = BTreeSet::new();
    for (seed, name) in (100..).zip(&names) {
        let wren = named(name);
        record(&world, &wren, "all", &weeks(seed)).await;
        for day in [640, 671, 702, 735, 800, 1100] {
            let issued = issue(&world, &wren, &day.to_string(), day).await;
            let id = issued.id.clone().expect("an id");
            assert_eq!(world.engine.prescription(&wren, &id).await.expect("kept"), issued);
            kinds.insert(format!("{:?}", issued.prescription.kind));
        }
    }
    assert!(kinds.len() >= 3, "only {kinds:?}");
}

#[tokio::test]
async fn a_repeated_request_gets_the_one_kept_first() {
    let (world, wren) = World::with_wren().await;
    record(&world, &wren, "some", &weeks(1)).await;
    let first = issue(&world, &wren, "one", TODAY).await;
    record(&world, &wren, "more", &[Spec { key: 901, day: 790, session: 1, number: 1, what: 3, done: 1 }])
        .await;
    assert_eq!(issue(&world, &wren, "one", TODAY).await, first);
    let world = world.restarted().await;
    assert_eq!(issue(&world, &wren, "one", TODAY).await, first);
    let other = request("Prescribe", "wren-one", &(TODAY + 1));
    let found = world.engine.prescribe(&wren, date(TODAY + 1), &other).await;
    assert!(matches!(found, Err(EngineError::Store(StoreError::RequestReused { .. }))), "{found:?}");
}

#[tokio::test]
async fn two_requests_for_one_day_have_ids_of_their_own() {
    let (world, wren) = World::with_wren().await;
    record(&world, &wren, "some", &weeks(2)).await;
    let mut ids = BTreeSet::new();
    for number in 0..12 {
        let issued = issue(&world, &wren, &number.to_string(), TODAY).await;
        ids.insert(issued.id.expect("an id"));
    }
    assert_eq!(ids.len(), 12);
}

#[tokio::test]
async fn kept_ones_are_listed_latest_day_first() {
    let (world, wren) = World::with_wren().await;
    record(&world, &wren, "some", &weeks(3)).await;
    let mut wanted = Vec::new();
    for day in [700, 760, 720, 760, 740] {
        wanted.push(issue(&world, &wren, &wanted.len().to_string(), day).await);
    }
    wanted.sort_by_key(|issued| std::cmp::Reverse((issued.prescription.date, issued.issued_at_ms)));
    let mut page = Page::first(2);
    let mut found = Vec::new();
    loop {
        let part = world.engine.prescriptions(&wren, Days::default(), &page).await.expect("a page");
        found.extend(part.items);
        let Some(next) = part.next else { break };
        page = Page::after(2, next);
    }
    assert_eq!(found, wanted);
    let days = Days { from: Some(date(720)), to: Some(date(740)) };
    let part = world.engine.prescriptions(&wren, days, &Page::first(9)).await.expect("a page");
    assert_eq!(part.items, wanted[2..4]);
}

#[tokio::test]
async fn days_before_birth_and_far_ahead_are_refused() {
    let world = World::caching(4).await;
    people(&world.engine, &[]).await;
    let born = ProfileDraft { birth_date: Some(parts(100)), ..profile(&["pull/pull-up"]) };
    let asked = request("CreateAthlete", "lark", &born);
    let lark = world.engine.create_athlete(named("lark"), &born, &asked).await.expect("an athlete").id;
    for (day, is_taken) in
        [(99, false), (100, true), (TODAY + MAX_DAYS_AHEAD, true), (TODAY + MAX_DAYS_AHEAD + 1, false)]
    {
        let found = world.engine.preview(&lark, date(day)).await;
        match found {
            Ok(_) => assert!(is_taken, "day {day} was taken"),
            Err(EngineError::BadFields { problems }) => {
                assert!(!is_taken, "day {day} was refused");
                assert_eq!(problems.len(), 1);
                assert_eq!(problems[0].field, "date");
            }
            Err(error) => panic!("day {day}: {error}"),
        }
    }
    let kept = world.engine.prescriptions(&lark, Days::default(), &Page::first(9)).await.expect("a list");
    assert_eq!(kept.items, []);
}

#[tokio::test]
async fn unknown_athletes_and_prescriptions_are_named() {
    let (world, wren) = World::with_wren().await;
    let found = world.engine.preview(&named("nobody"), date(TODAY)).await;
    match found {
        Err(EngineError::Store(StoreError::NotFound { what, name })) => {
            assert_eq!((what, name.as_str()), ("athlete", "rosters/gym/athletes/nobody"));
        }
        other => panic!("{other:?}"),
    }
    let id = PrescriptionId::new("p-20260311-l1-1").expect("an id");
    let found = world.engine.prescription(&wren, &id).await;
    assert!(matches!(found, Err(EngineError::Store(StoreError::NotFound { what: "prescription", .. }))));
}
