//! Cost of a warm prescription in process: one athlete, one ladder of 15 rungs with their shadings and loads.

#![expect(clippy::expect_used, clippy::panic, reason = "a benchmark that cannot build its athlete must fail")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use nextrung_prescribe::candidate::{Aim, in_question, score};
use nextrung_prescribe::explain::explain;
use nextrung_prescribe::session::prescribe;

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

criterion_group!(benches, warm);
criterion_main!(benches);
