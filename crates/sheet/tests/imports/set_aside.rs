//! Set aside: rows that are not taken come back mended and are then as if they had never been wrong.

use std::io::{self, Write};
use std::ops::ControlFlow;

use nextrung_domain::draft::SetDraft;
use nextrung_domain::measure::Unit;
use nextrung_domain::problem::Problem;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_sheet::grid::{Encoding, Grid};
use nextrung_sheet::mapping::{KnownRung, Mapping};
use nextrung_sheet::stage::{DeliveryError, Import, MAX_FINDINGS};

/// Two athletes; the second row of wren's first day is wrong.
const SHEET: &str = "\
Date;Name;Exercise;Sets;Load;Notes
14.03.2026;wren;pull-up;5 5;2,5;first
;;pull-up;4-5;2,5;\"says; \"\"fine\"\"\"
;;pull-up;3;-2,5;
14.03.2026;lark;pull-up;2 2;;
15.03.2026;wren;pull-up;5 4 f;;
";

fn rungs() -> Vec<KnownRung> {
    vec![KnownRung::new("pull/pull-up", Unit::Reps)]
}

fn mapping(sheet: &str) -> Mapping {
    let grid = Grid::open("log.csv", sheet.as_bytes(), Encoding::Unicode).unwrap();
    let guess = Mapping::guess(&grid, None, &rungs()).unwrap().mapping;
    Mapping { purpose: Some(Purpose::Working), stop: Some(Stop::Other), ..guess }
}

type Sets = Vec<(String, SetDraft)>;

fn import(sheet: &str, mapping: &Mapping, aside: Option<&mut dyn Write>) -> Result<Sets, DeliveryError> {
    let grid = Grid::open("log.csv", sheet.as_bytes(), Encoding::Unicode).unwrap();
    let rungs = rungs();
    let import = Import::new(&grid, mapping, &rungs)?;
    let staged = import.rehearse()?;
    let mut sets = Sets::new();
    import.deliver(&staged, aside, &mut |set| {
        sets.push((set.athlete.to_owned(), set.draft));
        ControlFlow::Continue(())
    })?;
    Ok(sets)
}

/// Takes what is sound of a sheet and the rest mended; gives what was set aside, how many sets were taken at once, and all sets
/// by their keys, once they are those of the whole sheet mended.
fn comes_back(sheet: &str) -> (String, usize, Sets) {
    let mapping = mapping(sheet);
    let mut aside = Vec::new();
    let taken = import(sheet, &mapping, Some(&mut aside)).unwrap();
    let (at_once, aside) = (taken.len(), String::from_utf8(aside).unwrap());
    let mut mended = import(&aside.replace("4-5", "4 3"), &mapping, None).unwrap();
    mended.extend(taken);
    let mut whole = import(&sheet.replace("4-5", "4 3"), &mapping, None).unwrap();
    let by_key = |set: &(String, SetDraft)| set.1.client_set_id.clone();
    mended.sort_by_key(by_key);
    whole.sort_by_key(by_key);
    assert_eq!(mended, whole);
    (aside, at_once, whole)
}

#[test]
fn a_session_comes_back_whole_and_with_the_same_keys() {
    let (aside, at_once, whole) = comes_back(SHEET);
    assert_eq!(at_once, 4, "lark's day and wren's second");
    assert_eq!(aside.lines().count(), 4, "the header and wren's first day: {aside}");
    assert_eq!(whole[2].1.client_set_id, "wren:2026-03-14:1:1");
}

#[test]
fn days_that_stand_across_come_back_under_their_own_headers() {
    let sheet = "Name;Exercise;14.03.2026;16.03.2026\nwren;pull-up;5 5;4-5\n;pull-up;3;3\nlark;pull-up;2;2\n\
                 Name;Exercise;18.03.2026;20.03.2026\nwren;pull-up;4-5;6\n";
    let (aside, at_once, whole) = comes_back(sheet);
    let lines: Vec<&str> = aside.lines().collect();
    let expected = [
        "Name;Exercise;14.03.2026;16.03.2026",
        "wren;pull-up;;4-5",
        "wren;pull-up;;3",
        "Name;Exercise;18.03.2026;20.03.2026",
        "wren;pull-up;4-5;",
    ];
    assert_eq!(lines, expected);
    assert_eq!((at_once, whole.len()), (6, 11));
}

#[test]
fn what_cannot_be_trusted_does_not_come_back_as_another_athletes() {
    let sheet = "Date;Name;Exercise;Sets\n14.03.2026;lark;pull-up;4-5\n14.03.2026;wren;pull-up;5 5\n;;pull-up;5 \"f\n\
                 ;;pull-up;4\n";
    let mapping = mapping(sheet);
    let mut aside = Vec::new();
    let taken = import(sheet, &mapping, Some(&mut aside)).unwrap();
    assert_eq!(taken.len(), 3, "{taken:?}");
    let mended = String::from_utf8(aside).unwrap().replace("4-5", "4 3").replace("5 \"f", "5 f");
    let refused = import(&mended, &mapping, None).unwrap_err();
    assert_eq!(refused.to_string(), "rows with problems: 1; mend them, or set them aside", "{mended}");
}

#[test]
fn nothing_is_taken_when_rows_are_bad_and_nothing_sets_them_aside() {
    let refused = import(SHEET, &mapping(SHEET), None).unwrap_err();
    assert_eq!(refused.to_string(), "rows with problems: 1; mend them, or set them aside");
}

#[test]
fn the_same_sheet_gives_the_same_sets_each_time() {
    let sound = SHEET.replace("4-5", "4 5");
    let mapping = mapping(&sound);
    let first = import(&sound, &mapping, None).unwrap();
    assert_eq!(first, import(&sound, &mapping, None).unwrap());
    let mut keys: Vec<&str> = first.iter().map(|(_, set)| set.client_set_id.as_str()).collect();
    let count = keys.len();
    keys.sort_unstable();
    keys.dedup();
    assert_eq!(keys.len(), count, "no key twice");
    // Days added below change nothing above.
    let longer = sound + "16.03.2026;wren;pull-up;5;;\n";
    let later = import(&longer, &mapping, None).unwrap();
    assert_eq!(later[..first.len()], first[..]);
}

#[test]
fn numbers_are_set_aside_with_the_decimal_sign_of_the_mapping() {
    let titles = ["Date", "Name", "Exercise", "Sets", "Load"];
    let text = |text: &str| format!("<c t=\"inlineStr\"><is><t>{text}</t></is></c>");
    let head: String = titles.iter().map(|title| text(title)).collect();
    let cells: String = ["2026-03-14", "wren", "pull-up", "5-8"].iter().map(|one| text(one)).collect();
    let rows = format!("<row>{head}</row><row>{cells}<c><v>-2.5</v></c></row>");
    let sheet = ("<worksheet><sheetData>", (1, rows.as_str()), "</sheetData></worksheet>");
    let bytes = crate::workbook::workbook(sheet, ("<sst>", (0, ""), "</sst>"));
    let grid = Grid::open("log.xlsx", &bytes, Encoding::Unicode).unwrap();
    let rungs = rungs();
    let guess = Mapping::guess(&grid, None, &rungs).unwrap().mapping;
    let (purpose, stop) = (Some(Purpose::Working), Some(Stop::Other));
    for (has_decimal_comma, load) in [(false, "-2.5"), (true, "\"-2,5\"")] {
        let mapping = Mapping { purpose, stop, has_decimal_comma, ..guess.clone() };
        let import = Import::new(&grid, &mapping, &rungs).unwrap();
        let mut aside = Vec::new();
        let none = &mut |_: nextrung_sheet::stage::Delivered<'_>| ControlFlow::Continue(());
        assert_eq!(import.deliver(&import.rehearse().unwrap(), Some(&mut aside), none).unwrap(), 1);
        let expected = format!("Date,Name,Exercise,Sets,Load\n2026-03-14,wren,pull-up,5-8,{load}\n");
        assert_eq!(String::from_utf8(aside).unwrap(), expected);
    }
}

/// Takes every byte and gives up at the end.
struct Held;

impl Write for Held {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Err(io::Error::other("full"))
    }
}

#[test]
fn what_is_held_back_to_the_end_and_then_lost_is_told() {
    let failed = import(SHEET, &mapping(SHEET), Some(&mut Held)).unwrap_err();
    assert!(matches!(failed, DeliveryError::Unwritable { .. }), "{failed:?}");
}

/// Takes some bytes and then no more.
struct Full(usize);

impl Write for Full {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0 = self.0.checked_sub(bytes.len()).ok_or_else(|| io::Error::other("full"))?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_sheet_that_cannot_be_set_aside_is_told() {
    for room in [0, 60] {
        let failed = import(SHEET, &mapping(SHEET), Some(&mut Full(room))).unwrap_err();
        assert!(matches!(failed, DeliveryError::Unwritable { .. }), "{failed:?}");
    }
}

#[test]
fn a_further_check_is_told_at_the_cells_of_its_fields() {
    let sound = SHEET.replace("4-5", "4");
    let grid = Grid::open("log.csv", sound.as_bytes(), Encoding::Unicode).unwrap();
    let (mapping, rungs) = (mapping(&sound), rungs());
    let check = |athlete: &str, set: &SetDraft| {
        let is_help = athlete == "wren" && set.load_kg.is_some_and(|kg| kg < 0.0);
        let problem = |field: &str| Problem::new(field, "-2.5", "no help: the athlete is strong");
        if is_help { vec![problem("load_kg"), problem("reps"), problem("client_set_id")] } else { Vec::new() }
    };
    let staged = Import::new(&grid, &mapping, &rungs).unwrap().with_check(&check).rehearse().unwrap();
    let told: Vec<String> = staged.findings.iter().map(ToString::to_string).collect();
    let told: Vec<&str> = told.iter().map(String::as_str).collect();
    assert_eq!(
        told,
        [
            "log.csv, E4 (Load): found -2.5; expected no help: the athlete is strong",
            "log.csv, D4 (Sets): found -2.5; expected no help: the athlete is strong",
            "log.csv, row 4: found -2.5 as client_set_id; expected no help: the athlete is strong",
        ]
    );
    assert_eq!((staged.summary.torn_sessions, staged.summary.torn_sets), (1, 3));
}

#[test]
fn kinds_of_problems_are_told_up_to_a_number_and_the_rest_is_counted() {
    let rows: String = (0..250).map(|n| format!("2026-03-14,wren{n},pull-up,5\n")).collect();
    let sheet = format!("Date,Name,Exercise,Reps\n{rows}");
    let grid = Grid::open("log.csv", sheet.as_bytes(), Encoding::Unicode).unwrap();
    let (mapping, rungs) = (mapping(&sheet), rungs());
    let check =
        |athlete: &str, _: &SetDraft| vec![Problem::new("reps", "5", format!("another than {athlete}"))];
    let staged = Import::new(&grid, &mapping, &rungs).unwrap().with_check(&check).rehearse().unwrap();
    assert_eq!((staged.findings.len(), staged.more, staged.summary.bad_rows), (MAX_FINDINGS, 50, 250));
}

#[test]
fn what_is_set_aside_holds_no_formula_and_reads_the_same_in_any_encoding() {
    let sheet = b"Date,Name,Exercise,Reps,Load,Notes\n2026-03-14,wren,pull-up,5,-20,=caf\xE9\n2026-03-14,wren,pull-up,x,+5 kg,'tis\n";
    let rungs = rungs();
    let grid = Grid::open("log.csv", sheet, Encoding::Windows1252).unwrap();
    let guess = Mapping::guess(&grid, None, &rungs).unwrap().mapping;
    let (purpose, stop) = (Some(Purpose::Working), Some(Stop::Other));
    let mapping = Mapping { purpose, stop, encoding: Encoding::Windows1252, ..guess };
    let import = Import::new(&grid, &mapping, &rungs).unwrap();
    let mut aside = Vec::new();
    let none = &mut |_: nextrung_sheet::stage::Delivered<'_>| ControlFlow::Continue(());
    let rows = import.deliver(&import.rehearse().unwrap(), Some(&mut aside), none).unwrap();
    assert_eq!(rows, 2);
    let text = String::from_utf8(aside).unwrap();
    let lines: Vec<&str> = text.trim_start_matches('\u{FEFF}').lines().collect();
    assert_eq!(lines[1], "2026-03-14,wren,pull-up,5,-20,'=café");
    assert_eq!(lines[2], "2026-03-14,wren,pull-up,x,'+5 kg,'tis");
    let mended = text.replace(",x,", ",4,");
    let grid = Grid::open("log.csv", mended.as_bytes(), mapping.encoding).unwrap();
    let import = Import::new(&grid, &mapping, &rungs).unwrap();
    let mut sets = Vec::new();
    import
        .deliver(&import.rehearse().unwrap(), None, &mut |set| {
            sets.push((set.draft.load_kg, set.draft.note));
            ControlFlow::Continue(())
        })
        .unwrap();
    assert_eq!(sets, [(Some(-20.0), "=café".to_owned()), (Some(5.0), "'tis".to_owned())]);
}
