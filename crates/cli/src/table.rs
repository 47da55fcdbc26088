//! Tables: columns of text, headed in faint words, two blanks apart, without lines.

use comfy_table::{Cell, CellAlignment, ColumnConstraint, ContentArrangement, Table};

use crate::output::Layout;

/// Blanks before every line.
const INDENT: usize = 2;
/// Blanks between columns.
const GAP: u16 = 2;

/// A table that is being filled.
pub(crate) struct Columns {
    headings: Vec<Heading>,
    rows: Vec<Vec<String>>,
}

/// The heading of a column.
struct Heading {
    text: String,
    is_figure: bool,
    may_wrap: bool,
}

impl Columns {
    /// A table with these headings. `>` before a heading sets its column to the right; `~` lets it break into lines
    /// where the width is too small, which other columns do not.
    pub(crate) fn new(headings: &[&str]) -> Self {
        let heading = |text: &&str| Heading {
            text: text.trim_start_matches(['>', '~']).to_owned(),
            is_figure: text.starts_with('>'),
            may_wrap: text.starts_with('~'),
        };
        Self { headings: headings.iter().map(heading).collect(), rows: Vec::new() }
    }

    /// One more row.
    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }

    /// The table of a page. Ends with a line feed.
    pub(crate) fn render(&self, layout: Layout) -> String {
        self.render_within(layout.width, layout)
    }

    /// The table of a list, which may be as wide as the terminal.
    pub(crate) fn render_wide(&self, layout: Layout) -> String {
        self.render_within(layout.list_width, layout)
    }

    fn render_within(&self, width: usize, layout: Layout) -> String {
        let kept: Vec<usize> = (0..self.headings.len()).filter(|at| self.is_filled(*at)).collect();
        let mut table = Table::new();
        table.load_style(comfy_table::presets::NOTHING).set_content_arrangement(ContentArrangement::Dynamic);
        // The blanks behind the last column are cut off again.
        table.set_width(u16::try_from(width.saturating_sub(INDENT)).unwrap_or(u16::MAX).saturating_add(GAP));
        let headings: Vec<&Heading> = kept.iter().filter_map(|at| self.headings.get(*at)).collect();
        table.set_header(headings.iter().map(|heading| Cell::new(&heading.text)));
        for row in &self.rows {
            table.add_row(kept.iter().filter_map(|at| row.get(*at)).map(Cell::new));
        }
        for (at, heading) in headings.iter().enumerate() {
            let Some(column) = table.column_mut(at) else { continue };
            column.set_padding((0, GAP));
            if heading.is_figure {
                column.set_cell_alignment(CellAlignment::Right);
            }
            if !heading.may_wrap {
                column.set_constraint(ColumnConstraint::ContentWidth);
            }
        }
        lines(&table, layout)
    }

    /// Whether a column has anything in it; one without is left out.
    fn is_filled(&self, at: usize) -> bool {
        self.rows.is_empty() || self.rows.iter().any(|row| row.get(at).is_some_and(|cell| !cell.is_empty()))
    }
}

fn lines(table: &Table, layout: Layout) -> String {
    let indent = " ".repeat(INDENT);
    let mut page = String::new();
    for (at, line) in table.lines().enumerate() {
        let line = line.trim_end();
        let line = if at == 0 { layout.faint(line) } else { line.to_owned() };
        page += format!("{indent}{line}").trim_end();
        page.push('\n');
    }
    page
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_stand_to_the_right_and_lines_end_where_the_text_ends() {
        let mut table = Columns::new(&["what", ">sets", "note"]);
        table.row(["pull-up", "4", ""].map(str::to_owned));
        table.row(["row", "12", "easy"].map(str::to_owned));
        let expected = "  what     sets  note\n  pull-up     4\n  row        12  easy\n";
        assert_eq!(table.render(Layout::PLAIN), expected);
    }

    #[test]
    fn a_column_with_nothing_in_it_is_left_out() {
        let mut table = Columns::new(&["what", ">pain", "note"]);
        table.row(["row", "", "easy"].map(str::to_owned));
        assert_eq!(table.render(Layout::PLAIN), "  what  note\n  row   easy\n");
    }

    #[test]
    fn only_marked_columns_break_into_lines() {
        let mut table = Columns::new(&["~what", "id"]);
        table.row(["one two three", "a-long-id"].map(str::to_owned));
        let narrow = Layout { width: 20, ..Layout::PLAIN };
        assert_eq!(table.render(narrow), "  what     id\n  one two  a-long-id\n  three\n");
    }
}
