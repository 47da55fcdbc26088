//! Reading the page back: its words, tables and pictures.

use roxmltree::{Document, Node, ParsingOptions};

/// The page as a tree; it has to be XML.
pub(crate) fn tree(html: &str) -> Document<'_> {
    let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
    Document::parse_with_options(html, options).expect("the page is XML")
}

/// All text below a node.
pub(crate) fn text(node: Node<'_, '_>) -> String {
    node.descendants().filter(Node::is_text).filter_map(|node| node.text()).collect()
}

/// The elements of a name, in order.
pub(crate) fn elements<'a, 'i>(page: &'a Document<'i>, name: &str) -> Vec<Node<'a, 'i>> {
    page.descendants().filter(|node| node.tag_name().name() == name).collect()
}

/// Every table as its rows of cells, heads included.
pub(crate) fn tables(page: &Document<'_>) -> Vec<Vec<Vec<String>>> {
    let cells = |row: Node<'_, '_>| row.children().filter(Node::is_element).map(text).collect();
    let rows = |table: Node<'_, '_>| {
        table.descendants().filter(|node| node.tag_name().name() == "tr").map(cells).collect()
    };
    elements(page, "table").into_iter().map(rows).collect()
}

/// True when some table has a row that begins with these cells.
pub(crate) fn has_row(page: &Document<'_>, cells: &[&str]) -> bool {
    tables(page)
        .iter()
        .flatten()
        .any(|row| row.len() >= cells.len() && row.iter().zip(cells).all(|(a, b)| a == b))
}
