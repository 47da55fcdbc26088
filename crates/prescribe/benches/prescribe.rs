//! Cost of a warm prescription in process: one athlete, one ladder of 15 rungs with their shadings and loads.

#![expect(clippy::expect_used, clippy::panic, reason = "a benchmark that cannot build its athlete must fail")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use nextrung_capacity::done::Done;
use nextrung_capacity::task::Task;
use nextrung_domain::ids::RungRef;
use nextrung_domain::stop::Stop;
use nextrung_prescribe::candidate::{Aim, in_question, score};
use nextrung_prescribe::explain::explain;
use nextrung_prescribe::forecast::forecast;
use nextrung_prescribe::session::prescribe;
use nextrung_prescribe::trend::{Span, trends};

#[expect(dead_code, reason = "the tests use more of it")]
#[path = "../tests/support/gym.rs"]
mod gym;

use gym::{Athlete, did, missed, tested};

/// Half a year on the pull ladder.
fn puller() -> Athlete {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 60), tested("pull/pull-up", 9)]);
    for day in (3..180).step_by(3) {
        wren.log(
            day,
            [
                missed("pull/archer", 2, 3),
                did("pull/chest-to-bar", 5),
                did("pull/chest-to-bar", 5),
                missed("pull/chest-to-bar", 4, 5),
            ],
        );
    }
    wren
}

fn warm(c: &mut Criterion) {
    let wren = puller();
    let ladder = wren.profile.goals[0].rung.ladder.clone();
    wren.at(182, |at| {
        let shown = prescribe(at);
        assert!(shown.items.len() >= 2, "work and attempts: {shown:#?}");
        c.bench_function("warm prescription, pull ladder", |b| {
            b.iter(|| black_box(prescribe(black_box(at))));
        });
        c.bench_function("candidates of the pull ladder", |b| {
            b.iter(|| black_box(in_question(black_box(at), &ladder)));
        });
        let mut found = in_question(at, &ladder);
        c.bench_function("scores of the pull ladder", |b| {
            b.iter(|| score(black_box(at), black_box(&mut found), Aim::Working, (4, 180), 0.0));
        });
        c.bench_function("explanation, pull ladder", |b| b.iter(|| black_box(explain(black_box(at)))));
    });
    c.bench_function("state moved to the day", |b| {
        b.iter(|| black_box(wren.state.on(&wren.model.parameters, gym::date(182).day_number())));
    });
}

/// Two years of one ladder and the questions about its course.
fn course(c: &mut Criterion) {
    let wren = puller();
    let find = |name: &str| {
        let rung = RungRef::parse(name).expect("a rung");
        wren.model.catalog.find(&rung).expect("a known rung")
    };
    let done = |day: i32, stop: Stop| Done {
        day: gym::date(182 - day).day_number(),
        session: 1,
        units: 5,
        target: Some(5 + u16::from(stop == Stop::Strength)),
        stop,
        reserve: None,
        rest_seconds: Some(180),
    };
    let task = Task::new(&wren.model.catalog, find("pull/chest-to-bar"), &[], 1.0);
    let stops = [Stop::Target, Stop::Target, Stop::Strength];
    let days = (0..728).rev().filter(|day| day % 7 < 3);
    let sets: Vec<(Task, Done)> =
        days.flat_map(|day| stops.map(|stop| (task.clone(), done(day, stop)))).collect();
    let goal = find("pull/one-arm-pull-up");
    wren.at(182, |at| {
        for weeks in [12, 52] {
            c.bench_function(&format!("forecast of {weeks} weeks, one strength"), |b| {
                b.iter(|| black_box(forecast(black_box(at), &sets, goal, weeks)));
            });
        }
        let press = find("press/free-press");
        c.bench_function("forecast of 12 weeks, several abilities", |b| {
            b.iter(|| black_box(forecast(black_box(at), &sets, press, 12)));
        });
    });
    let last = gym::date(182).day_number();
    c.bench_function("trend of 12 weeks from 936 sets", |b| {
        b.iter(|| black_box(trends(&wren.model, &sets, Span { first: last - 83, last }, &[task.rung, goal])));
    });
}

criterion_group!(benches, warm, course);
criterion_main!(benches);
