//! Ids: short lower-case slugs that name things and never change meaning.

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

/// Longest slug, in bytes.
pub const MAX_SLUG: usize = 63;

/// Why a text is no id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{text}` is no id: use 1 to 63 of a-z, 0-9 and '-', starting with a letter and not ending in '-'")]
pub struct BadId {
    /// The text as it came, cut to 80 characters.
    pub text: String,
}

fn is_slug(text: &str) -> bool {
    let bytes = text.as_bytes();
    bytes.len() <= MAX_SLUG
        && bytes.first().is_some_and(u8::is_ascii_lowercase)
        && bytes.last().is_some_and(|b| *b != b'-')
        && bytes.iter().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || *b == b'-')
}

macro_rules! slug_id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "String", into = "String")]
        pub struct $name(Arc<str>);

        impl $name {
            /// Checks and wraps a slug. Fails with [`BadId`] when the text is no slug.
            pub fn new(text: &str) -> Result<Self, BadId> {
                if is_slug(text) {
                    Ok(Self(Arc::from(text)))
                } else {
                    Err(BadId { text: text.chars().take(80).collect() })
                }
            }

            /// The slug itself.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl TryFrom<String> for $name {
            type Error = BadId;
            fn try_from(text: String) -> Result<Self, BadId> {
                Self::new(&text)
            }
        }

        impl From<$name> for String {
            fn from(id: $name) -> Self {
                id.0.as_ref().to_owned()
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }
    };
}

slug_id!(
    /// A coach's group of athletes.
    RosterId
);
slug_id!(
    /// An athlete within a roster.
    AthleteId
);
slug_id!(
    /// A ladder.
    LadderId
);
slug_id!(
    /// A rung within its ladder.
    RungId
);
slug_id!(
    /// A shading within its ladder.
    ShadingId
);
slug_id!(
    /// A latent quality, such as vertical pull.
    AbilityId
);
slug_id!(
    /// A piece of equipment.
    EquipmentId
);
slug_id!(
    /// A prescription within its athlete.
    PrescriptionId
);

/// A rung named in full: `ladder/rung`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct RungRef {
    /// The ladder.
    pub ladder: LadderId,
    /// The rung within it.
    pub rung: RungId,
}

impl RungRef {
    /// Reads `ladder/rung`. Fails with [`BadId`] when either part is no slug or the slash is missing.
    pub fn parse(text: &str) -> Result<Self, BadId> {
        let (ladder, rung) =
            text.split_once('/').ok_or_else(|| BadId { text: text.chars().take(80).collect() })?;
        Ok(Self { ladder: LadderId::new(ladder)?, rung: RungId::new(rung)? })
    }
}

impl TryFrom<String> for RungRef {
    type Error = BadId;
    fn try_from(text: String) -> Result<Self, BadId> {
        Self::parse(&text)
    }
}

impl From<RungRef> for String {
    fn from(r: RungRef) -> Self {
        r.to_string()
    }
}

impl fmt::Display for RungRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.ladder, self.rung)
    }
}

/// An athlete named in full: roster and athlete.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct AthleteRef {
    /// The roster.
    pub roster: RosterId,
    /// The athlete within it.
    pub athlete: AthleteId,
}

impl fmt::Display for AthleteRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "rosters/{}/athletes/{}", self.roster, self.athlete)
    }
}

/// The client's own key of a set: 1 to 64 of letters, digits and `. _ : -`. Unique within the athlete.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct ClientSetId(Arc<str>);

impl ClientSetId {
    /// Checks and wraps. Fails with [`BadId`] on an empty, long or oddly spelt key.
    pub fn new(text: &str) -> Result<Self, BadId> {
        let fits = (1..=64).contains(&text.len())
            && text.bytes().all(|b| b.is_ascii_alphanumeric() || b"._:-".contains(&b));
        if fits { Ok(Self(Arc::from(text))) } else { Err(BadId { text: text.chars().take(80).collect() }) }
    }

    /// The key itself.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for ClientSetId {
    type Error = BadId;
    fn try_from(text: String) -> Result<Self, BadId> {
        Self::new(&text)
    }
}

impl From<ClientSetId> for String {
    fn from(id: ClientSetId) -> Self {
        id.0.as_ref().to_owned()
    }
}

impl fmt::Display for ClientSetId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slugs_are_strict() {
        for good in ["a", "pull", "one-arm-2"] {
            assert!(LadderId::new(good).is_ok(), "{good}");
        }
        for bad in ["", "-a", "a-", "A", "1a", "a_b", "a b", &"x".repeat(64), "é"] {
            assert!(LadderId::new(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_rung_is_named_by_ladder_and_rung() {
        let r = RungRef::parse("pull/pull-up").unwrap();
        assert_eq!(r.to_string(), "pull/pull-up");
        assert!(RungRef::parse("pull").is_err());
        assert!(RungRef::parse("pull/a/b").is_err());
    }

    #[test]
    fn a_client_set_id_keeps_to_its_alphabet() {
        assert!(ClientSetId::new("2026-01-02:wren.3_a").is_ok());
        assert!(ClientSetId::new("a b").is_err());
        assert!(ClientSetId::new("").is_err());
        assert!(ClientSetId::new(&"x".repeat(65)).is_err());
    }
}
