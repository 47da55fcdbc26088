//! Secret: a text that is never shown, whoever asks.

use std::fmt;

use serde::{Serialize, Serializer};

/// What stands in place of a secret.
pub const HIDDEN: &str = "(hidden)";

/// A text that is never shown: not printed, not debugged, not serialised. Only [`reveal`](Self::reveal) gives it.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl Secret {
    /// Keeps a text secret.
    pub fn new(text: impl Into<String>) -> Self {
        Self(text.into())
    }

    /// The text itself, to be used and not to be shown.
    pub fn reveal(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(HIDDEN)
    }
}

impl fmt::Display for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(HIDDEN)
    }
}

impl Serialize for Secret {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(HIDDEN)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_shows_it() {
        let secret = Secret::new("open sesame");
        let shown = [
            format!("{secret}"),
            format!("{secret:?}"),
            format!("{:#?}", Some(&secret)),
            serde_json::to_string(&secret).unwrap(),
        ];
        assert!(shown.iter().all(|text| !text.contains("sesame") && text.contains(HIDDEN)), "{shown:?}");
        assert_eq!(secret.reveal(), "open sesame");
    }
}
