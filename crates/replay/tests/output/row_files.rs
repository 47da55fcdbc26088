//! Tables of predictions read back: both kinds hold the same, and the same rows give the same bytes.

use std::fs::File;
use std::io::{Seek, SeekFrom, Write};

use parquet::basic::{ConvertedType, Type as Physical};
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;

use nextrung_replay::evaluate::row::Row;
use nextrung_replay::output::OutputError;
use nextrung_replay::output::column::{COLUMNS, Kind};
use nextrung_replay::output::csv_file::CsvFile;
use nextrung_replay::output::parquet_file::{GROUP_ROWS, ParquetFile};
use nextrung_replay::output::row_file::RowFile;

use crate::sample::{names, row};

fn rows(count: u32) -> Vec<Row> {
    (0..count).map(row).collect()
}

fn fill<'b>(mut file: Box<dyn RowFile + 'b>, rows: &[Row], at_once: usize) {
    rows.chunks(at_once).for_each(|rows| file.rows(rows).expect("taken"));
    file.finish().expect("finished");
}

fn csv(rows: &[Row], at_once: usize) -> Vec<u8> {
    let mut bytes = Vec::new();
    fill(Box::new(CsvFile::new(&mut bytes, names()).expect("begun")), rows, at_once);
    bytes
}

fn parquet(rows: &[Row], at_once: usize) -> Vec<u8> {
    let mut bytes = Vec::new();
    fill(Box::new(ParquetFile::new(&mut bytes, names()).expect("begun")), rows, at_once);
    bytes
}

/// Reads from a file, since the crate reads from nothing else that is at hand.
fn reader(bytes: &[u8]) -> SerializedFileReader<File> {
    let mut file = tempfile::tempfile().expect("a file");
    file.write_all(bytes).expect("written");
    file.seek(SeekFrom::Start(0)).expect("rewound");
    SerializedFileReader::new(file).expect("a Parquet file")
}

/// A cell as the CSV writes it.
#[expect(clippy::wildcard_enum_match_arm, reason = "no other kind stands in a column")]
fn words(field: &Field) -> String {
    match field {
        Field::Null => String::new(),
        Field::Bool(is_so) => is_so.to_string(),
        Field::Int(number) => number.to_string(),
        Field::Double(number) => number.to_string(),
        Field::Str(text) => text.clone(),
        Field::Date(day) => date(i64::from(*day)),
        Field::TimestampMillis(ms) => {
            let of_day = ms.rem_euclid(86_400_000);
            let (hour, minute, second) = (of_day / 3_600_000, of_day / 60_000 % 60, of_day / 1000 % 60);
            let day = date(ms.div_euclid(86_400_000));
            format!("{day}T{hour:02}:{minute:02}:{second:02}.{:03}Z", of_day % 1000)
        }
        other => panic!("{other:?} is in no column"),
    }
}

/// Counted on from 1970 year by year and month by month.
fn date(day: i64) -> String {
    let mut left = day;
    let is_leap = |year: i64| year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let mut year = 1970;
    while left >= 365 + i64::from(is_leap(year)) {
        left -= 365 + i64::from(is_leap(year));
        year += 1;
    }
    let february = 28 + i64::from(is_leap(year));
    let mut month = 1;
    for days in [31, february, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31] {
        if left < days {
            break;
        }
        left -= days;
        month += 1;
    }
    format!("{year:04}-{month:02}-{:02}", left + 1)
}

fn table_of_parquet(bytes: &[u8]) -> Vec<Vec<String>> {
    let reader = reader(bytes);
    let rows = reader.get_row_iter(None).expect("rows");
    rows.map(|row| row.expect("a row").get_column_iter().map(|(_, field)| words(field)).collect()).collect()
}

fn table_of_csv(bytes: &[u8]) -> Vec<Vec<String>> {
    let mut reader = csv::Reader::from_reader(bytes);
    let head: Vec<&str> = COLUMNS.iter().map(|column| column.name).collect();
    assert_eq!(reader.headers().expect("a head"), head);
    reader.records().map(|record| record.expect("a record").iter().map(str::to_owned).collect()).collect()
}

#[test]
fn both_kinds_hold_the_same_cells() {
    let rows = rows(1000);
    let (csv, parquet) = (table_of_csv(&csv(&rows, 7)), table_of_parquet(&parquet(&rows, 11)));
    assert_eq!(csv.len(), rows.len());
    for (at, (one, other)) in csv.iter().zip(&parquet).enumerate() {
        assert_eq!(one, other, "row {at}");
    }
    assert_eq!(parquet.len(), rows.len());
}

#[test]
fn cells_are_those_of_the_row() {
    let rows = rows(32);
    let table = table_of_csv(&csv(&rows, 32));
    let cell = |at: usize, name: &str| {
        let column = COLUMNS.iter().position(|column| column.name == name).expect("a column");
        table[at][column].as_str()
    };
    for (at, row) in rows.iter().enumerate() {
        let number = |name: &str| cell(at, name).parse::<f64>().expect("a number").to_bits();
        assert_eq!((cell(at, "athlete"), cell(at, "set")), (row.athlete.as_str(), row.set.as_str()));
        assert_eq!(cell(at, "forecaster"), names()[row.forecaster]);
        assert_eq!(
            (number("log_score"), number("log_score_of_count")),
            (row.log_ending.to_bits(), row.log_count.to_bits())
        );
        assert_eq!(
            ["chance_strength", "chance_balance", "chance_line"].map(number),
            row.failed.map(f64::to_bits)
        );
        assert_eq!(cell(at, "target"), row.target.map(|units| units.to_string()).unwrap_or_default());
        match &row.whole {
            Some(whole) => {
                assert_eq!(
                    [number("ranked_score"), number("rank")],
                    [whole.ranked, whole.rank].map(f64::to_bits)
                );
                let [low, high] =
                    whole.edges.map(|edge| edge.map(|(_, came)| came.to_string()).unwrap_or_default());
                assert_eq!(
                    (cell(at, "low_edge_came"), cell(at, "high_edge_came")),
                    (low.as_str(), high.as_str())
                );
                let held = ["interval_50_holds", "interval_80_holds", "interval_95_holds"];
                assert_eq!(
                    held.map(|name| cell(at, name) == "true"),
                    whole.intervals.map(|(_, holds)| holds)
                );
                assert_eq!(cell(at, "interval_80_low"), whole.middle.0.to_string());
            }
            None => {
                let first =
                    COLUMNS.iter().position(|column| column.name == "ranked_score").expect("a column");
                assert!(table[at][first..].iter().all(String::is_empty), "{:?}", table[at]);
            }
        }
    }
    assert_eq!((cell(0, "training_date"), cell(0, "arrived_at")), ("2024-10-04", "2027-01-15T08:00:00.123Z"));
}

#[test]
fn the_schema_says_what_columns_hold() {
    let reader = reader(&parquet(&rows(3), 3));
    let schema = reader.metadata().file_metadata().schema_descr();
    assert_eq!(schema.num_columns(), COLUMNS.len());
    for (column, found) in COLUMNS.iter().zip(schema.columns()) {
        let (physical, converted) = match column.kind {
            Kind::Text => (Physical::BYTE_ARRAY, ConvertedType::UTF8),
            Kind::Date => (Physical::INT32, ConvertedType::DATE),
            Kind::Moment => (Physical::INT64, ConvertedType::TIMESTAMP_MILLIS),
            Kind::Whole => (Physical::INT32, ConvertedType::NONE),
            Kind::Number => (Physical::DOUBLE, ConvertedType::NONE),
            Kind::Flag => (Physical::BOOLEAN, ConvertedType::NONE),
        };
        assert_eq!(
            (found.name(), found.physical_type(), found.converted_type(), found.self_type().is_optional()),
            (column.name, physical, converted, column.is_optional)
        );
    }
    assert_eq!(reader.metadata().file_metadata().created_by(), Some("nextrung"));
    let compressions = reader.metadata().row_group(0).columns().iter().map(|chunk| chunk.compression());
    assert!(compressions.into_iter().all(|one| format!("{one:?}").starts_with("ZSTD")));
}

#[test]
fn the_same_rows_give_the_same_bytes_however_they_come() {
    let rows = rows(500);
    assert_eq!(csv(&rows, 500), csv(&rows, 1));
    assert_eq!(parquet(&rows, 500), parquet(&rows, 3));
}

#[test]
fn rows_are_written_group_by_group() {
    let full = u32::try_from(GROUP_ROWS).expect("small");
    let reader = reader(&parquet(&rows(full + 10), 4096));
    let sizes: Vec<i64> = reader.metadata().row_groups().iter().map(|group| group.num_rows()).collect();
    assert_eq!(sizes, [i64::from(full), 10]);
    let last = reader.get_row_iter(None).expect("rows").last().expect("a row").expect("a row");
    let log_score = COLUMNS.iter().position(|column| column.name == "log_score").expect("a column");
    assert_eq!(
        *last.get_column_iter().nth(log_score).expect("a cell").1,
        Field::Double(0.1 * f64::from(full + 9))
    );
}

#[test]
fn no_rows_are_a_table_without_rows() {
    assert_eq!(table_of_csv(&csv(&[], 1)), Vec::<Vec<String>>::new());
    let reader = reader(&parquet(&[], 1));
    assert_eq!(reader.metadata().file_metadata().num_rows(), 0);
    assert_eq!(reader.metadata().file_metadata().schema_descr().num_columns(), COLUMNS.len());
}

#[test]
fn a_forecaster_without_a_name_is_refused() {
    let nobody = Row { forecaster: 3, ..row(1) };
    let mut bytes = Vec::new();
    let mut file = CsvFile::new(&mut bytes, names()).expect("begun");
    let refused = file.rows(std::slice::from_ref(&nobody)).expect_err("refused");
    assert!(matches!(refused, OutputError::Unnamed { forecaster: 3, named: 3 }), "{refused}");
    let mut file = ParquetFile::new(Vec::new(), names()).expect("begun");
    assert!(file.rows(&[nobody]).is_err());
}

#[test]
fn a_full_disk_is_told() {
    struct Full;
    impl Write for Full {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::Error::from(std::io::ErrorKind::StorageFull))
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let mut csv = Box::new(CsvFile::new(Full, names()).expect("held back"));
    assert!(csv.rows(&rows(10)).is_err() || csv.finish().is_err());
    let mut parquet = Box::new(ParquetFile::new(Full, names()).expect("held back"));
    assert!(parquet.rows(&rows(10)).is_err() || parquet.finish().is_err());
}
