//! Tables: the figures of a picture as text, in columns with room for all of it.

use crate::frame::{Frame, Stroke};
use crate::lettering::{Anchor, Lettering};

/// Pixels between two columns.
const GAP: u32 = 14;
/// Most lines of a cell.
const LINES: usize = 8;

/// One column.
#[derive(Debug)]
pub(crate) struct Column {
    head: String,
    anchor: Anchor,
    widest: u32,
}

impl Column {
    /// Words, in lines of at most this many pixels.
    pub(crate) fn words(head: &str, widest: u32) -> Self {
        Self { head: head.to_owned(), anchor: Anchor::Start, widest }
    }

    /// Figures, lined up at their right.
    pub(crate) fn figures(head: &str) -> Self {
        Self { head: head.to_owned(), anchor: Anchor::End, widest: 120 }
    }
}

/// A table.
#[derive(Debug)]
pub(crate) struct Table {
    columns: Vec<Column>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// Without rows.
    pub(crate) fn new(columns: Vec<Column>) -> Self {
        Self { columns, rows: Vec::new() }
    }

    /// Adds a row: one cell a column.
    pub(crate) fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    /// The widths of the columns: what the widest cell takes, at most what the column allows.
    fn widths(&self) -> Vec<u32> {
        let lettering = Lettering::SMALL;
        let of = |(at, column): (usize, &Column)| {
            let head = column.head.split(' ').map(|word| lettering.bold().width(word)).max();
            let cells = self.rows.iter().filter_map(|row| row.get(at)).map(|cell| lettering.width(cell));
            cells.chain(head).max().unwrap_or(0).min(column.widest)
        };
        self.columns.iter().enumerate().map(of).collect()
    }

    /// Draws it with its upper left corner at the place given; returns its lower edge.
    pub(crate) fn draw(&self, frame: &mut Frame, (x, y): (u32, u32)) -> u32 {
        let widths = self.widths();
        let right = x + widths.iter().map(|width| width + GAP).sum::<u32>() - GAP;
        let heads: Vec<&str> = self.columns.iter().map(|column| column.head.as_str()).collect();
        let head_lines = Lettering::SMALL.bold();
        let mut y = self.cells(frame, (x, y), &heads, head_lines) + 3;
        frame.line((x, y), (right, y), Stroke { ink: head_lines.ink, ..Stroke::RULE });
        for row in &self.rows {
            let cells: Vec<&str> = row.iter().map(String::as_str).collect();
            y = self.cells(frame, (x, y + 2), &cells, Lettering::SMALL) + 1;
            frame.line((x, y), (right, y), Stroke::RULE);
        }
        y
    }

    /// One row below the place given; returns its lower edge.
    fn cells(&self, frame: &mut Frame, (x, y): (u32, u32), cells: &[&str], lettering: Lettering) -> u32 {
        let mut left = x;
        let mut bottom = y;
        for ((column, width), cell) in self.columns.iter().zip(self.widths()).zip(cells) {
            let at = match column.anchor {
                Anchor::Start => left,
                Anchor::End => left + width,
            };
            let lettering = lettering.at(column.anchor);
            let lines = lettering.wrapped(cell, width, LINES);
            bottom = bottom.max(frame.lines((at, y), &lines, lettering));
            left += width + GAP;
        }
        bottom
    }
}

/// How many entries lie between two that a table of at most so many rows shows, 1 for all of them.
pub(crate) fn step(entries: usize, most: usize) -> usize {
    entries.div_ceil(most).max(1)
}

/// True for the entries shown with that step: the last one always is.
pub(crate) fn is_shown(at: usize, entries: usize, step: usize) -> bool {
    (entries - 1 - at).is_multiple_of(step)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lists_are_thinned_from_their_end() {
        assert_eq!((step(0, 26), step(26, 26), step(27, 26), step(53, 26)), (1, 1, 2, 3));
        let shown: Vec<usize> = (0..7).filter(|at| is_shown(*at, 7, 3)).collect();
        assert_eq!(shown, [0, 3, 6]);
    }
}
