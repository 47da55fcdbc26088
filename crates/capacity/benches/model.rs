//! Costs of the model: one set, a history, a day's outlooks.
//!
//! Targets on one core of a common server: a set with three abilities, 17 coordinates in all, in at most 1.5
//! microseconds; a history of 4,500 sets in a few milliseconds.

#![expect(clippy::expect_used, reason = "a bench that cannot build its ladder must stop")]

use std::hint::black_box;
use std::sync::Arc;

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use nextrung_capacity::done::Done;
use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::outlook::Strain;
use nextrung_capacity::params::Parameters;
use nextrung_capacity::state::AthleteState;
use nextrung_capacity::task::Task;
use nextrung_domain::band::Band;
use nextrung_domain::ids::RungRef;
use nextrung_domain::ladder_file::{NamedText, load_catalog};
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::Stop;

const RUNGS: u8 = 15;
const KINDS: [&str; 3] = ["strength", "balance", "line"];
const FIRST_DAY: i32 = 20_000;

/// An invented ladder of 15 rungs; those with an even number ask for strength, balance and line, the others not for line.
fn model() -> Model {
    let ability = |kind: &str| {
        format!(
            "[[ability]]\nid = \"{kind}\"\nname = \"{kind}\"\nkind = \"{kind}\"\nanchor = \"press/r0\"\n\
             start_level = 2.5\nstart_sd = 0.9\nsource = \"invented\"\n"
        )
    };
    let demand = |rung: u8, kind: &str| {
        let (basis, sd) = if rung == 0 { ("anchor", 0.0) } else { ("estimate", 0.1) };
        format!(
            "[[rung.demand]]\nability = \"{kind}\"\ndifficulty = {:.1}\nsd = {sd}\nbasis = \"{basis}\"\n\
             source = \"invented\"\n",
            0.3 * f64::from(rung)
        )
    };
    let mut ladder =
        "id = \"press\"\nname = \"Press\"\nversion = 1\nside = \"bent-arm\"\nabout = \"Invented.\"\n\
                      cautions = []\n"
            .to_owned();
    for rung in 0..RUNGS {
        ladder +=
            &format!("[[rung]]\nid = \"r{rung}\"\nname = \"{rung}\"\nunit = \"reps\"\ncues = [\"go\"]\n");
        let asked = if rung % 2 == 0 { 3 } else { 2 };
        ladder.extend(KINDS.iter().take(asked).map(|kind| demand(rung, kind)));
    }
    let abilities: String = KINDS.iter().map(|kind| ability(kind)).collect();
    let ladders = [NamedText { name: "press.toml", text: &ladder }];
    let catalog = load_catalog(NamedText { name: "abilities.toml", text: &abilities }, &ladders);
    Model::new(Arc::new(catalog.expect("a sound ladder")), Parameters::default())
}

fn tasks(model: &Model) -> Vec<Task> {
    let task = |rung| {
        let name = RungRef::parse(&format!("press/r{rung}")).expect("a name");
        Task::new(&model.catalog, model.catalog.find(&name).expect("a rung"), &[], 1.0)
    };
    (0..RUNGS).map(task).collect()
}

fn set(day: i32, units: u16, stop: Stop) -> Done {
    Done { day, session: 1, units, target: Some(5), stop, reserve: None, rest_seconds: Some(150) }
}

/// Two years, 4,500 sets, a dozen every second day: rungs, units and stops by a fixed sequence.
fn history() -> Vec<(usize, Done)> {
    let mut random: u32 = 1;
    let mut next = |below: u32| {
        random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (random >> 8) % below
    };
    let stops = [Stop::Target, Stop::Target, Stop::Strength, Stop::Balance, Stop::Line, Stop::Failed];
    let mut sets = Vec::new();
    for at in 0..4500_i32 {
        let day = FIRST_DAY + at * 730 / 4500 / 2 * 2;
        let rung = usize::try_from(next(u32::from(RUNGS))).expect("small");
        let stop = stops[usize::try_from(next(6)).expect("small")];
        let units = if stop == Stop::Target { 5 } else { u16::try_from(next(5)).expect("small") };
        sets.push((rung, set(day, units, stop)));
    }
    sets
}

fn fold(model: &Model, tasks: &[Task], sets: &[(usize, Done)]) -> AthleteState {
    let mut state = AthleteState::new(&model.parameters);
    let mut scratch = Scratch::default();
    for (rung, done) in sets {
        black_box(state.observe(model, &mut scratch, (&tasks[*rung], done)));
    }
    state
}

fn one_set(c: &mut Criterion) {
    let model = model();
    let tasks = tasks(&model);
    let met =
        fold(&model, &tasks, &[(0, set(FIRST_DAY, 5, Stop::Target)), (1, set(FIRST_DAY, 4, Stop::Strength))]);
    assert_eq!(met.blocks.iter().map(|block| block.mean.len()).sum::<usize>(), 17);
    let mut scratch = Scratch::default();
    let mut group = c.benchmark_group("one set of three abilities, 17 coordinates");
    for (name, done) in [
        ("failed by balance", set(FIRST_DAY, 3, Stop::Balance)),
        ("failed by balance, two days later", set(FIRST_DAY + 2, 3, Stop::Balance)),
        ("failed, cause not said", set(FIRST_DAY, 3, Stop::Failed)),
        ("target reached", set(FIRST_DAY, 5, Stop::Target)),
    ] {
        group.bench_function(name, |b| {
            let observe = |state: &mut AthleteState| state.observe(&model, &mut scratch, (&tasks[0], &done));
            b.iter_batched_ref(|| met.clone(), observe, BatchSize::SmallInput);
        });
    }
    group.finish();
}

fn two_years(c: &mut Criterion) {
    let model = model();
    let tasks = tasks(&model);
    let sets = history();
    let mut group = c.benchmark_group("history");
    group.sample_size(20);
    group.throughput(Throughput::Elements(4500));
    group.bench_function("4,500 sets on 15 rungs", |b| b.iter(|| fold(&model, &tasks, black_box(&sets))));
    group.finish();
}

fn outlooks(c: &mut Criterion) {
    let model = model();
    let tasks = tasks(&model);
    let state = fold(&model, &tasks, &history());
    let day = FIRST_DAY + 735;
    let working = Band::new(Unit::Reps, 3, 5).expect("a band");
    let mut group = c.benchmark_group("outlook");
    group.bench_function("the state on a later day", |b| {
        b.iter(|| black_box(state.on(&model.parameters, black_box(day))));
    });
    group.bench_function("a later day and the band of 15 rungs", |b| {
        b.iter(|| {
            let later = state.on(&model.parameters, black_box(day));
            let chance = |task| later.outlook(&model, task).in_and_above(working, Strain::NONE).0;
            tasks.iter().map(chance).sum::<f64>()
        });
    });
    group.bench_function("endings of one rung with a target of 5", |b| {
        let seen = state.outlook(&model, &tasks[8]);
        b.iter(|| black_box(&seen).endings(5, Strain::NONE));
    });
    group.finish();
}

criterion_group!(benches, one_set, two_years, outlooks);
criterion_main!(benches);
