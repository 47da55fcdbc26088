//! Across: a row with what was done on several days, taken apart into one for each.

use nextrung_domain::date::CivilDate;

use super::finding::CellProblem;
use crate::grid::{GridRow, Value};
use crate::mapping::{Columns, Field};

/// A row with one cell under a day at a time, the others blank.
pub(super) struct UnderDays<'r> {
    row: &'r GridRow<'r>,
    cells: Vec<Value<'r>>,
    /// What is left, the first last.
    left: Vec<(usize, CivilDate)>,
    /// The cell that is filled now.
    now: Option<usize>,
}

impl<'r> UnderDays<'r> {
    pub(super) fn of(row: &'r GridRow<'r>, columns: &Columns) -> Self {
        let is_filled = |place: usize| {
            row.cells.get(place).is_some_and(|value| !value.says_nothing()) && !row.carried.contains(&place)
        };
        let left = columns.days.iter().rev().filter(|(place, _)| is_filled(*place)).copied().collect();
        let mut cells = row.cells.to_vec();
        for (place, _) in &columns.days {
            if let Some(cell) = cells.get_mut(*place) {
                *cell = Value::Empty;
            }
        }
        Self { row, cells, left, now: None }
    }

    /// Cells that are left.
    pub(super) fn len(&self) -> usize {
        self.left.len()
    }

    /// Fills the next cell; says where it stands, and under which day.
    pub(super) fn next(&mut self) -> Option<(usize, CivilDate)> {
        if let Some(last) = self.now.take() {
            self.cells[last] = Value::Empty;
        }
        let (place, day) = self.left.pop()?;
        self.cells[place] = self.row.cells[place].clone();
        self.now = Some(place);
        Some((place, day))
    }

    /// The row with the cell that is filled now.
    pub(super) fn row(&self) -> GridRow<'_> {
        GridRow { cells: &self.cells, ..*self.row }
    }
}

/// What is wrong with a cell that no day stands over.
pub(super) fn stray(row: &GridRow<'_>, place: usize) -> CellProblem {
    CellProblem {
        field: Some(Field::Sets),
        column: Some(place),
        found: row.cells.get(place).map(Value::shown).unwrap_or_default(),
        expected: "no cell beside the days: write the day over each of its columns, or all of its sets into one cell".to_owned(),
    }
}
