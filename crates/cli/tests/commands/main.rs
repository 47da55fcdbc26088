//! The program as people use it: a served database, every verb, what it prints and how it ends.

#[expect(clippy::unwrap_used, reason = "a test ends where the program cannot be run")]
mod program;

#[expect(clippy::unwrap_used, reason = "a test ends where there is no server to test with")]
mod databases;
mod demo;
mod failures;
#[expect(clippy::unwrap_used, reason = "a test ends where its files cannot be read")]
mod questions;
#[expect(clippy::unwrap_used, reason = "a test ends where its files cannot be written")]
mod sheets;
mod verbs;
