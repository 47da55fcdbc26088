//! The program as people use it: a served database, every verb, what it prints and how it ends.

#[expect(clippy::unwrap_used, reason = "a test ends where its files cannot be written")]
mod kept;
#[expect(clippy::unwrap_used, clippy::panic, reason = "a test ends where the service does not start")]
mod operated;
#[expect(clippy::unwrap_used, reason = "a test ends where a call fails that must not")]
mod planted;
#[expect(clippy::unwrap_used, reason = "a test ends where the program cannot be run")]
mod program;
#[expect(clippy::unwrap_used, reason = "a test ends where there is no connection")]
mod raw;

#[expect(clippy::unwrap_used, reason = "a test ends where a call fails that must not")]
mod backups;
#[expect(clippy::unwrap_used, reason = "a test ends where its files cannot be written")]
mod connections;
#[expect(clippy::unwrap_used, reason = "a test ends where there is no server to test with")]
mod databases;
mod demo;
#[expect(clippy::unwrap_used, reason = "a test ends where a call fails that must not")]
mod draining;
#[expect(clippy::unwrap_used, reason = "a test ends where a call fails that must not")]
mod erasure;
#[expect(clippy::unwrap_used, reason = "a test ends where its files cannot be read")]
mod exports;
mod failures;
#[expect(clippy::unwrap_used, reason = "a test ends where its files cannot be written")]
mod hall;
#[expect(clippy::unwrap_used, reason = "a test ends where its files cannot be read")]
mod import_findings;
#[expect(clippy::unwrap_used, reason = "a test ends where the program cannot be run")]
mod import_limits;
mod import_questions;
mod imports;
mod kept_folders;
#[expect(clippy::unwrap_used, reason = "a test ends where the program cannot be run")]
mod kept_loops;
mod keys;
mod manuals;
mod probes;
#[expect(clippy::unwrap_used, reason = "a test ends where its files cannot be read")]
mod questions;
#[expect(clippy::unwrap_used, reason = "a test ends where its files cannot be written")]
mod secured;
#[expect(clippy::unwrap_used, reason = "a test ends where the program cannot be run")]
mod settings;
#[expect(clippy::unwrap_used, reason = "a test ends where its files cannot be written")]
mod sheets;
#[expect(clippy::unwrap_used, clippy::panic, reason = "a test ends where a call fails that must not")]
mod silence;
#[expect(clippy::unwrap_used, reason = "a test ends where a call fails that must not")]
mod traces;
mod verbs;
#[expect(clippy::expect_used, reason = "a workbook that cannot be made must fail")]
#[path = "../../../sheet/tests/made/workbook.rs"]
mod workbook;
mod workbooks;
