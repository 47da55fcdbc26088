//! The log's trait, its errors, the conformance suite and the SQLite backend.
//!
//! [`store::Store`] is what the rest of the service knows.

pub mod append;
pub mod error;
pub mod page;
pub mod record;
pub mod request;
pub mod store;
