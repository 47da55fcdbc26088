//! There and back: what is written reads the same, here and with another reader of the same standard.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_sheet::{Column, SetReader, guarded, read_sets, write_sets};
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;

use crate::fixture::SHEET;

type Sets = Vec<(String, SetDraft)>;

fn any_draft() -> impl Strategy<Value = SetDraft> {
    let whole = || prop_oneof![any::<i64>(), 0..=20_i64];
    let kg = || option::of(prop_oneof![-500.0..500.0, any::<f64>().prop_filter("finite", |x| x.is_finite())]);
    let place = ((1900..=2199_i64, 1..=12_i64, 1..=28_i64), whole(), whole());
    let slug = "[a-z]([a-z0-9-]{0,8}[a-z0-9])?";
    let rung = (slug, slug).prop_map(|(ladder, rung)| format!("{ladder}/{rung}"));
    let words = (
        rung,
        prop::collection::vec("[!-+\\--~äж早]{1,8}", 0..4),
        "([!-~]{1,6})?",
        "\\PC*|[\",;\n\r a]*|['=+@＝\t-]{1,4}[1a]",
    );
    let ends = (select(&Purpose::ALL[..]), select(&Stop::ALL[..]), select(&Unit::ALL[..]), whole());
    let scales = prop::array::uniform4(option::of(whole()));
    (place, words, ends, scales, (kg(), kg())).prop_map(|(place, words, ends, scales, masses)| SetDraft {
        client_set_id: String::new(),
        training_date: Some(place.0),
        session: place.1,
        set_number: place.2,
        rung: words.0,
        purpose: Choice::Known(ends.0),
        shadings: words.1,
        done: Some((ends.2, ends.3)),
        planned_target: scales[0],
        stop: Choice::Known(ends.1),
        reps_in_reserve: scales[1],
        rest_seconds: scales[2],
        load_kg: masses.0,
        body_mass_kg: masses.1,
        tempo: words.2,
        pain: scales[3],
        note: words.3,
    })
}

/// Sets of a few athletes, each with a key of its own.
fn any_sets() -> impl Strategy<Value = Sets> {
    let athlete = prop_oneof!["[a-z]{1,5}", "[\"a,;]{1,3}x", "Žuvėdra \\(早\\)"];
    prop::collection::vec((athlete, any_draft()), 1..12).prop_map(|mut sets| {
        for (n, (_, draft)) in sets.iter_mut().enumerate() {
            draft.client_set_id = format!("key-{n}");
        }
        sets
    })
}

fn written(sets: &Sets) -> Vec<u8> {
    let mut bytes = Vec::new();
    write_sets(&mut bytes, sets.iter().map(|(a, d)| (a.as_str(), d))).expect("a vector takes every byte");
    bytes
}

/// Equal to the bit, so that a mass of -0 is not one of 0.
fn same(a: &SetDraft, b: &SetDraft) -> bool {
    let bits = |kg: Option<f64>| kg.map(f64::to_bits);
    a == b && bits(a.load_kg) == bits(b.load_kg) && bits(a.body_mass_kg) == bits(b.body_mass_kg)
}

/// The cells of a sheet as another reader of RFC 4180 sees them.
fn cells_elsewhere(bytes: &[u8]) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(bytes);
    reader.records().map(|r| r.expect("sound").iter().map(str::to_owned).collect()).collect()
}

/// The sheet written again by another writer: other columns first, another separator, other line breaks and quotes.
fn dialect(bytes: &[u8], turn: usize, style: (bool, bool, bool)) -> Vec<u8> {
    let (semicolon, carriage, all_quoted) = style;
    let mut writer = csv::WriterBuilder::new()
        .delimiter(if semicolon { b';' } else { b',' })
        .terminator(if carriage { csv::Terminator::CRLF } else { csv::Terminator::Any(b'\n') })
        .quote_style(if all_quoted { csv::QuoteStyle::Always } else { csv::QuoteStyle::Necessary })
        .from_writer(Vec::new());
    for mut row in cells_elsewhere(bytes) {
        row.rotate_left(turn % Column::COUNT);
        writer.write_record(&row).expect("a vector takes every byte");
    }
    writer.into_inner().expect("a vector takes every byte")
}

proptest! {
    #[test]
    fn what_is_written_reads_the_same(sets in any_sets()) {
        let rows = read_sets(&written(&sets)).map_err(|p| TestCaseError::fail(format!("{p:?}")))?;
        prop_assert_eq!(rows.len(), sets.len());
        for (n, (row, (athlete, draft))) in rows.iter().zip(&sets).enumerate() {
            prop_assert_eq!(row.row, n + 2);
            prop_assert_eq!(&row.athlete, athlete);
            prop_assert!(same(&row.draft, draft), "{:?} became {:?}", draft, row.draft);
        }
    }

    #[test]
    fn what_is_written_has_the_same_cells_for_another_reader(sets in any_sets()) {
        let cells = cells_elsewhere(&written(&sets));
        prop_assert_eq!(cells.len(), sets.len() + 1);
        prop_assert_eq!(&cells[0], &Column::ALL.map(Column::name).map(str::to_owned).to_vec());
        for (row, (athlete, draft)) in cells[1..].iter().zip(&sets) {
            prop_assert_eq!(&row[0], athlete);
            prop_assert_eq!(row.last().unwrap(), &guarded(&draft.note));
            for (column, cell) in Column::ALL.iter().zip(row) {
                let is_formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝']);
                prop_assert!(!is_formula || cell.parse::<f64>().is_ok(), "{} is {cell:?}", column.name());
            }
            prop_assert_eq!(&row[18], &draft.client_set_id);
        }
    }

    #[test]
    fn what_another_writer_makes_of_it_reads_the_same(
        sets in any_sets(),
        turn in 0..20_usize,
        style in (any::<bool>(), any::<bool>(), any::<bool>()),
    ) {
        let plain = written(&sets);
        let wanted = read_sets(&plain).map_err(|p| TestCaseError::fail(format!("{p:?}")))?;
        let rows = read_sets(&dialect(&plain, turn, style));
        prop_assert_eq!(rows, Ok(wanted));
    }

    #[test]
    fn any_bytes_are_judged_without_a_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        if let Err(problems) = read_sets(&bytes) {
            prop_assert!(!problems.is_empty());
        }
    }

    #[test]
    fn a_mangled_sheet_is_judged_without_a_panic(
        at in 0..SHEET.len(),
        cut in 0..30_usize,
        put in prop::collection::vec(select(b"\",;\n\r \xE9a5".to_vec()), 0..6),
    ) {
        let bytes = SHEET.as_bytes();
        let mangled = [&bytes[..at], &put, &bytes[(at + cut).min(bytes.len())..]].concat();
        let breaks = mangled.iter().filter(|b| **b == b'\n' || **b == b'\r').count();
        match read_sets(&mangled) {
            Ok(rows) => prop_assert!(rows.iter().all(|r| (2..=breaks + 1).contains(&r.row))),
            Err(problems) => {
                prop_assert!(!problems.is_empty());
                for p in &problems {
                    let row = p.field.strip_prefix("row[").and_then(|rest| rest.split(']').next());
                    let is_known = p.field == "file" || p.field.starts_with("header");
                    prop_assert!(
                        is_known || row.is_some_and(|r| r.parse::<usize>().unwrap() <= breaks + 1), "{}", p
                    );
                }
            }
        }
        // The walk sees what the whole read sees, but for keys used twice.
        if let Ok(reader) = SetReader::open(&mangled) {
            let sound = reader.filter(Result::is_ok).count();
            if let Ok(rows) = read_sets(&mangled) {
                prop_assert_eq!(sound, rows.len());
            }
        }
    }
}

#[test]
fn a_lenient_reader_loses_the_rows_that_an_open_quote_swallows() {
    let sheet = "athlete,training_date,set_number,rung,purpose,reps,stop,note\n\
                 wren,2026-03-14,1,pull/pull-up,test,3,strength,\"tired\n\
                 wren,2026-03-14,2,pull/pull-up,test,2,strength,\n\
                 wren,2026-03-14,3,pull/pull-up,test,2,strength,\n";
    assert_eq!(cells_elsewhere(sheet.as_bytes()).len(), 2, "the header and one of three rows, and no error");
    let problems: Vec<String> =
        read_sets(sheet.as_bytes()).unwrap_err().iter().map(ToString::to_string).collect();
    let at = sheet.find("\"tired").unwrap() + 1;
    assert_eq!(
        problems,
        [format!(
            "row[2]: found a quote that opens a cell and is never closed, at byte {at} of the file; expected cells that \
             hold a quote in quotes, the quotes within them doubled"
        )]
    );
}
