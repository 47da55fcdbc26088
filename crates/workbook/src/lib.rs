//! Workbooks of answers: plain structs in, bytes of an xlsx file out.
//!
//! [`book`] makes new workbooks: one of an athlete ([`book::AthleteBook`]) and an overview of a roster
//! ([`book::RosterBook`]). [`own_sheet`] writes one sheet of ours into a workbook of somebody else's and leaves every other
//! byte of its parts as it is.
//!
//! Texts come from people, and a spreadsheet takes one that begins with `=`, `+`, `-` or `@` for a formula when it is typed.
//! No cell written here is a formula: every text is a string cell, and one that begins so is marked as quoted besides
//! (`quotePrefix`), so that it stays a text when somebody edits the cell. What a spreadsheet cannot hold (control characters,
//! more than 32,000 letters in a cell) is left out.
//!
//! The same data give the same bytes: nothing of the clock or of chance is in a file.

pub mod book;
mod insertion;
pub mod own_sheet;
mod package;
pub mod session;
mod text;
