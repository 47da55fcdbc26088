//! Costs of the use cases: a prescription asked for again, why, a cold athlete of 4,500 sets, late sets, memory per
//! athlete.
//!
//! `cargo bench -p nextrung-engine`. Targets on one core of a common server: an athlete of two years from the log to a prescription in at
//! most 15 milliseconds; at most 20 KB for a cached athlete. The log lies where the system keeps temporary files, in
//! memory where it can: what the disk adds to a write is measured by the store's own bench.

#![expect(clippy::expect_used, reason = "a bench that cannot build its log must stop")]

use std::hint::black_box;
use std::io::Write;
use std::time::{Duration, Instant};

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use nextrung_domain::draft::SetDraft;
use nextrung_domain::ids::AthleteRef;
use nextrung_engine::fold::{Head, folded_before};
use tokio::runtime::Runtime;

#[path = "../tests/checks/dice.rs"]
#[expect(dead_code, reason = "only part of it is needed here")]
mod dice;
#[path = "../tests/checks/two_years.rs"]
mod two_years;
#[path = "../tests/checks/world.rs"]
#[expect(dead_code, reason = "only part of it is needed here")]
mod world;

use world::{TODAY, World, date, events, log_of, model, named, people, profile, request};

async fn record(world: &World, athlete: &AthleteRef, id: &str, sets: &[SetDraft]) {
    for (number, batch) in sets.chunks(1000).enumerate() {
        let asked = request("RecordSets", &format!("{}-{id}-{number}", athlete.athlete), &batch);
        world.engine.record_sets(athlete, batch, &asked, false).await.expect("recorded");
    }
}

/// Athletes with the log of two years: of all its ladders, and of the one that has 15 rungs.
async fn trained(world: &World) {
    people(&world.engine, &["wren", "lark", "robin"]).await;
    let asked = request("UpdateAthlete", "one-goal", &"robin");
    let one_goal = profile(&["pull/one-arm-pull-up"]);
    world.engine.update_athlete(&named("robin"), |_| one_goal.clone(), &asked).await.expect("changed");
    let log = two_years::log();
    record(world, &named("wren"), "log", &log).await;
    record(world, &named("lark"), "log", &log).await;
    let pulls: Vec<SetDraft> = log.into_iter().filter(|set| set.rung.starts_with("pull/")).collect();
    record(world, &named("robin"), "log", &pulls).await;
}

fn warm(c: &mut Criterion, runtime: &Runtime, world: &World) {
    let mut group = c.benchmark_group("warm prescription, asked for again");
    for (name, athlete) in [("one ladder of 15 rungs", "robin"), ("two goals", "wren")] {
        let athlete = named(athlete);
        group.bench_function(name, |b| {
            b.iter(|| {
                runtime.block_on(world.engine.preview(black_box(&athlete), date(TODAY))).expect("made")
            });
        });
    }
    group.finish();
    let asked = request("Prescribe", "why", &TODAY);
    let issued =
        runtime.block_on(world.engine.prescribe(&named("robin"), date(TODAY), &asked)).expect("kept");
    let id = issued.id.expect("an id");
    // Two days in turn, since an answer that was just given is remembered.
    let mut days = [TODAY, TODAY + 2].into_iter().cycle();
    c.bench_function("warm prescription made anew, the floor of why", |b| {
        b.iter(|| {
            let day = date(days.next().expect("two without end"));
            runtime.block_on(world.engine.preview(&named("robin"), black_box(day))).expect("made")
        });
    });
    c.bench_function("why, from the log of one ladder", |b| {
        b.iter(|| runtime.block_on(world.engine.why(&named("robin"), black_box(&id))).expect("explained"));
    });
}

fn cold(c: &mut Criterion, runtime: &Runtime, world: &World) {
    let mut group = c.benchmark_group("two years of 4,500 sets");
    group.throughput(Throughput::Elements(4500)).sample_size(40);
    let turns = [named("wren"), named("lark")];
    let mut turn = turns.iter().cycle();
    group.bench_function("log to prescription", |b| {
        b.iter(|| {
            let athlete = turn.next().expect("two without end");
            runtime.block_on(world.engine.preview(athlete, date(TODAY))).expect("made")
        });
    });
    let wren = named("wren");
    group.bench_function("of it, reading events", |b| {
        b.iter(|| runtime.block_on(events(&world.engine, &wren)));
    });
    let stored = runtime.block_on(events(&world.engine, &wren));
    group.bench_function("of it, events to sets", |b| {
        b.iter_batched(|| stored.clone(), log_of, criterion::BatchSize::LargeInput);
    });
    let log = log_of(stored);
    group.bench_function("of it, folding", |b| b.iter(|| Head::of(model(), black_box(&log))));
    group.bench_function("a prescription for a day gone by", |b| {
        b.iter(|| folded_before(model(), black_box(&log), date(600)));
    });
    group.finish();
}

/// A set like one of the log, after all others of a day.
fn another(like: &SetDraft, number: u64, day: i32) -> SetDraft {
    SetDraft {
        client_set_id: format!("more-{number}"),
        training_date: Some(world::parts(day)),
        session: 9,
        set_number: 200,
        ..like.clone()
    }
}

fn recording(c: &mut Criterion, runtime: &Runtime, world: &World) {
    let mut group = c.benchmark_group("one more set");
    group.sample_size(10).measurement_time(Duration::from_secs(2));
    let (wren, like) = (named("wren"), two_years::log().swap_remove(0));
    // Sets in order last: there are so many of them in the time that the log grows many times longer.
    let places = [("late, long ago", 300), ("in order", TODAY)];
    let mut number = 0;
    for (name, day) in places {
        group.bench_function(name, |b| {
            b.iter_custom(|times| {
                let mut took = Duration::ZERO;
                for _ in 0..times {
                    number += 1;
                    let sets = [another(&like, number, day)];
                    let asked = request("RecordSets", &format!("more-{number}"), &sets);
                    runtime.block_on(world.engine.head(&wren)).expect("a head");
                    let start = Instant::now();
                    runtime
                        .block_on(world.engine.record_sets(&wren, &sets, &asked, false))
                        .expect("recorded");
                    took += start.elapsed();
                }
                took
            });
        });
    }
    group.finish();
}

fn benches(c: &mut Criterion) {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    let room = runtime.block_on(World::caching(64));
    runtime.block_on(trained(&room));
    warm(c, &runtime, &room);
    for athlete in ["robin", "wren"] {
        let head = runtime.block_on(room.engine.head(&named(athlete))).expect("a head");
        let line = format!("memory of {athlete}: {} bytes", head.bytes());
        writeln!(std::io::stderr(), "{line}").expect("a place to write to");
    }
    recording(c, &runtime, &room);
    let crowded = runtime.block_on(World::caching(1));
    runtime.block_on(trained(&crowded));
    cold(c, &runtime, &crowded);
}

criterion_group!(all, benches);
criterion_main!(all);
