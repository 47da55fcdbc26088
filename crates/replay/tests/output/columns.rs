//! The columns are those that their page tells of.

use nextrung_replay::output::column::{COLUMNS, Kind};

#[test]
fn the_table_of_the_columns_tells_of_each() {
    let page = include_str!("../../src/output/column.rs");
    let told: Vec<(String, String)> = page
        .lines()
        .filter_map(|line| line.strip_prefix("//! | `")?.split_once("` | "))
        .map(|(name, rest)| (name.to_owned(), rest.split(" | ").next().unwrap_or("").to_owned()))
        .collect();
    let word = |kind: Kind| match kind {
        Kind::Text => "text",
        Kind::Date => "date",
        Kind::Moment => "moment",
        Kind::Whole => "whole",
        Kind::Number => "number",
        Kind::Flag => "flag",
    };
    let known: Vec<(String, String)> = COLUMNS
        .iter()
        .map(|c| (c.name.to_owned(), format!("{}{}", word(c.kind), if c.is_optional { "?" } else { "" })))
        .collect();
    assert_eq!(told, known);
}
