//! Memory: tables of predictions are written as they come, counted by the allocator.

#![expect(clippy::expect_used, reason = "a table that cannot be written must fail")]

use std::alloc::System;

use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_replay::evaluate::row::Row;
use nextrung_replay::output::csv_file::CsvFile;
use nextrung_replay::output::parquet_file::{GROUP_ROWS, ParquetFile};
use nextrung_replay::output::row_file::RowFile;
use stats_alloc::{INSTRUMENTED_SYSTEM, Region, StatsAlloc};

#[global_allocator]
static ALLOCATOR: &StatsAlloc<System> = &INSTRUMENTED_SYSTEM;

/// Rows that come at once.
const AT_ONCE: usize = 4096;

fn batch(number: usize) -> Vec<Row> {
    let row = |at: usize| Row {
        athlete: format!("athlete {}", at / 40_000),
        set: format!("set {}", at / 10),
        date: CivilDate::from_day_number(20_000).expect("a day"),
        session: 1,
        number: 1,
        arrived_at_ms: 1_800_000_000_000,
        rung: "pull/one-arm".to_owned(),
        unit: Unit::Reps,
        purpose: Purpose::Working,
        target: Some(5),
        done: 4,
        stop: Stop::Strength,
        forecaster: at % 10,
        top: 5,
        // No two alike, so that compression has no easy time.
        log_ending: f64::from(u32::try_from(at).expect("few")).sqrt(),
        log_count: 0.5,
        failed: [0.3, 0.2, 0.1],
        whole: None,
    };
    (number * AT_ONCE..(number + 1) * AT_ONCE).map(row).collect()
}

/// Bytes held after each batch of a table of so many batches.
fn held(mut file: Box<dyn RowFile>, batches: usize) -> Vec<usize> {
    let region = Region::new(ALLOCATOR);
    let mut found = Vec::with_capacity(batches);
    for number in 0..batches {
        file.rows(&batch(number)).expect("taken");
        let change = region.change();
        found.push(change.bytes_allocated.saturating_sub(change.bytes_deallocated));
    }
    file.finish().expect("finished");
    found
}

#[test]
fn memory_does_not_grow_with_the_rows() {
    let names: Vec<String> = (0..10).map(|at| format!("forecaster {at}")).collect();
    let csv = held(Box::new(CsvFile::new(std::io::sink(), names.clone()).expect("begun")), 80);
    assert!(csv.iter().all(|bytes| *bytes < 64 * 1024), "{csv:?}");
    let file = ParquetFile::new(std::io::sink(), names).expect("begun");
    // Five groups: 327,680 rows.
    let in_group = GROUP_ROWS / AT_ONCE;
    let parquet = held(Box::new(file), 5 * in_group);
    let most = |group: usize| parquet[group * in_group..(group + 1) * in_group].iter().max().expect("some");
    assert!(most(4).abs_diff(*most(1)) < 256 * 1024, "{parquet:?}");
    assert!(*most(4) < 32 << 20, "{parquet:?}");
}
