//! Key: who may call, in what role and how far it reaches.

use std::fmt;

use nextrung_domain::ids::{AthleteId, RosterId};

use crate::error::StoreError;

/// Digits of a key's id.
const ID_DIGITS: usize = 16;

/// What is shown of a key: its id, 16 hexadecimal digits in lower case.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct KeyId(String);

impl KeyId {
    /// From its digits; nothing when they are none.
    pub fn new(text: &str) -> Option<Self> {
        let is_digit = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
        (text.len() == ID_DIGITS && text.bytes().all(is_digit)).then(|| Self(text.to_owned()))
    }

    /// The digits.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for KeyId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What the holder of a key does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Keeps the service: rosters and keys, and nothing of the people in them.
    Operator,
    /// Trains the athletes of some rosters.
    Coach,
    /// Trains: an athlete's own data.
    Athlete,
    /// Reads and replays some rosters.
    Analyst,
}

impl Role {
    /// Every one.
    pub const ALL: [Self; 4] = [Self::Operator, Self::Coach, Self::Athlete, Self::Analyst];

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Operator => "operator",
            Self::Coach => "coach",
            Self::Athlete => "athlete",
            Self::Analyst => "analyst",
        }
    }

    /// From the word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.word() == word)
    }
}

/// A roster that a key reaches, or one athlete of it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Reach {
    /// The roster.
    pub roster: RosterId,
    /// The athlete; everybody when nothing.
    pub athlete: Option<AthleteId>,
}

/// A key as kept. Its secret is known to its holder alone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyRecord {
    /// Its id.
    pub id: KeyId,
    /// SHA-256 of the secret. The secret is 256 random bits, so nothing slower is needed.
    pub secret_hash: [u8; 32],
    /// What the holder does.
    pub role: Role,
    /// Whose it is, in words.
    pub title: String,
    /// How far it reaches, in order, each once.
    pub reaches: Vec<Reach>,
    /// Creation, milliseconds since 1970-01-01 UTC.
    pub created_at_ms: i64,
    /// From then on it is not taken any more; nothing when it does not end by itself.
    pub expires_at_ms: Option<i64>,
    /// When it was revoked.
    pub revoked_at_ms: Option<i64>,
}

impl KeyRecord {
    /// Fails with [`StoreError::Refused`] when the reach does not fit the role: none for operators, whole rosters for coaches
    /// and analysts, one athlete for an athlete.
    pub fn check(&self) -> Result<(), StoreError> {
        let expected = match (self.role, self.reaches.as_slice()) {
            (Role::Operator, []) => return Ok(()),
            (Role::Operator, _) => "left out for an operator, who reaches no athletes",
            (Role::Athlete, [Reach { athlete: Some(_), .. }]) => return Ok(()),
            (Role::Athlete, _) => "one athlete for an athlete",
            (Role::Coach | Role::Analyst, reaches @ [_, ..])
                if reaches.iter().all(|reach| reach.athlete.is_none()) =>
            {
                return Ok(());
            }
            (Role::Coach | Role::Analyst, _) => "one or more whole rosters for a coach or an analyst",
        };
        Err(StoreError::Refused { field: "key.reaches", expected })
    }
}
