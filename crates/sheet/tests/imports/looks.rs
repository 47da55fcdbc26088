//! Looks: what merged cells and hidden sheets come to.

use std::ops::ControlFlow;

use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_sheet::grid::{Encoding, Grid};
use nextrung_sheet::mapping::{KnownRung, Mapping};
use nextrung_sheet::stage::{Import, LeftOut};

use crate::workbook::{Made, workbook};

fn office(rows: &[(u32, &[(&str, &str)])], merged: &[&str]) -> Vec<u8> {
    let cell =
        |(name, text): &(&str, &str)| format!("<c r=\"{name}\" t=\"inlineStr\"><is><t>{text}</t></is></c>");
    let row = |(number, cells): &(u32, &[(&str, &str)])| {
        format!("<row r=\"{number}\">{}</row>", cells.iter().map(cell).collect::<String>())
    };
    let range = |range: &&str| format!("<mergeCell ref=\"{range}\"/>");
    let tail = format!(
        "</sheetData><mergeCells>{}</mergeCells></worksheet>",
        merged.iter().map(range).collect::<String>()
    );
    let rows: String = rows.iter().map(row).collect();
    workbook(("<worksheet><sheetData>", (1, &rows), &tail), ("<sst>", (0, ""), "</sst>"))
}

/// Column A of each row, and whether its value comes from above.
fn first_column(bytes: &[u8]) -> Vec<(u32, String, bool)> {
    let grid = Grid::open("merged", bytes, Encoding::Unicode).unwrap();
    let mut found = Vec::new();
    grid.walk(0, &mut |row| {
        let text = row.cells.first().map(|cell| cell.written('.')).unwrap_or_default();
        found.push((row.number, text, row.carried.contains(&0)));
        ControlFlow::Continue(())
    })
    .unwrap();
    found
}

#[test]
fn a_merged_value_stands_in_its_rows_and_in_no_other() {
    let book =
        office(&[(1, &[("A1", "x"), ("B1", "1")]), (2, &[("B2", "2")]), (3, &[("B3", "3")])], &["A1:A2"]);
    let text = |text: &str| {
        format!("<table:table-cell office:value-type=\"string\"><text:p>{text}</text:p></table:table-cell>")
    };
    let spanned = text("x").replacen("office", "table:number-rows-spanned=\"2\" office", 1);
    let rows = [spanned, "<table:covered-table-cell/>".to_owned(), "<table:table-cell/>".to_owned()];
    let rows: String =
        rows.iter().map(|first| format!("<table:table-row>{first}{}</table:table-row>", text("1"))).collect();
    let document =
        Made::new().part("content.xml", "<a><table:table>", (1, &rows), "</table:table></a>").bytes();
    let expected = [(1, "x".to_owned(), false), (2, "x".to_owned(), true), (3, String::new(), false)];
    for bytes in [book, document] {
        assert_eq!(first_column(&bytes), expected);
    }
}

#[test]
fn what_stands_in_a_merged_row_itself_is_not_hidden() {
    let rows: [(u32, &[(&str, &str)]); 3] = [(1, &[("A1", "x")]), (2, &[("A2", "own")]), (3, &[("B3", "3")])];
    let found = first_column(&office(&rows, &["A1:A3"]));
    let expected = [(1, "x".to_owned(), false), (2, "own".to_owned(), false), (3, "x".to_owned(), true)];
    assert_eq!(found, expected);
}

#[test]
fn a_row_of_merged_values_alone_is_none_of_sets() {
    let rows: [(u32, &[(&str, &str)]); 4] = [
        (1, &[("A1", "Date"), ("B1", "Exercise"), ("C1", "Reps")]),
        (2, &[("A2", "2026-03-14"), ("B2", "pull/pull-up"), ("C2", "5")]),
        (3, &[("C3", "4")]),
        (4, &[]),
    ];
    let bytes = office(&rows, &["A2:A4", "B2:B4"]);
    let rungs = [KnownRung::new("pull/pull-up", Unit::Reps)];
    let grid = Grid::open("merged", &bytes, Encoding::Unicode).unwrap();
    let guess = Mapping::guess(&grid, None, &rungs).unwrap().mapping;
    let (purpose, stop, athlete) = (Some(Purpose::Working), Some(Stop::Other), Some("wren".to_owned()));
    let mapping = Mapping { purpose, stop, athlete, ..guess };
    let staged = Import::new(&grid, &mapping, &rungs).unwrap().rehearse().unwrap();
    assert!(staged.findings.is_empty(), "{:?}", staged.findings);
    assert_eq!((staged.summary.sets, staged.summary.left_out.get(&LeftOut::Nothing)), (2, Some(&1)));
}

#[test]
fn a_hidden_sheet_of_a_document_is_known() {
    let looks = "<style:style style:name=\"a\"/><style:table-properties table:display=\"true\"/>\
                 <style:style style:name=\"b\"/><style:table-properties table:display=\"false\"/>";
    let tables = "<table:table table:name=\"Log\" table:style-name=\"a\"/><table:table table:name=\"Old\" table:style-name=\"b\"/>";
    let document = Made::new().part("content.xml", "<x>", (1, looks), &format!("{tables}</x>")).bytes();
    let grid = Grid::open("a.ods", &document, Encoding::Unicode).unwrap();
    let hidden: Vec<(&str, bool)> =
        grid.sheets().iter().map(|sheet| (sheet.name.as_str(), sheet.is_hidden)).collect();
    assert_eq!(hidden, [("Log", false), ("Old", true)]);
}
