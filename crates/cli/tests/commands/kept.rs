//! Kept folders: workbooks of coaches' own, made and looked into.

use std::collections::BTreeMap;
use std::fs;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};
use std::process::Command;

use rust_xlsxwriter::{Chart, Color, Format, Formula, Workbook};
use zip::ZipArchive;

use crate::hall::hall;
use crate::program::{Ended, Served, program};

/// How the workbooks of these tests are read.
pub(crate) const MAP: &str = "[defaults]\npurpose = \"working\"\nstop = \"other\"\n\n[columns]\ndate = \"Date\"\nathlete = \"Who\"\n\
                              exercise = \"What\"\nreps = \"Reps\"\nnote = \"Note\"\n";

/// The same where no column says who.
pub(crate) const ALONE: &str = "[defaults]\npurpose = \"working\"\nstop = \"other\"\n\n[columns]\ndate = \"Date\"\n\
                                exercise = \"What\"\nreps = \"Reps\"\n";

/// The mapping of an empty workbook of ours.
pub(crate) const BLANK: &str = "layout = \"exercise-a-row\"\n\n[defaults]\npurpose = \"working\"\nstop = \"other\"\n\n[columns]\n\
                                date = \"date\"\nexercise = \"exercise\"\nsets = \"sets\"\nload = \"load (kg)\"\nnote = \"note\"\n";

/// A row of a workbook: day, who, what, how many.
pub(crate) type Row<'r> = (&'r str, &'r str, &'r str, &'r str);

/// Two sessions of Wren, by name and by id.
pub(crate) const ROWS: [Row<'static>; 3] = [
    ("2026-11-16", "Wren", "pull/pull-up", "5"),
    ("2026-11-16", "wren", "pull/pull-up", "4"),
    ("2026-11-18", "WREN", "pull/pull-up", "6"),
];

/// A workbook as coaches keep them: colours, a formula, a chart, and rows of sets.
pub(crate) fn book(rows: &[Row<'_>]) -> Vec<u8> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet().set_name("Log").unwrap();
    let marked = Format::new().set_bold().set_background_color(Color::Yellow);
    for (column, head) in (0..).zip(["Date", "Who", "What", "Reps", "Note", "Twice"]) {
        sheet.write_string_with_format(0, column, head, &marked).unwrap();
    }
    for (at, (day, who, what, reps)) in (1..).zip(rows) {
        for (column, text) in (0..).zip([day, who, what]) {
            sheet.write_string(at, column, *text).unwrap();
        }
        match reps.parse::<f64>() {
            Ok(reps) => sheet.write_number(at, 3, reps).unwrap(),
            Err(_) => sheet.write_string(at, 3, *reps).unwrap(),
        };
        sheet.write_string(at, 4, "=1+1").unwrap();
        sheet.write_formula(at, 5, Formula::new(format!("=D{}*2", at + 1)).set_result("10")).unwrap();
    }
    let mut chart = Chart::new_line();
    chart.add_series().set_values("Log!$D$2:$D$9");
    sheet.insert_chart(10, 0, &chart).unwrap();
    book.save_to_buffer().unwrap()
}

/// A served roster with a folder of workbooks and the mapping of all of them.
pub(crate) struct Kept {
    pub(crate) served: Served,
}

impl Kept {
    pub(crate) fn begin(workbooks: &[(&str, Vec<u8>)]) -> Self {
        let kept = Self { served: hall() };
        fs::create_dir(kept.folder()).unwrap();
        fs::write(kept.served.folder.path().join("map.toml"), MAP).unwrap();
        workbooks.iter().for_each(|(name, bytes)| kept.put(name, bytes));
        kept
    }

    pub(crate) fn folder(&self) -> PathBuf {
        self.served.folder.path().join("folder")
    }

    pub(crate) fn put(&self, name: &str, bytes: impl AsRef<[u8]>) {
        fs::write(self.folder().join(name), bytes).unwrap();
    }

    pub(crate) fn bytes(&self, name: &str) -> Vec<u8> {
        fs::read(self.folder().join(name)).unwrap()
    }

    /// The command that keeps the folder, with more behind it.
    pub(crate) fn command(&self, more: &[&str]) -> Command {
        let map = self.served.folder.path().join("map.toml");
        let (folder, map) = (self.folder(), map.to_str().unwrap().to_owned());
        let keep = ["workbook", "keep", folder.to_str().unwrap(), "--roster", "hall", "--map", &map];
        let rest = ["--date", "2026-11-24", "--server", &self.served.url];
        program(&[&keep[..], &rest, more].concat())
    }

    /// Looks at the folder once.
    pub(crate) fn once(&self) -> Ended {
        Ended::of(&self.command(&["--once"]).output().unwrap())
    }
}

/// The parts of a workbook as they are stored.
pub(crate) fn stored(bytes: &[u8]) -> BTreeMap<String, Vec<u8>> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut parts = BTreeMap::new();
    for index in 0..archive.len() {
        let mut part = archive.by_index_raw(index).unwrap();
        let mut content = Vec::new();
        part.read_to_end(&mut content).unwrap();
        parts.insert(part.name().unwrap().into_owned(), content);
    }
    parts
}

/// The text of a part.
pub(crate) fn text(bytes: &[u8], part: &str) -> String {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut text = String::new();
    archive.by_name(part).unwrap().read_to_string(&mut text).unwrap();
    text
}

/// Files of a folder that are none of its workbooks, mappings and locks.
pub(crate) fn litter(folder: &Path) -> Vec<String> {
    let names = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
    names.filter(|name| name.starts_with(".nextrung-workbook-")).collect()
}
