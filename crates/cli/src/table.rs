//! Tables: columns of text, headed in faint words, two blanks apart, without lines.

use comfy_table::{Cell, CellAlignment, ContentArrangement, Table};

use crate::output::Layout;

/// A table that is being filled.
pub(crate) struct Columns {
    table: Table,
}

/// Blanks before every line.
const INDENT: usize = 2;

impl Columns {
    /// A table with these headings; a heading that begins with `>` names a column of figures, set to the right.
    pub(crate) fn new(headings: &[&str]) -> Self {
        let mut table = Table::new();
        table.set_content_arrangement(ContentArrangement::Dynamic);
        table.set_header(headings.iter().map(|heading| Cell::new(heading.trim_start_matches('>'))));
        for (at, heading) in headings.iter().enumerate() {
            if let Some(column) = table.column_mut(at) {
                column.set_padding((0, 2));
                if heading.starts_with('>') {
                    column.set_cell_alignment(CellAlignment::Right);
                }
            }
        }
        Self { table }
    }

    /// One more row.
    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.table.add_row(cells.into_iter().map(Cell::new));
    }

    /// The table as text. Ends with a line feed.
    pub(crate) fn render(mut self, layout: Layout) -> String {
        let width = layout.width.saturating_sub(INDENT);
        self.table.set_width(u16::try_from(width).unwrap_or(u16::MAX));
        self.table.load_style(comfy_table::presets::NOTHING);
        let indent = " ".repeat(INDENT);
        let mut page = String::new();
        for (at, line) in self.table.lines().enumerate() {
            let line = line.trim_end();
            let line = if at == 0 { layout.faint(line) } else { line.to_owned() };
            page += format!("{indent}{line}").trim_end();
            page.push('\n');
        }
        page
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_stand_to_the_right_and_lines_end_where_the_text_ends() {
        let mut table = Columns::new(&["what", ">sets", "note"]);
        table.row(["pull-up".to_owned(), "4".to_owned(), String::new()]);
        table.row(["row".to_owned(), "12".to_owned(), "easy".to_owned()]);
        let expected = "  what     sets  note\n  pull-up     4\n  row        12  easy\n";
        assert_eq!(table.render(Layout::PLAIN), expected);
    }
}
