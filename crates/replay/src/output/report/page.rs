//! Page: the document around what the report says.

use nextrung_chart::page::{escaped, inline};

use crate::output::report::style::STYLE;
use crate::output::report::table::Table;

/// A page being written. All text given to it is escaped.
#[derive(Debug)]
pub(crate) struct Page {
    title: String,
    contents: Vec<(&'static str, String)>,
    lead: String,
    body: String,
}

impl Page {
    /// A page with its title.
    pub(crate) fn new(title: &str) -> Self {
        Self { title: escaped(title), contents: Vec::new(), lead: String::new(), body: String::new() }
    }

    /// Where words go: before the contents until the first section begins.
    fn add(&mut self, markup: &str) {
        let to = if self.contents.is_empty() { &mut self.lead } else { &mut self.body };
        to.push_str(markup);
        to.push('\n');
    }

    /// Begins a section.
    pub(crate) fn section(&mut self, id: &'static str, heading: &str) {
        let heading = escaped(heading);
        if !self.contents.is_empty() {
            self.add("</section>");
        }
        self.contents.push((id, heading.clone()));
        self.add(&format!("<section aria-labelledby=\"{id}\">\n<h2 id=\"{id}\">{heading}</h2>"));
    }

    /// A heading within a section.
    pub(crate) fn heading(&mut self, text: &str) {
        self.add(&format!("<h3>{}</h3>", escaped(text)));
    }

    /// A paragraph.
    pub(crate) fn paragraph(&mut self, text: &str) {
        self.add(&format!("<p>{}</p>", escaped(text)));
    }

    /// A list of sentences.
    pub(crate) fn list<T: AsRef<str>>(&mut self, items: &[T]) {
        let items: Vec<String> =
            items.iter().map(|item| format!("<li>{}</li>", escaped(item.as_ref()))).collect();
        self.add(&format!("<ul>\n{}\n</ul>", items.join("\n")));
    }

    /// Words with what each means.
    pub(crate) fn meanings(&mut self, items: &[(&str, String)]) {
        let one = |(word, meaning): &(&str, String)| {
            format!("<dt>{}</dt><dd>{}</dd>", escaped(word), escaped(meaning))
        };
        let items: Vec<String> = items.iter().map(one).collect();
        self.add(&format!("<dl>\n{}\n</dl>", items.join("\n")));
    }

    /// A table.
    pub(crate) fn table(&mut self, table: &Table) {
        self.add(&table.markup());
    }

    /// A picture: a document of SVG.
    pub(crate) fn picture(&mut self, svg: &str) {
        self.add(&format!("<figure class=\"wide\">\n{}</figure>", inline(svg)));
    }

    /// The document.
    pub(crate) fn finish(mut self) -> String {
        if !self.contents.is_empty() {
            self.add("</section>");
        }
        let links: Vec<String> = self
            .contents
            .iter()
            .map(|(id, heading)| format!("<li><a href=\"#{id}\">{heading}</a></li>"))
            .collect();
        format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
             <title>{title}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{title}</h1>\n{}\
             <nav aria-label=\"Contents\">\n<ol>\n{}\n</ol>\n</nav>\n{}</main>\n</body>\n</html>\n",
            self.lead,
            links.join("\n"),
            self.body,
            title = self.title,
        )
    }
}
