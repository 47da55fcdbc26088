//! The log's trait, its errors, the conformance suite, the SQLite and the PostgreSQL backend.
//!
//! [`store::Store`] is what the rest of the service knows; [`sqlite::SqliteStore`] keeps the log in one file,
//! [`postgres::PostgresStore`] in a database that several replicas share, and [`log::Log`] is either. Each promise
//! of the trait has a check in `conformance` (feature `conformance`), which every backend's tests run.

pub mod access;
pub mod append;
mod batch;
#[cfg(feature = "conformance")]
pub mod conformance;
pub mod copy;
pub mod erasure;
pub mod error;
mod event_text;
pub mod key;
pub mod log;
pub mod page;
pub mod plain;
pub mod postgres;
pub mod record;
pub mod request;
pub mod row;
pub mod sqlite;
pub mod store;
