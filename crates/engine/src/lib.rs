//! Use cases: record, correct, withdraw, prescribe, why; the state cache.
