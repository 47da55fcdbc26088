//! Other reader: the workbooks of the corpus, cell by cell, as an independent library reads them.

use std::collections::BTreeMap;
use std::fs;
use std::ops::ControlFlow;
use std::path::Path;

use calamine::{Data, Reader, Sheets, open_workbook_auto};
use nextrung_sheet::grid::{Encoding, Grid, Value};

type Cells = BTreeMap<(u32, usize), String>;

fn ours(path: &Path, sheet: usize) -> Cells {
    let bytes = fs::read(path).unwrap();
    let grid = Grid::open("here", &bytes, Encoding::Unicode).unwrap();
    let mut cells = Cells::new();
    grid.walk(sheet, &mut |row| {
        for (column, value) in row.cells.iter().enumerate() {
            if !value.is_blank() && !row.carried.contains(&column) && *value != Value::Uncalculated {
                cells.insert((row.number, column), value.written('.'));
            }
        }
        ControlFlow::Continue(())
    })
    .unwrap();
    cells
}

fn theirs(book: &mut Sheets<std::io::BufReader<fs::File>>, sheet: &str) -> Cells {
    let range = book.worksheet_range(sheet).unwrap();
    let (top, left) = range.start().unwrap_or_default();
    let cells = range.used_cells().filter_map(|(row, column, data)| {
        let text = match data {
            Data::Empty => return None,
            Data::DateTime(day) => {
                let (y, m, d, h, minutes, s, _) = day.to_ymd_hms_milli();
                if day.as_f64() < 1.0 {
                    format!("{h:02}:{minutes:02}:{s:02}")
                } else {
                    format!("{y:04}-{m:02}-{d:02}")
                }
            }
            Data::DateTimeIso(text) => text[..10].to_owned(),
            Data::Bool(is_true) => is_true.to_string().to_uppercase(),
            Data::Int(_) | Data::Float(_) | Data::String(_) | Data::DurationIso(_) | Data::Error(_) => {
                data.to_string()
            }
        };
        let place = (top + u32::try_from(row).unwrap() + 1, usize::try_from(left).unwrap() + column);
        (!text.trim().is_empty()).then_some((place, text))
    });
    cells.collect()
}

#[test]
fn both_readers_see_the_same_cells() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus");
    let mut compared = 0;
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        let is_workbook = name.ends_with(".xlsx") || name.ends_with(".ods");
        // The other reader gives numbers without what their format makes of them.
        let others = ["no_workbook.xlsx", "old_workbook.xlsx", "number_formats.xlsx"];
        if !is_workbook || others.contains(&name.as_str()) {
            continue;
        }
        let mut book = open_workbook_auto(&path).unwrap();
        for (at, sheet) in book.sheet_names().into_iter().enumerate() {
            let cells = ours(&path, at);
            assert_eq!(cells, theirs(&mut book, &sheet), "{name}, {sheet}");
            compared += cells.len();
        }
    }
    assert!(compared > 200, "{compared} cells were compared");
}
