//! The log's trait, its errors, the conformance suite and the SQLite backend.
