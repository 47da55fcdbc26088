//! Reading a sheet of 100,000 sets.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_sheet::{SetReader, read_sets, write_sets};

const ROWS: i64 = 100_000;

/// Two in three rows hold no note; the third a quoted one.
fn sheet() -> Vec<u8> {
    let sets: Vec<SetDraft> = (0..ROWS)
        .map(|n| SetDraft {
            client_set_id: format!("w{n}"),
            training_date: Some((2020 + n / 40_000, 1 + n / 3_400 % 12, 1 + n / 200 % 28)),
            session: 1,
            set_number: 1 + n % 20,
            rung: "pull/pull-up".to_owned(),
            purpose: Choice::Known(Purpose::Working),
            shadings: vec!["light-band".to_owned()],
            done: Some((Unit::Reps, n % 7)),
            planned_target: Some(5),
            stop: Choice::Known(Stop::Strength),
            rest_seconds: Some(180),
            load_kg: Some(2.5),
            body_mass_kg: Some(61.2),
            note: if n % 3 == 0 { "tired, but \"fine\"".to_owned() } else { String::new() },
            ..SetDraft::default()
        })
        .collect();
    let mut bytes = Vec::new();
    let written = write_sets(&mut bytes, sets.iter().map(|s| ("wren", s)));
    assert!(written.is_ok(), "a vector takes every byte");
    bytes
}

fn read(criterion: &mut Criterion) {
    let sheet = sheet();
    let mut group = criterion.benchmark_group("sheet");
    group.sample_size(20).throughput(Throughput::Bytes(sheet.len() as u64));
    group.bench_function("walk 100000 rows", |bencher| {
        bencher.iter(|| {
            let rows = SetReader::open(&sheet).map(|reader| reader.filter(Result::is_ok).count());
            assert_eq!(rows.ok(), usize::try_from(ROWS).ok());
        });
    });
    group.bench_function("read 100000 rows", |bencher| {
        bencher.iter(|| {
            let rows = read_sets(&sheet).map(|rows| rows.len());
            assert_eq!(rows.ok(), usize::try_from(ROWS).ok());
        });
    });
    group.finish();
}

criterion_group!(benches, read);
criterion_main!(benches);
