//! The log's trait, its errors, the conformance suite and the SQLite backend.
//!
//! [`store::Store`] is what the rest of the service knows; [`sqlite::SqliteStore`] keeps the log in one file. Each promise
//! of the trait has a check in `conformance` (feature `conformance`), which every backend's tests run.

pub mod append;
mod batch;
#[cfg(feature = "conformance")]
pub mod conformance;
pub mod error;
mod event_text;
pub mod key;
pub mod page;
pub mod record;
pub mod request;
pub mod sqlite;
pub mod store;
