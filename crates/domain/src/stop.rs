//! Stops and purposes: how a set ended and what it was for.

use serde::{Deserialize, Serialize};

/// How a set ended (F-05).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stop {
    /// The planned target was reached.
    Target,
    /// Strength gave out on the next unit.
    Strength,
    /// Fell out of balance on the next unit.
    Balance,
    /// The line broke on the next unit.
    Line,
    /// The next unit failed; the cause was not said.
    Failed,
    /// The athlete chose to stop below the target.
    Chosen,
    /// Stopped for pain.
    Pain,
    /// Interrupted from outside.
    Interrupted,
    /// Something else.
    Other,
}

impl Stop {
    /// Every stop, in the order of the contract.
    pub const ALL: [Self; 9] = [
        Self::Target,
        Self::Strength,
        Self::Balance,
        Self::Line,
        Self::Failed,
        Self::Chosen,
        Self::Pain,
        Self::Interrupted,
        Self::Other,
    ];

    /// The word used in files and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Self::Target => "target",
            Self::Strength => "strength",
            Self::Balance => "balance",
            Self::Line => "line",
            Self::Failed => "failed",
            Self::Chosen => "chosen",
            Self::Pain => "pain",
            Self::Interrupted => "interrupted",
            Self::Other => "other",
        }
    }

    /// Reads a [`word`](Self::word).
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|s| s.word() == word)
    }

    /// True when the next unit was tried and failed.
    pub fn is_failure(self) -> bool {
        matches!(self, Self::Strength | Self::Balance | Self::Line | Self::Failed)
    }
}

/// What a set was for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Purpose {
    /// A working set: builds the strength.
    Working,
    /// A skill attempt: allowed to be messy.
    Attempt,
    /// Balance or movement practice.
    Practice,
    /// A test of what is possible today.
    Test,
    /// Unstructured.
    Free,
}

impl Purpose {
    /// Every purpose, in the order of the contract.
    pub const ALL: [Self; 5] = [Self::Working, Self::Attempt, Self::Practice, Self::Test, Self::Free];

    /// The word used in files and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Self::Working => "working",
            Self::Attempt => "attempt",
            Self::Practice => "practice",
            Self::Test => "test",
            Self::Free => "free",
        }
    }

    /// Reads a [`word`](Self::word).
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|p| p.word() == word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_round_trip() {
        for s in Stop::ALL {
            assert_eq!(Stop::from_word(s.word()), Some(s));
        }
        for p in Purpose::ALL {
            assert_eq!(Purpose::from_word(p.word()), Some(p));
        }
        assert_eq!(Stop::from_word("tired"), None);
    }
}
