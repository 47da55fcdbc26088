//! What is left of a replay: tables of predictions, figures as JSON, and the page.

#![expect(clippy::expect_used, clippy::panic, reason = "an output that cannot be read back must fail")]

mod columns;
mod json;
mod page;
mod report;
mod row_files;
mod sample;
