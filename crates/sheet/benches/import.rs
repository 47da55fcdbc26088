//! Importing a sheet of other people's making, against a bare scan of the same bytes.

use std::io::Cursor;
use std::ops::ControlFlow;

use calamine::Reader;
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_sheet::grid::{Encoding, Grid};
use nextrung_sheet::mapping::{KnownRung, Mapping};
use nextrung_sheet::stage::Import;

#[path = "../tests/made/workbook.rs"]
#[expect(clippy::expect_used, reason = "a workbook that cannot be made must fail")]
mod workbook;

const ROWS: u32 = 100_000;

const TITLES: [&str; 7] = ["Date", "Name", "Exercise", "Reps", "Weight", "RIR", "Notes"];

/// The cells of a row: five sets a day of each of forty athletes, invented.
fn cells(n: u32) -> [String; 7] {
    let day = n / 200;
    let date = format!("{}-{:02}-{:02}", 2024 + day / 336, 1 + day / 28 % 12, 1 + day % 28);
    let note = if n.is_multiple_of(3) { "tired, but fine" } else { "" };
    let load = if n.is_multiple_of(2) { "2.5" } else { "" };
    let name = format!("athlete-{}", n / 5 % 40);
    [date, name, "Pull-up".to_owned(), (n % 7).to_string(), load.to_owned(), "1".to_owned(), note.to_owned()]
}

fn csv() -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let written = writer.write_record(TITLES);
    assert!(written.is_ok(), "a vector takes every byte");
    for n in 0..ROWS {
        assert!(writer.write_record(cells(n)).is_ok(), "a vector takes every byte");
    }
    writer.into_inner().unwrap_or_default()
}

/// Texts as a spreadsheet program keeps them, shared; the days as texts too.
fn xlsx() -> Vec<u8> {
    let mut texts: Vec<String> = Vec::new();
    let mut known = std::collections::BTreeMap::new();
    let mut sheet = String::from("<worksheet><sheetData>");
    let titles = TITLES.map(str::to_owned);
    for row in std::iter::once(titles).chain((0..ROWS).map(cells)) {
        sheet.push_str("<row>");
        for (column, text) in row.into_iter().enumerate() {
            let letter = nextrung_sheet::grid::letters(column);
            let number = sheet.len();
            if text.parse::<f64>().is_ok() {
                sheet.push_str(&format!("<c><v>{text}</v></c>"));
            } else if text.is_empty() {
                sheet.push_str("<c/>");
            } else {
                let index = *known.entry(text.clone()).or_insert_with(|| {
                    texts.push(format!("<si><t>{text}</t></si>"));
                    texts.len() - 1
                });
                sheet.push_str(&format!("<c t=\"s\"><v>{index}</v></c>"));
            }
            assert!(sheet.len() > number, "column {letter} is written");
        }
        sheet.push_str("</row>");
    }
    sheet.push_str("</sheetData></worksheet>");
    workbook::workbook((&sheet, (0, ""), ""), ("<sst>", (1, &texts.concat()), "</sst>"))
}

/// The cells of the sheet as calamine streams them.
fn bare_scan(bytes: &[u8]) -> Result<usize, calamine::XlsxError> {
    let mut book = calamine::Xlsx::new(Cursor::new(bytes))?;
    let mut reader = book.worksheet_cells_reader("Log")?;
    let mut cells = 0;
    while reader.next_cell()?.is_some() {
        cells += 1;
    }
    Ok(cells)
}

/// What an import does: open, rehearse, hand out.
fn import(bytes: &[u8], mapping: &Mapping, rungs: &[KnownRung]) -> usize {
    let mut count = 0;
    let imported = Grid::open("bench", bytes, Encoding::Unicode).map(|grid| {
        let import = Import::new(&grid, mapping, rungs)?;
        let staged = import.rehearse()?;
        let mut take = |set: nextrung_sheet::stage::Delivered<'_>| {
            count += usize::from(!set.draft.client_set_id.is_empty());
            ControlFlow::Continue(())
        };
        import.deliver(&staged, None, &mut take)
    });
    assert!(matches!(imported, Ok(Ok(0))), "{imported:?}");
    count
}

fn mapping(bytes: &[u8], rungs: &[KnownRung]) -> Mapping {
    let guess =
        Grid::open("bench", bytes, Encoding::Unicode).and_then(|grid| Mapping::guess(&grid, None, rungs));
    let mapping = guess.map(|guess| guess.mapping).unwrap_or_default();
    Mapping { purpose: Some(Purpose::Working), stop: Some(Stop::Other), ..mapping }
}

fn speed(criterion: &mut Criterion) {
    let rungs = [KnownRung::new("pull/pull-up", Unit::Reps)];
    let (csv, xlsx) = (csv(), xlsx());
    let mut group = criterion.benchmark_group("import");
    group.sample_size(10).throughput(Throughput::Elements(u64::from(ROWS)));
    let wanted = usize::try_from(ROWS).unwrap_or(0);
    group.bench_function("bare scan of 100000 rows of CSV, the csv crate", |bencher| {
        bencher.iter(|| {
            let mut reader = csv::Reader::from_reader(csv.as_slice());
            assert_eq!(reader.byte_records().filter(Result::is_ok).count(), wanted);
        });
    });
    let said = mapping(&csv, &rungs);
    group.bench_function("import of 100000 rows of CSV", |bencher| {
        bencher.iter(|| assert_eq!(import(&csv, &said, &rungs), wanted));
    });
    group.bench_function("bare scan of 100000 rows of xlsx, calamine", |bencher| {
        bencher.iter(|| {
            let cells = bare_scan(&xlsx);
            assert!(cells.as_ref().is_ok_and(|cells| *cells > wanted), "{cells:?}");
        });
    });
    let said = mapping(&xlsx, &rungs);
    group.bench_function("import of 100000 rows of xlsx", |bencher| {
        bencher.iter(|| assert_eq!(import(&xlsx, &said, &rungs), wanted));
    });
    group.bench_function("guess of a mapping from 100000 rows of CSV", |bencher| {
        bencher.iter(|| assert!(mapping(&csv, &rungs).columns.len() == TITLES.len()));
    });
    group.finish();
}

criterion_group!(benches, speed);
criterion_main!(benches);
