//! Finding: what is wrong with rows, the same thing told once.

use std::collections::BTreeMap;
use std::fmt;

use nextrung_domain::problem::Problem;

use crate::grid::{Place, cell_name};
use crate::mapping::{Columns, Field};

/// Kinds of problems told one by one; the rest is counted.
pub const MAX_FINDINGS: usize = 200;

/// Cells and texts named of each kind.
const NAMED: usize = 5;

/// What is wrong with a cell, or with a row when there is no one cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct CellProblem {
    pub(crate) field: Option<Field>,
    pub(crate) column: Option<usize>,
    pub(crate) found: String,
    /// What was expected and how to mend it; what stands before its first colon tells kinds of problems apart.
    pub(crate) expected: String,
}

impl CellProblem {
    /// A problem of a further check, at the column of its field; at the row where it names none.
    pub(super) fn placed(problem: Problem, columns: &Columns) -> Self {
        let Problem { field: name, found, expected } = problem;
        let field = Field::of_contract(&name);
        let counts = [Field::Sets, Field::Reps, Field::Seconds, Field::Done];
        let own = field.and_then(|field| columns.place(field)).or_else(|| {
            let is_count = field.is_some_and(|field| counts.contains(&field));
            counts.into_iter().filter(|_| is_count).find_map(|field| columns.place(field))
        });
        // Where days stand across, a cell is all that is said of its sets.
        let own = own.or_else(|| columns.day.and(columns.place(Field::Sets)));
        // A body mass is asked for where there is a load.
        let beside = (field == Some(Field::BodyMass)).then(|| columns.place(Field::Load)).flatten();
        let is_plain = own.is_some() || name.is_empty();
        let found = if is_plain { found } else { format!("{found} as {name}") };
        let column = own.or(beside);
        Self { field, column, found, expected }
    }
}

/// One kind of problem, in every cell that has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// The first cell.
    pub place: Place,
    /// The header of its column, if it has one.
    pub header: String,
    /// How many cells have it.
    pub count: usize,
    /// The first cells, up to five.
    pub cells: Vec<String>,
    /// What was found in them, each once, up to five.
    pub found: Vec<String>,
    /// What was expected, and how to mend it.
    pub expected: String,
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.place)?;
        if !self.header.is_empty() {
            write!(f, " ({})", self.header)?;
        }
        if self.count > 1 {
            let others = self.cells.iter().skip(1).map(String::as_str).collect::<Vec<_>>().join(", ");
            let rest = if self.count > self.cells.len() { ", .." } else { "" };
            write!(f, " and {} more ({others}{rest})", self.count - 1)?;
        }
        write!(f, ": found {}; expected {}", self.found.join(", "), self.expected)
    }
}

/// Problems as they come, sorted into kinds.
#[derive(Debug)]
pub(crate) struct Findings {
    file: String,
    sheet: Option<String>,
    /// Where each kind stands among those found, by its column, the header over it and what was expected: where days stand
    /// across, a column has another header further down.
    kinds: BTreeMap<(Option<usize>, String, String), usize>,
    found: Vec<Finding>,
    /// Cells of kinds beyond [`MAX_FINDINGS`].
    more: usize,
}

impl Findings {
    pub(crate) fn new(file: &str, sheet: Option<&str>) -> Self {
        let sheet = sheet.map(str::to_owned);
        Self { file: file.to_owned(), sheet, kinds: BTreeMap::new(), found: Vec::new(), more: 0 }
    }

    pub(crate) fn add(&mut self, row: u32, titles: &[String], problem: CellProblem) {
        let cell = match problem.column {
            Some(column) => cell_name(column, row),
            None => format!("row {row}"),
        };
        let kind = problem.expected.split(": ").next().unwrap_or_default();
        let title = problem.column.and_then(|column| titles.get(column)).cloned();
        let key = (problem.column, title.clone().unwrap_or_default(), kind.to_owned());
        if let Some(at) = self.kinds.get(&key) {
            let finding = &mut self.found[*at];
            finding.count += 1;
            if finding.cells.len() < NAMED {
                finding.cells.push(cell);
            }
            if finding.found.len() < NAMED && !finding.found.contains(&problem.found) {
                finding.found.push(problem.found);
            }
            return;
        }
        // Only what is known already is counted once there are enough.
        if self.found.len() >= MAX_FINDINGS {
            self.more += 1;
            return;
        }
        let header = title.or(problem.field.map(|field| field.name().to_owned())).unwrap_or_default();
        self.kinds.insert(key, self.found.len());
        self.found.push(Finding {
            place: Place { file: self.file.clone(), sheet: self.sheet.clone(), cell: Some(cell.clone()) },
            header,
            count: 1,
            cells: vec![cell],
            found: vec![problem.found],
            expected: problem.expected,
        });
    }

    /// The kinds in the order in which they came, and how many cells of further kinds there are.
    pub(crate) fn closed(self) -> (Vec<Finding>, usize) {
        (self.found, self.more)
    }
}
