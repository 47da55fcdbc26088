//! Table: figures under their heads, each row with its name.

use nextrung_chart::page::escaped;

/// A table being filled. The first column names the rows.
#[derive(Debug)]
pub(crate) struct Table {
    caption: String,
    groups: Vec<(String, usize)>,
    heads: Vec<String>,
    rows: Vec<Vec<String>>,
    words: usize,
    is_long: bool,
}

impl Table {
    /// Without rows.
    pub(crate) fn new(caption: &str, heads: &[&str]) -> Self {
        Self {
            caption: caption.to_owned(),
            groups: Vec::new(),
            heads: heads.iter().map(|head| (*head).to_owned()).collect(),
            rows: Vec::new(),
            words: 0,
            is_long: false,
        }
    }

    /// Heads above the heads, each over so many columns.
    pub(crate) fn under(mut self, groups: &[(&str, usize)]) -> Self {
        self.groups = groups.iter().map(|(words, columns)| ((*words).to_owned(), *columns)).collect();
        self
    }

    /// One more column.
    pub(crate) fn column(&mut self, head: &str) {
        self.heads.push(head.to_owned());
    }

    /// So many columns after the first hold words, not figures.
    pub(crate) fn with_words(mut self, columns: usize) -> Self {
        self.words = columns;
        self
    }

    /// It can be folded away, and is open at first.
    pub(crate) fn long(mut self) -> Self {
        self.is_long = true;
        self
    }

    /// Adds a row: its name, then a cell for each other column.
    pub(crate) fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    fn head(&self) -> String {
        let mut out = String::new();
        if !self.groups.is_empty() {
            out += "<tr>";
            for (words, columns) in &self.groups {
                let words = escaped(words);
                out += &if words.is_empty() {
                    format!("<td colspan=\"{columns}\"></td>")
                } else {
                    format!("<th scope=\"colgroup\" colspan=\"{columns}\">{words}</th>")
                };
            }
            out += "</tr>\n";
        }
        out += "<tr>";
        for (at, head) in self.heads.iter().enumerate() {
            out += &format!("<th scope=\"col\"{}>{}</th>", self.class(at), escaped(head));
        }
        out + "</tr>\n"
    }

    /// Words stand at the left.
    fn class(&self, column: usize) -> &'static str {
        if column <= self.words { " class=\"w\"" } else { "" }
    }

    fn cells(&self, row: &[String]) -> String {
        let one = |(at, cell): (usize, &String)| {
            let cell = escaped(cell);
            if at == 0 {
                format!("<th scope=\"row\">{cell}</th>")
            } else {
                format!("<td{}>{cell}</td>", self.class(at))
            }
        };
        format!("<tr>{}</tr>\n", row.iter().enumerate().map(one).collect::<String>())
    }

    /// As it stands on the page.
    pub(crate) fn markup(&self) -> String {
        let caption = escaped(&self.caption);
        let rows: String = self.rows.iter().map(|row| self.cells(row)).collect();
        let table = |caption: &str| {
            format!("<table>\n{caption}<thead>\n{}</thead>\n<tbody>\n{rows}</tbody>\n</table>", self.head())
        };
        if self.is_long {
            let table = table("");
            return format!(
                "<details open=\"open\">\n<summary>{caption}</summary>\n<div class=\"wide\">\n{table}\n</div>\n</details>"
            );
        }
        format!("<div class=\"wide\">\n{}\n</div>", table(&format!("<caption>{caption}</caption>\n")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cell_has_its_heads() {
        let mut table =
            Table::new("of <this>", &["name", "a", "b"]).under(&[("", 1), ("both", 2)]).with_words(1);
        table.row(["one", "x & y", "2"].map(str::to_owned).to_vec());
        let markup = table.markup();
        for part in [
            "<caption>of &lt;this&gt;</caption>",
            "<td colspan=\"1\"></td><th scope=\"colgroup\" colspan=\"2\">both</th>",
            "<th scope=\"col\" class=\"w\">a</th><th scope=\"col\">b</th>",
            "<th scope=\"row\">one</th><td class=\"w\">x &amp; y</td><td>2</td>",
        ] {
            assert!(markup.contains(part), "{part} in {markup}");
        }
        assert!(
            table.long().markup().starts_with("<details open=\"open\">\n<summary>of &lt;this&gt;</summary>")
        );
    }
}
