//! Caps: the last column that is read and the first that is not, and lists longer than any workbook needs.

use std::ops::ControlFlow;

use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_sheet::grid::cap::MAX_COLUMNS;
use nextrung_sheet::grid::{Encoding, Grid, letters};
use nextrung_sheet::mapping::{KnownRung, Mapping};
use nextrung_sheet::stage::Import;

use crate::workbook::{Made, workbook};

type Make = fn(usize) -> Vec<u8>;

const CELL: &str = "<table:table-cell office:value-type=\"float\" office:value=\"1\"/>";

fn text(column: usize) -> Vec<u8> {
    format!("a\n{}1\n", ",".repeat(column)).into_bytes()
}

fn office(column: usize) -> Vec<u8> {
    let row = format!("<row r=\"2\"><c r=\"{}2\"><v>1</v></c></row>", letters(column));
    workbook(("<worksheet><sheetData>", (1, &row), "</sheetData></worksheet>"), ("<sst>", (0, ""), "</sst>"))
}

fn document(column: usize) -> Vec<u8> {
    let blank = format!("<table:table-cell table:number-columns-repeated=\"{column}\"/>");
    of_rows(&format!("<table:table-row/><table:table-row>{blank}{CELL}</table:table-row>"))
}

fn of_rows(rows: &str) -> Vec<u8> {
    Made::new()
        .part("content.xml", "<a><table:table table:name=\"Log\">", (1, rows), "</table:table></a>")
        .bytes()
}

/// The last filled column of row 2, or why there is none.
fn filled(bytes: &[u8]) -> Result<Option<usize>, String> {
    let grid = Grid::open("wide", bytes, Encoding::Unicode).map_err(|refusal| refusal.to_string())?;
    let mut place = None;
    let walked = grid.walk(0, &mut |row| {
        if row.number == 2 {
            place = row.cells.iter().rposition(|cell| !cell.is_blank());
        }
        ControlFlow::Continue(())
    });
    walked.map(|()| place).map_err(|refusal| refusal.to_string())
}

#[test]
fn the_last_column_is_read_and_the_one_after_it_is_refused_by_name() {
    let kinds = [
        (text as Make, "wide, IW2"),
        (office, "wide, sheet `Log`, IW2"),
        (document, "wide, sheet `Log`, IW2"),
    ];
    for (make, place) in kinds {
        assert_eq!(filled(&make(MAX_COLUMNS - 1)), Ok(Some(MAX_COLUMNS - 1)));
        let refused = filled(&make(MAX_COLUMNS)).unwrap_err();
        let says = format!("{place}: found a filled cell; expected cells in the first 256 columns");
        assert!(refused.starts_with(&says), "{refused}");
    }
}

/// A workbook of these parts of XML: its list of sheets, further links, its styles.
fn listed(sheets: &str, links: &str, styles: &str) -> Vec<u8> {
    let own = "<Relationship Id=\"r1\" Type=\"a/worksheet\" Target=\"s.xml\"/>\
               <Relationship Id=\"r2\" Type=\"a/styles\" Target=\"styles.xml\"/>";
    Made::new()
        .part("_rels/.rels", "<Relationships/>", (0, ""), "")
        .part("xl/workbook.xml", "<workbook><sheets>", (1, sheets), "</sheets></workbook>")
        .part("xl/_rels/workbook.xml.rels", &format!("<Relationships>{own}"), (1, links), "</Relationships>")
        .part("xl/s.xml", "<worksheet><sheetData>", (0, ""), "</sheetData></worksheet>")
        .part("xl/styles.xml", "<styleSheet>", (1, styles), "</styleSheet>")
        .bytes()
}

const SHEET: &str = "<sheet name=\"a\" r:id=\"r1\"/>";

fn many(count: usize, one: impl Fn(usize) -> String) -> String {
    (0..count).map(one).collect()
}

/// What makes a file with a list so long, the longest that is read, and what is said of a longer one.
type List<'f> = (&'f dyn Fn(usize) -> Vec<u8>, usize, &'f str);

#[test]
fn lists_are_read_up_to_their_caps_and_refused_beyond() {
    let sheets = |count: usize| listed(&SHEET.repeat(count), "", "");
    let link = |n: usize| format!("<Relationship Id=\"l{n}\" Type=\"a\" Target=\"b\"/>");
    // Two are of the workbook itself.
    let links = |count: usize| listed(SHEET, &many(count - 2, link), "");
    let formats = |count: usize| listed(SHEET, "", &format!("<cellXfs>{}</cellXfs>", "<xf/>".repeat(count)));
    let format = |n: usize| format!("<numFmt numFmtId=\"{n}\" formatCode=\"0\"/>");
    let own_formats = |count: usize| listed(SHEET, "", &many(count, format));
    let tables =
        |count: usize| Made::new().part("content.xml", "<a>", (count, "<table:table/>"), "</a>").bytes();
    let look = |n: usize| {
        format!("<style:style style:name=\"{n}\"/><style:table-properties table:display=\"false\"/>")
    };
    let looks = |count: usize| {
        Made::new().part("content.xml", "<a>", (1, &many(count, look)), "<table:table/></a>").bytes()
    };
    let rows = |count: usize| {
        let blank = format!("<table:table-row table:number-rows-repeated=\"{}\"/>", count - 1);
        of_rows(&format!("{blank}<table:table-row>{CELL}</table:table-row>"))
    };
    let lists: [List<'_>; 7] = [
        (&sheets, 1000, "found more than 1000 sheets; expected a workbook with fewer sheets"),
        (&links, 10_000, "found more links than sheets can need"),
        (&formats, 100_000, "found more than 100000 cell formats"),
        (&own_formats, 100_000, "found more than 100000 cell formats"),
        (&tables, 1000, "found more than 1000 sheets; expected a workbook with fewer sheets"),
        (&looks, 1000, "found more than 1000 sheets; expected a workbook with fewer sheets"),
        (&rows, 1_048_576, "row 1048577: found a row too many; expected at most 1048576 rows"),
    ];
    for (make, most, says) in lists {
        assert_eq!(filled(&make(most)), Ok(None), "{says}");
        let refused = filled(&make(most + 1)).unwrap_err();
        assert!(refused.contains(says), "{refused}");
    }
}

#[test]
fn cells_under_days_are_counted_like_rows() {
    let day = |n: usize| CivilDate::from_day_number(20_000 + i32::try_from(n).unwrap()).unwrap().to_string();
    let header = (0..250).map(day).collect::<Vec<_>>().join(",");
    let sheet = format!("Exercise,{header}\n{}", format!("pull-up{}\n", ",5".repeat(250)).repeat(2001));
    let grid = Grid::open("wide.csv", sheet.as_bytes(), Encoding::Unicode).unwrap();
    let rungs = [KnownRung::new("pull/pull-up", Unit::Reps)];
    let guess = Mapping::guess(&grid, None, &rungs).unwrap().mapping;
    let athlete = Some("wren".to_owned());
    let mapping = Mapping { athlete, purpose: Some(Purpose::Working), stop: Some(Stop::Other), ..guess };
    let refused = Import::new(&grid, &mapping, &rungs).unwrap().rehearse().unwrap_err();
    let told = "wide.csv: found more than 500000 cells under days; expected fewer: split the sheet";
    assert_eq!(refused.to_string(), told);
}
