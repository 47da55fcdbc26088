//! Any input: whatever the bytes are, they are read or refused, and never a panic.

use std::fs;
use std::path::Path;

use nextrung_domain::measure::Unit;
use nextrung_sheet::grid::{Encoding, Grid, Refusal};
use nextrung_sheet::mapping::{Guess, KnownRung, Mapping};
use nextrung_sheet::notation::{Style, read_sets_of_cell};
use nextrung_sheet::stage::Import;
use proptest::prelude::*;
use proptest::sample::select;

/// Reads as far as it goes.
fn read(bytes: &[u8], encoding: Encoding) -> Result<Guess, Refusal> {
    let rungs = [KnownRung::new("pull/pull-up", Unit::Reps)];
    let grid = Grid::open("any", bytes, encoding)?;
    let guess = Mapping::guess(&grid, None, &rungs)?;
    let mut mapping = guess.mapping.clone();
    mapping.athlete.get_or_insert("wren".to_owned());
    Import::new(&grid, &mapping, &rungs)?.rehearse()?;
    Ok(guess)
}

fn corpus() -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus");
    let paths = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let is_sheet = |path: &std::path::PathBuf| {
        path.extension().is_some_and(|e| ["csv", "xlsx", "ods"].contains(&e.to_str().unwrap()))
    };
    let mut paths: Vec<_> = paths.filter(is_sheet).collect();
    paths.sort();
    paths.iter().map(|path| fs::read(path).unwrap()).collect()
}

proptest! {
    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300), is_old in any::<bool>()) {
        let encoding = if is_old { Encoding::Windows1252 } else { Encoding::Unicode };
        if let Err(refusal) = read(&bytes, encoding) {
            prop_assert!(!refusal.found.is_empty() && !refusal.expected.is_empty());
        }
    }

    #[test]
    fn mangled_sheets_are_read_or_refused(
        sheet in select(corpus()),
        at in any::<prop::sample::Index>(),
        cut in 0..40_usize,
        put in prop::collection::vec(any::<u8>(), 0..6),
    ) {
        let at = if sheet.is_empty() { 0 } else { at.index(sheet.len()) };
        let mangled = [&sheet[..at], &put, &sheet[(at + cut).min(sheet.len())..]].concat();
        // What is guessed can be written and read back, whatever the cells hold.
        if let Ok(guess) = read(&mangled, Encoding::Unicode) {
            prop_assert_eq!(Mapping::read(&guess.write()), Ok(guess.mapping));
        }
    }

    #[test]
    fn any_cell_of_sets_is_read_or_refused_at_a_place_within_it(text in "[0-9a-zA-Z@+x ,;/.\\-×äF\n]{0,20}") {
        match read_sets_of_cell(&text, Style::default()) {
            Ok(sets) => prop_assert!(!sets.is_empty() && sets.len() <= 100),
            Err(fault) => prop_assert!((1..=text.chars().count() + 1).contains(&fault.at), "{:?}", fault),
        }
    }

    #[test]
    fn counts_are_read_as_they_were_written(counts in prop::collection::vec(0..=300_i64, 1..20), sign in select(vec![" ", ",", "/", "; "])) {
        let text = counts.iter().map(ToString::to_string).collect::<Vec<_>>().join(sign);
        let read = read_sets_of_cell(&text, Style::default()).map(|sets| sets.iter().map(|set| set.count).collect::<Vec<_>>());
        prop_assert_eq!(read, Ok(counts));
    }

    #[test]
    fn any_text_is_a_mapping_or_refused(text in "([a-z_]{1,9} = [\"\\[{0-9a-z\\]} ]{0,8}\n|\\[[a-z]{1,9}\\]\n|\\PC{0,9}){0,6}") {
        if let Err(problems) = Mapping::read(&text) {
            prop_assert!(!problems.is_empty());
        }
    }
}

#[test]
fn repro_a_control_sign_in_a_header_does_not_end_a_comment() {
    let sheet = "date,name,exercise,reps,\"A\u{e}\nsheet = 1\"\n2026-03-14,wren,\"pull\nup = 1\",5,\n";
    let guess = read(sheet.as_bytes(), Encoding::Unicode).unwrap();
    assert_eq!(Mapping::read(&guess.write()), Ok(guess.mapping));
}
