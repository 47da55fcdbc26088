//! Crowds: many callers at once on one athlete and on many; positions stay dense and nobody sees a state that the log
//! never had.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use nextrung_domain::draft::SetDraft;
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_engine::engine::Engine;
use nextrung_engine::fold::Head;
use nextrung_engine::record::Recorded;
use nextrung_store::page::Page;
use nextrung_store::record::Days;
use nextrung_store::sqlite::SqliteStore;
use nextrung_store::store::Store;
use tokio::task::JoinSet;

use crate::dice::Dice;
use crate::spec::{Spec, WHATS, key};
use crate::world::{
    TODAY, World, date, difference, events, log_of, named, people, profile, request, staleness,
};

type Shared = Arc<Engine<SqliteStore>>;

/// Writes of one task.
const WRITES: u16 = 12;

fn spec(dice: &mut Dice, key: u16) -> Spec {
    let small = |value: usize| u8::try_from(value).expect("a small number");
    Spec {
        key,
        day: 560 + i32::try_from(dice.below(230)).expect("a day"),
        session: 1,
        number: small(1 + dice.below(9)),
        what: small(dice.below(usize::from(WHATS))),
        done: small(dice.below(10)),
    }
}

async fn record(engine: &Shared, athlete: &AthleteRef, specs: &[Spec]) -> Recorded {
    let drafts: Vec<SetDraft> = specs.iter().map(|spec| spec.draft()).collect();
    let id = format!("{}-{}", athlete.athlete, specs[0].key);
    engine.record_sets(athlete, &drafts, &request("RecordSets", &id, &drafts), false).await.expect("recorded")
}

/// One caller's writes on sets of its own: batches, corrections, withdrawals, a profile. The number of events.
async fn busy(engine: Shared, athlete: AthleteRef, task: u16) -> u64 {
    let mut dice = Dice::new(task.into());
    let mut written = 0;
    for write in 0..WRITES {
        let first = 1000 * task + 10 * write;
        let set = ClientSetId::new(&key(first)).expect("a key");
        let specs: Vec<Spec> = (0..3).map(|n| spec(&mut dice, first + n)).collect();
        let recorded = record(&engine, &athlete, &specs).await;
        assert_eq!(recorded.sets.len(), 3);
        assert_eq!(recorded.position, recorded.sets[2].first_sequence, "a batch is one run of sequences");
        assert_eq!(recorded.sets[2].first_sequence, recorded.sets[0].first_sequence + 2);
        written += 3;
        let id = format!("{}-{first}", athlete.athlete);
        match dice.below(4) {
            0 => {
                let other = spec(&mut dice, first).draft();
                let asked = request("CorrectSet", &id, &other);
                engine.correct_set(&athlete, &set, (&other, "misread"), &asked).await.expect("corrected");
                written += 1;
            }
            1 => {
                let asked = request("WithdrawSet", &id, &first);
                engine.withdraw_set(&athlete, &set, "not mine", &asked).await.expect("withdrawn");
                written += 1;
            }
            2 => {
                let mut renamed = profile(&["dips/ring-dip"]);
                renamed.display_name = id.clone();
                let asked = request("UpdateAthlete", &id, &renamed);
                engine.update_athlete(&athlete, |_| renamed.clone(), &asked).await.expect("renamed");
                written += 1;
            }
            _ => drop(engine.preview(&athlete, date(700)).await.expect("made")),
        }
    }
    written
}

/// Looks at the athlete's head again and again: it must always be the fold of the log up to its own position, and never
/// go back.
async fn watch(engine: Shared, athlete: AthleteRef, is_over: Arc<AtomicBool>, looks: Arc<AtomicUsize>) {
    let mut position = 0;
    while !is_over.load(Ordering::Relaxed) {
        let head = engine.head(&athlete).await.expect("a head");
        assert!(head.position >= position, "from {position} back to {}", head.position);
        position = head.position;
        let log = engine.store().events(&athlete, 0, Some(position), u32::MAX).await.expect("a log");
        let wanted = Head::of(engine.model(), &log_of(log)).expect("a profile");
        assert_eq!(difference(&head.folded, &wanted.folded), None, "at {position}");
        assert_eq!(head.profile, wanted.profile);
        looks.fetch_add(1, Ordering::Relaxed);
    }
}

async fn assert_dense(engine: &Shared, athlete: &AthleteRef, written: u64) {
    let sequences: Vec<u64> = events(engine, athlete).await.iter().map(|event| event.sequence).collect();
    assert_eq!(sequences, (1..=1 + written).collect::<Vec<_>>());
    assert_eq!(staleness(engine, athlete).await, None);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn sixteen_callers_on_one_athlete() {
    let (world, wren) = World::with_wren().await;
    let is_over = Arc::new(AtomicBool::new(false));
    let looks = Arc::new(AtomicUsize::new(0));
    let watcher = tokio::spawn(watch(world.engine.clone(), wren.clone(), is_over.clone(), looks.clone()));
    let mut written = 0;
    // Usually once; a look may wait behind all of them.
    for round in 0..4 {
        let mut callers = JoinSet::new();
        for task in 1..=16 {
            callers.spawn(busy(world.engine.clone(), wren.clone(), 16 * round + task));
        }
        written += callers.join_all().await.into_iter().sum::<u64>();
        if looks.load(Ordering::Relaxed) > 10 {
            break;
        }
    }
    is_over.store(true, Ordering::Relaxed);
    watcher.await.expect("no panic");
    assert!(looks.load(Ordering::Relaxed) > 10, "the watcher looked too seldom");
    assert!(written >= 16 * 3 * u64::from(WRITES));
    assert_dense(&world.engine, &wren, written).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_caller_on_each_of_sixty_four_athletes() {
    for heads in [4096, 5] {
        let names: Vec<String> = (1..=64).map(|n| format!("wren-{n}")).collect();
        let world = World::caching(heads).await;
        let people = people(&world.engine, &names.iter().map(String::as_str).collect::<Vec<_>>()).await;
        let mut callers = JoinSet::new();
        for (task, athlete) in (1..).zip(people) {
            let engine = world.engine.clone();
            callers.spawn(async move { (athlete.clone(), busy(engine, athlete, task % 50 + 1).await) });
        }
        let ends = callers.join_all().await;
        assert_eq!(ends.len(), 64);
        assert!(world.engine.cache_size().0 <= heads);
        for (athlete, written) in ends {
            assert_dense(&world.engine, &athlete, written).await;
        }
        assert!(world.engine.cache_size().0 <= heads);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn one_request_sent_by_many_at_once_is_done_once() {
    let (world, wren) = World::with_wren().await;
    for round in 0..20 {
        let specs: Vec<Spec> = (0..3)
            .map(|n| spec(&mut Dice::new(round), u16::try_from(10 * round).expect("few") + n))
            .collect();
        let before = events(&world.engine, &wren).await.len();
        let mut callers = JoinSet::new();
        for _ in 0..8 {
            let (engine, wren, specs) = (world.engine.clone(), wren.clone(), specs.clone());
            callers.spawn(async move { record(&engine, &wren, &specs).await });
        }
        let answers = callers.join_all().await;
        assert!(answers.iter().all(|answer| *answer == answers[0]), "{answers:#?}");
        assert_eq!(events(&world.engine, &wren).await.len(), before + 3);
    }
    assert_eq!(staleness(&world.engine, &wren).await, None);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn one_prescription_asked_for_by_many_at_once_is_issued_once() {
    let (world, wren) = World::with_wren().await;
    let writer = tokio::spawn(busy(world.engine.clone(), wren.clone(), 1));
    for round in 0..10 {
        let mut callers = JoinSet::new();
        for _ in 0..8 {
            let (engine, wren) = (world.engine.clone(), wren.clone());
            let asked = request("Prescribe", &format!("round-{round}"), &round);
            callers.spawn(async move { engine.prescribe(&wren, date(TODAY), &asked).await.expect("issued") });
        }
        let answers = callers.join_all().await;
        assert!(answers.iter().all(|answer| *answer == answers[0]));
    }
    writer.await.expect("no panic");
    let kept =
        world.engine.prescriptions(&wren, Days::default(), &Page::first(99)).await.expect("a list").items;
    let ids: BTreeSet<_> = kept.iter().map(|issued| issued.id.clone()).collect();
    assert_eq!((kept.len(), ids.len()), (10, 10));
    for issued in kept {
        world.engine.why(&wren, &issued.id.expect("an id")).await.expect("explained");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn many_prescriptions_for_one_day_have_ids_of_their_own() {
    let (world, wren) = World::with_wren().await;
    let asked = Arc::new(AtomicUsize::new(0));
    let mut callers = JoinSet::new();
    for _ in 0..16 {
        let (engine, wren, asked) = (world.engine.clone(), wren.clone(), asked.clone());
        callers.spawn(async move {
            let number = asked.fetch_add(1, Ordering::Relaxed);
            let asked = request("Prescribe", &format!("caller-{number}"), &number);
            engine.prescribe(&wren, date(TODAY), &asked).await.expect("issued").id.expect("an id")
        });
    }
    let ids: BTreeSet<_> = callers.join_all().await.into_iter().collect();
    assert_eq!(ids.len(), 16);
}

#[tokio::test]
async fn a_cache_holds_no_more_heads_than_it_may() {
    let names: Vec<String> = (1..=20).map(|n| format!("wren-{n}")).collect();
    let world = World::caching(3).await;
    people(&world.engine, &names.iter().map(String::as_str).collect::<Vec<_>>()).await;
    for name in names.iter().chain(&names) {
        let wren = named(name);
        world.engine.preview(&wren, date(TODAY)).await.expect("made");
        assert!(world.engine.cache_size().0 <= 3);
        assert_eq!(staleness(&world.engine, &wren).await, None);
    }
    assert_eq!(world.engine.cache_size().0, 3);
}
