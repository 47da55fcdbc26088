//! Merge: cells merged over several rows, whose first value stands for all of them.

use std::collections::BTreeMap;

use crate::grid::cap::MAX_MERGES;
use crate::grid::place::{Fault, cell_of};
use crate::grid::value::Value;

/// A column of a merged range that goes over more than one row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Span {
    pub(crate) first_row: u32,
    pub(crate) column: usize,
    pub(crate) last_row: u32,
}

impl Span {
    /// Reads a range such as `A2:B5`; nothing when it is one row high. Fails on what is no range.
    pub(crate) fn parse(range: &str) -> Result<Option<Self>, Fault> {
        let corners = range.split_once(':').and_then(|(from, to)| Some((cell_of(from)?, cell_of(to)?)));
        match corners {
            Some(((column, first_row), (right, last_row))) if column <= right && first_row <= last_row => {
                Ok((first_row < last_row).then_some(Self { first_row, column, last_row }))
            }
            _ => Err(Fault::new(format!("the merged range `{range:.40}`"), "a range such as A2:A5")),
        }
    }
}

/// The merged ranges of a sheet, walked from top to bottom.
#[derive(Debug, Default)]
pub(crate) struct Merges {
    /// Those to come, the next one last.
    ahead: Vec<Span>,
    /// By column: the last row and the value that stands for the range.
    open: BTreeMap<usize, (u32, Value<'static>)>,
}

impl Merges {
    /// Fails when there are too many.
    pub(crate) fn new(mut spans: Vec<Span>) -> Result<Self, Fault> {
        if spans.len() > MAX_MERGES {
            let found = format!("{} merged ranges", spans.len());
            return Err(Fault::new(found, format!("at most {MAX_MERGES}; unmerge the cells")));
        }
        spans.sort_unstable();
        spans.reverse();
        Ok(Self { ahead: spans, open: BTreeMap::new() })
    }

    /// A range that begins in the row that is being read.
    pub(crate) fn add(&mut self, span: Span) {
        self.ahead.push(span);
    }

    /// Puts the values of ranges begun above into the empty cells of a row, and their columns into `carried`.
    pub(crate) fn carry(&mut self, row: u32, cells: &mut Vec<Value<'_>>, carried: &mut Vec<usize>) {
        carried.clear();
        if self.open.is_empty() && self.ahead.is_empty() {
            return;
        }
        self.open.retain(|_, (last, _)| *last >= row);
        for (column, (_, value)) in &self.open {
            if cells.len() <= *column {
                cells.resize(column + 1, Value::Empty);
            }
            if cells[*column].is_blank() {
                cells[*column] = value.clone();
                carried.push(*column);
            }
        }
        while self.ahead.last().is_some_and(|span| span.first_row <= row) {
            let Some(span) = self.ahead.pop() else { break };
            let value = cells.get(span.column).filter(|_| span.first_row == row);
            if let Some(value) = value.filter(|value| !value.is_blank()) {
                self.open.insert(span.column, (span.last_row, value.kept()));
            }
        }
    }
}
