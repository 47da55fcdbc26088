//! Workbook: sheets of any making, as the bytes of a file or as parts to be put into a workbook, walked, guessed and staged.

use std::io::{Cursor, Write};
use std::ops::ControlFlow;

use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_sheet::grid::{Encoding, Grid, GridRow, Refusal, cap};
use nextrung_sheet::mapping::{KnownRung, Mapping};
use nextrung_sheet::stage::Import;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use crate::allowance::Allowance;

/// What is kept of a walk is a few sums; a part inflates up to a thousand times, and its rows come one at a time.
const ALLOWANCE: Allowance = Allowance { held: (64 << 10, 16), taken: (256 << 20, 100_000) };
/// Sheets of a workbook that are walked.
const SHEETS: usize = 3;
/// The last row that a workbook has.
const LAST_ROW: u32 = 1 << 20;

const KINDS: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const BOOK: &str = "<workbook><sheets><sheet name=\"Log\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>";
/// Parts of a workbook that an input may give, in its order.
const PARTS: [(&str, &str); 3] = [
    ("worksheet", "xl/worksheets/sheet1.xml"),
    ("sharedStrings", "xl/sharedStrings.xml"),
    ("styles", "xl/styles.xml"),
];

/// What a walk over a sheet came to.
#[derive(Debug, Default, PartialEq, Eq)]
struct Sums {
    rows: usize,
    cells: usize,
    letters: usize,
}

/// Judges a file of any bytes. Those that begin with `x` or `o` are parts of a workbook in plain text, each ended by a zero,
/// since hardly a change of a packed file gets past its checksums.
pub(crate) fn judge(bytes: &[u8]) {
    let packed = match bytes {
        [b'x', parts @ ..] => xlsx(parts),
        [b'o', content @ ..] => archive([("content.xml", content.to_vec())]),
        _ => bytes.to_vec(),
    };
    let walked = ALLOWANCE.watch(bytes.len(), || walk(&packed));
    match walked {
        Ok(sums) => {
            assert_eq!(walk(&packed).as_ref(), Ok(&sums), "the same each time");
            staged(&packed);
        }
        Err(refusal) => told(&refusal),
    }
}

fn told(refusal: &Refusal) {
    assert_eq!(refusal.place.file, "any");
    assert!(!refusal.found.is_empty() && !refusal.expected.is_empty(), "{refusal:?}");
}

fn walk(bytes: &[u8]) -> Result<Vec<Sums>, Refusal> {
    let grid = Grid::open("any", bytes, Encoding::Unicode)?;
    let mut all = Vec::new();
    for sheet in 0..grid.sheets().len().min(SHEETS) {
        let (mut sums, mut last) = (Sums::default(), 0);
        grid.walk(sheet, &mut |row| {
            look(row, last);
            last = row.number;
            sums.rows += 1;
            let filled = row.cells.iter().filter(|value| !value.is_blank());
            for value in filled {
                sums.cells += 1;
                sums.letters += value.written('.').len();
            }
            ControlFlow::Continue(())
        })?;
        assert!(sums.rows <= cap::MAX_FILLED_ROWS, "{sums:?}");
        all.push(sums);
    }
    Ok(all)
}

/// A row keeps to what the caps and the walk promise.
fn look(row: &GridRow<'_>, last: u32) {
    assert!(row.number > last, "row {} after row {last}", row.number);
    let filled = row.cells.iter().rposition(|value| !value.is_blank());
    assert!(filled.is_some() || row.fault.is_some(), "a blank row is passed over");
    assert!(filled.is_none_or(|last| last < cap::MAX_COLUMNS), "{filled:?}");
    assert!(row.carried.iter().all(|place| *place < row.cells.len()), "{:?}", row.carried);
    assert!(row.number <= LAST_ROW || row.carried.is_empty(), "row {}", row.number);
}

/// What is guessed reads back, and a rehearsal counts every row.
fn staged(bytes: &[u8]) {
    let rungs = [KnownRung::new("pull/pull-up", Unit::Reps), KnownRung::new("pull/hold", Unit::HoldSeconds)];
    let Ok(grid) = Grid::open("any", bytes, Encoding::Unicode) else { return };
    let guess = match Mapping::guess(&grid, None, &rungs) {
        Ok(guess) => guess,
        Err(refusal) => return told(&refusal),
    };
    assert_eq!(Mapping::read(&guess.write()).as_ref(), Ok(&guess.mapping), "{}", guess.write());
    let mut mapping = guess.mapping;
    mapping.athlete.get_or_insert("wren".to_owned());
    mapping.purpose = Some(Purpose::Working);
    mapping.stop = Some(Stop::Other);
    match Import::new(&grid, &mapping, &rungs).and_then(|import| import.rehearse()) {
        Ok(staged) => {
            let sum = &staged.summary;
            let left_out: usize = sum.left_out.values().sum();
            let seen = sum.sound_rows + sum.bad_rows + left_out;
            // Where days stand across, a row is seen once for each of its days.
            assert!(sum.rows == seen || sum.is_across && sum.rows < seen, "{sum:?}");
            assert_eq!(staged.findings.is_empty(), sum.bad_rows == 0, "{staged:?}");
            assert_eq!(sum.sets, sum.athletes.values().sum::<usize>());
        }
        Err(refusal) => told(&refusal),
    }
}

fn xlsx(given: &[u8]) -> Vec<u8> {
    let links = PARTS.iter().enumerate().map(|(at, (kind, name))| {
        let target = name.trim_start_matches("xl/");
        format!("<Relationship Id=\"r{}\" Type=\"{KINDS}/{kind}\" Target=\"{target}\"/>", at + 1)
    });
    let links = format!("<Relationships>{}</Relationships>", links.collect::<String>());
    let package = format!(
        "<Relationships><Relationship Id=\"r1\" Type=\"{KINDS}/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>"
    );
    let around = [
        ("_rels/.rels", package.into_bytes()),
        ("xl/workbook.xml", BOOK.as_bytes().to_vec()),
        ("xl/_rels/workbook.xml.rels", links.into_bytes()),
    ];
    let parts = PARTS.iter().zip(given.split(|byte| *byte == 0));
    archive(around.into_iter().chain(parts.map(|((_, name), part)| (*name, part.to_vec()))))
}

fn archive(parts: impl IntoIterator<Item = (&'static str, Vec<u8>)>) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    for (name, part) in parts {
        let put = zip.start_file(name, options).map(|()| zip.write_all(&part));
        assert!(matches!(put, Ok(Ok(()))), "a vector takes every byte");
    }
    zip.finish()
        .map(Cursor::into_inner)
        .unwrap_or_else(|error| unreachable!("a vector takes every byte: {error}"))
}
