//! Reads reference values and compares with them.

use serde::de::DeserializeOwned;

/// Rows of a reference file.
pub(crate) fn parsed<T: DeserializeOwned>(text: &str) -> T {
    serde_json::from_str(text).expect("a reference file has the expected shape")
}

/// Difference as a share of the expected value.
pub(crate) fn relative(found: f64, expected: f64) -> f64 {
    if found == expected { 0.0 } else { ((found - expected) / expected).abs() }
}

/// Remembers the largest of many errors, not-a-number counting as infinite, and fails above a limit.
#[derive(Default)]
pub(crate) struct Worst {
    error: f64,
    at: String,
}

impl Worst {
    /// Takes note of one error.
    pub(crate) fn note(&mut self, error: f64, at: impl std::fmt::Debug) {
        let error = if error.is_nan() { f64::INFINITY } else { error };
        if error > self.error {
            self.error = error;
            self.at = format!("{at:?}");
        }
    }

    /// Fails if the largest error is above `limit`.
    pub(crate) fn within(&self, limit: f64, what: &str) {
        assert!(self.error <= limit, "{what}: {:e} > {limit:e} at {}", self.error, self.at);
    }
}
