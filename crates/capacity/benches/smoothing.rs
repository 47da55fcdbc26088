//! Cost of the filter and of smoothing over two years of an athlete's sets, on the project's own ladders.
//!
//! How the sets ended is made up by counting and says nothing of training; only the time matters.

use std::fs;
use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;

use criterion::{Criterion, criterion_group, criterion_main};
use nextrung_capacity::done::Done;
use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_capacity::smooth::{Sweeps, log_evidence, smooth};
use nextrung_capacity::state::AthleteState;
use nextrung_capacity::task::Task;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ladder_file::{NamedText, load_catalog};
use nextrung_domain::stop::Stop;

const SESSIONS: u16 = 410;
const SETS: u16 = 11;

fn catalog() -> Option<Catalog> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data");
    let abilities = fs::read_to_string(data.join("abilities.toml")).ok()?;
    let files = fs::read_dir(data.join("ladders")).ok()?.filter_map(|entry| Some(entry.ok()?.path()));
    let mut paths: Vec<_> = files.filter(|path| path.extension().is_some_and(|e| e == "toml")).collect();
    paths.sort();
    let texts: Vec<String> = paths.iter().filter_map(|path| fs::read_to_string(path).ok()).collect();
    let ladders: Vec<_> = texts.iter().map(|text| NamedText { name: "ladder", text }).collect();
    load_catalog(NamedText { name: "abilities", text: &abilities }, &ladders).ok()
}

/// About two years, four sessions a week, each on a few rungs near where the model expects three to seven units.
fn sets(model: &Model) -> Vec<(Task, Done)> {
    let count = u16::try_from(model.catalog.rung_count()).unwrap_or(u16::MAX);
    let rungs = (0..count).map(|at| Task::new(&model.catalog, RungIx(at), &[], 1.0));
    let fresh = AthleteState::new(&model.parameters);
    let fits = |task: &Task| (3.0..8.0).contains(&fresh.outlook(model, task).quantile(0.5));
    let tasks: Vec<Task> = rungs.filter(fits).collect();
    assert!(tasks.len() > 20, "{} rungs fit", tasks.len());
    let ends = [Stop::Target, Stop::Strength, Stop::Target, Stop::Failed, Stop::Chosen];
    let mut sets = Vec::new();
    for session in 0..SESSIONS {
        for set in 0..SETS {
            let task = &tasks[usize::from(session * 7 + set / 3) % tasks.len()];
            let at = usize::from(session + set);
            let done = Done {
                day: i32::from(session) * 2,
                session: 1,
                units: 3 + (session + set) % 3,
                target: Some(6),
                stop: ends[at % ends.len()],
                reserve: (at % 4 == 0).then_some(2),
                rest_seconds: None,
            };
            sets.push((task.clone(), done));
        }
    }
    sets
}

fn histories(criterion: &mut Criterion) {
    let catalog = catalog();
    assert!(catalog.is_some(), "the ladders in data/ do not load");
    let Some(catalog) = catalog else { return };
    let model = Model::new(Arc::new(catalog), Parameters::default());
    let sets = sets(&model);
    let mut group = criterion.benchmark_group("4,510 sets");
    group.sample_size(10);
    group.bench_function("filter", |bencher| {
        bencher.iter(|| {
            let (mut state, mut scratch) = (AthleteState::new(&model.parameters), Scratch::default());
            for (task, done) in &sets {
                black_box(state.observe(&model, &mut scratch, (task, done)));
            }
            state
        });
    });
    group.bench_function("log evidence, three sweeps", |bencher| {
        bencher.iter(|| log_evidence(&model, black_box(&sets), Sweeps::default()));
    });
    group.bench_function("smooth, three sweeps", |bencher| {
        bencher.iter(|| smooth(&model, black_box(&sets), Sweeps::default()));
    });
    group.finish();
}

criterion_group!(benches, histories);
criterion_main!(benches);
