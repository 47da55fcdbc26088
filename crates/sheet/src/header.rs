//! Header: which column stands where.

use nextrung_domain::measure::Unit;
use nextrung_domain::problem::{Problem, did_you_mean};

use crate::cell::{cell_text, shown};
use crate::column::Column;
use crate::record::RawCell;
use crate::set_sheet::MAX_PROBLEMS;

/// Most cells that are looked at one by one, so that their problems and those of missing columns are all told.
const WIDEST: usize = MAX_PROBLEMS - Column::COUNT;

/// The problem of a header that is out of all reason.
pub(crate) fn too_wide(found: &str) -> Problem {
    Problem::new("header", found, format!("at most {} columns, each once", Column::COUNT))
}

/// Which column stands where.
#[derive(Debug, Clone)]
pub(crate) struct Header {
    places: [Option<usize>; Column::COUNT],
    /// Cells in the header, and so in every row.
    pub(crate) width: usize,
}

impl Header {
    /// Reads the header's cells. Fails with every unknown, doubled or missing column, or with its width alone where that is
    /// out of all reason.
    pub(crate) fn read(cells: &[RawCell<'_>]) -> Result<Self, Vec<Problem>> {
        if cells.len() > WIDEST {
            return Err(vec![too_wide(&format!("{} cells", cells.len()))]);
        }
        let mut header = Self { places: [None; Column::COUNT], width: cells.len() };
        let mut problems = Vec::new();
        for (at, cell) in cells.iter().enumerate() {
            if let Err(problem) = header.place_column(at, cell) {
                problems.push(problem);
            }
        }
        problems.extend(header.missing());
        if problems.is_empty() { Ok(header) } else { Err(problems) }
    }

    /// Where a column stands, counted from 0; nothing when the sheet has no such column.
    pub(crate) fn place(&self, column: Column) -> Option<usize> {
        self.places[column.index()]
    }

    fn place_column(&mut self, at: usize, cell: &RawCell<'_>) -> Result<(), Problem> {
        let field = format!("header[{}]", at + 1);
        let text = cell_text(cell).map_err(|bad| bad.problem(&field))?;
        let name = text.trim();
        let Some(column) = Column::from_name(name) else {
            let names = Column::ALL.map(Column::name);
            let guess = did_you_mean(&name.to_lowercase(), names.into_iter());
            return Err(Problem::new(field, shown(name), format!("one of {}{guess}", names.join(", "))));
        };
        if let Some(first) = self.place(column) {
            let found = format!("`{name}` as in header[{}]", first + 1);
            return Err(Problem::new(field, found, "each column once"));
        }
        self.places[column.index()] = Some(at);
        Ok(())
    }

    fn missing(&self) -> Vec<Problem> {
        let needed = Column::ALL.into_iter().filter(|c| c.is_needed() && self.place(*c).is_none());
        let mut problems: Vec<Problem> = needed
            .map(|c| Problem::new("header", format!("no column `{}`", c.name()), "a column of this name"))
            .collect();
        if Unit::ALL.iter().all(|unit| self.place(Column::of_unit(*unit)).is_none()) {
            let expected = format!("at least one of the columns {}", Unit::ALL.map(Unit::field).join(", "));
            problems.push(Problem::new("header", "no column for the units done", expected));
        }
        problems
    }
}
