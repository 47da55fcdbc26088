//! Fields: reading several parts of a request so that every bad one is named at once.

use nextrung_domain::problem::Problem;

/// A part of a request, or everything that is wrong with it.
pub type Read<T> = Result<T, Vec<Problem>>;

/// One bad field.
pub(crate) fn bad<T>(field: &str, found: impl Into<String>, expected: impl Into<String>) -> Read<T> {
    Err(vec![Problem::new(field, found, expected)])
}

/// Both parts, or everything that is wrong with either.
pub(crate) fn both<A, B>(a: Read<A>, b: Read<B>) -> Read<(A, B)> {
    match (a, b) {
        (Ok(a), Ok(b)) => Ok((a, b)),
        (a, b) => Err(a.err().into_iter().chain(b.err()).flatten().collect()),
    }
}

/// What a client sent, quoted and cut, or `nothing`.
pub(crate) fn quoted(text: &str) -> String {
    if text.is_empty() {
        "nothing".to_owned()
    } else {
        format!("`{}`", text.chars().take(200).collect::<String>())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_bad_part_is_named_in_order() {
        assert_eq!(both(Ok(1), Ok("a")), Ok((1, "a")));
        let one: Read<u8> = bad("a", "1", "2");
        let two: Read<u8> = bad("b", "1", "2");
        let fields = |read: Read<_>| read.unwrap_err().into_iter().map(|p| p.field).collect::<Vec<_>>();
        assert_eq!(fields(both(one.clone(), two)), ["a", "b"]);
        assert_eq!(fields(both(Ok(0), one)), ["a"]);
    }
}
