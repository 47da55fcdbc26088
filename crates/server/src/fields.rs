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

/// Most names in a list of a request that are looked at one by one, where nothing else bounds it.
const MOST_NAMED: usize = 100;

/// A list that is short enough to be looked at, or one problem whatever is in it.
pub(crate) fn few<'l, T>(field: &str, list: &'l [T]) -> Read<&'l [T]> {
    match list.len() {
        0..=MOST_NAMED => Ok(list),
        many => bad(field, format!("{many} entries"), format!("at most {MOST_NAMED}")),
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
    fn repro_a_long_list_is_one_problem() {
        assert_eq!(few("names", &[""; MOST_NAMED]).unwrap().len(), MOST_NAMED);
        let problems = few("names", &[""; 2_000_000]).unwrap_err();
        let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
        assert_eq!(told, ["names: found 2000000 entries; expected at most 100"]);
    }

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
