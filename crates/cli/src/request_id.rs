//! Request ids: what makes the repeat of a write safe.

use crate::failure::Failure;

/// The id given, or a new random one (a UUID of version 4, RFC 9562).
pub(crate) fn given_or_new(given: Option<&str>) -> Result<String, Failure> {
    match given {
        Some(id) => Ok(id.to_owned()),
        None => random(),
    }
}

/// A new random id.
pub(crate) fn random() -> Result<String, Failure> {
    let mut bytes = [0_u8; 16];
    getrandom::fill(&mut bytes).map_err(|error| Failure::internal(&format!("no random bytes: {error}")))?;
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    let hex = |part: &[u8]| part.iter().map(|byte| format!("{byte:02x}")).collect::<String>();
    let parts = [&bytes[..4], &bytes[4..6], &bytes[6..8], &bytes[8..10], &bytes[10..]];
    Ok(parts.map(hex).join("-"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_new_and_in_the_form_of_a_uuid() {
        let (one, other) = (random().unwrap(), random().unwrap());
        assert_ne!(one, other);
        assert_eq!(one.len(), 36);
        assert_eq!(one.as_bytes()[14], b'4');
        assert!(one.split('-').map(str::len).eq([8, 4, 4, 4, 12]));
    }

    #[test]
    fn an_id_that_is_given_is_kept() {
        assert_eq!(given_or_new(Some("mine")).unwrap(), "mine");
    }
}
