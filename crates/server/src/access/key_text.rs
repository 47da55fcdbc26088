//! Key text: what the holder of a key keeps, shown once when it is made.
//!
//! `nextrung-` with the 16 digits of the key's id, a hyphen and the 64 digits of the secret, all hexadecimal: the beginning
//! tells whoever finds one what it opens, and searches for leaked secrets what to look for.

use std::fmt::{self, Write};

use nextrung_store::key::KeyId;
use sha2::{Digest, Sha256};
use subtle::ConstantTimeEq;

/// What every key begins with.
const BEGINNING: &str = "nextrung-";

/// A key in full. Its debug form does not show the secret.
#[derive(Clone, PartialEq, Eq)]
pub struct KeyText {
    id: KeyId,
    secret: String,
}

impl KeyText {
    /// A new key of 64 random bits of id and 256 of secret. Fails when the machine gives no random bits.
    pub fn random() -> Result<Self, getrandom::Error> {
        let mut bits = [0; 40];
        getrandom::fill(&mut bits)?;
        let digits = bits.iter().fold(String::new(), |mut digits, byte| {
            // Writing to a text cannot fail.
            let _ = write!(digits, "{byte:02x}");
            digits
        });
        Self::parse(&format!("{BEGINNING}{}-{}", &digits[..16], &digits[16..]))
            .ok_or(getrandom::Error::UNEXPECTED)
    }

    /// From the whole text; nothing when it is no key.
    pub fn parse(text: &str) -> Option<Self> {
        let (id, secret) = text.strip_prefix(BEGINNING)?.split_once('-')?;
        let is_digit = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
        let is_secret = secret.len() == 64 && secret.bytes().all(is_digit);
        Some(Self { id: KeyId::new(id)?, secret: secret.to_owned() }).filter(|_| is_secret)
    }

    /// What may be shown.
    pub fn id(&self) -> &KeyId {
        &self.id
    }

    /// What is kept of the secret.
    pub fn secret_hash(&self) -> [u8; 32] {
        Sha256::digest(self.secret.as_bytes()).into()
    }

    /// Whether the secret is the one that was kept so; takes as long whatever it is.
    pub fn is_of(&self, secret_hash: &[u8; 32]) -> bool {
        self.secret_hash().ct_eq(secret_hash).into()
    }

    /// The whole text, for its holder alone.
    pub fn reveal(&self) -> String {
        format!("{BEGINNING}{}-{}", self.id, self.secret)
    }
}

impl fmt::Debug for KeyText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{BEGINNING}{}-...", self.id)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_read_as_it_was_shown_and_hides_its_secret() {
        let key = KeyText::random().unwrap();
        let text = key.reveal();
        assert_eq!(text.len(), 9 + 16 + 1 + 64);
        assert_eq!(KeyText::parse(&text), Some(key.clone()));
        assert!(key.is_of(&key.secret_hash()));
        assert!(!key.is_of(&KeyText::random().unwrap().secret_hash()));
        let secret = text.rsplit('-').next().unwrap();
        assert!(!format!("{key:?}").contains(&secret[..8]));
    }

    #[test]
    fn what_is_no_key_is_not_read() {
        let text = KeyText::random().unwrap().reveal();
        for bad in
            ["", "nextrung-", &text[1..], &text[..text.len() - 1], &format!("{text}0"), &text.to_uppercase()]
        {
            assert_eq!(KeyText::parse(bad), None, "{bad}");
        }
    }
}
