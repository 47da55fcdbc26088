//! Refusal: whether what is said of a request over plain HTTP names what is wrong with it.

use nextrung_domain::problem::Problem;
use prost_reflect::{FieldDescriptor, MessageDescriptor};

use crate::contract;

/// Most problems that are told.
const MOST: usize = 100;
/// Names are told up to here, bytes.
const LONGEST_NAME: usize = 80;
/// Longest text beside a name, bytes: what was found is cut, what is expected are names of the contract.
const LONGEST: usize = 2000;

/// Judges the problems of a request for this kind of message.
pub(crate) fn judge(input: &MessageDescriptor, problems: &[Problem]) {
    assert!((1..=MOST).contains(&problems.len()), "{} problems", problems.len());
    for (index, problem) in problems.iter().enumerate() {
        let is_end = index + 1 == MOST && problem.field == "...";
        assert!(is_end || is_named(input, problem), "{}: {problem:?}", input.name());
        let texts = [&problem.found, &problem.expected];
        assert!(texts.iter().all(|text| (1..=LONGEST).contains(&text.len())), "{problem:?}");
        assert!((1..=LONGEST_NAME).contains(&problem.field.len()), "{problem:?}");
    }
}

/// Whether a problem is of the body, of a field that there is, or of a name that there is not, where it stands.
fn is_named(input: &MessageDescriptor, problem: &Problem) -> bool {
    let Problem { field, found, expected } = problem;
    match found.as_str() {
        "a name that is not known" => is_unknown(input, field, expected),
        "it in the query" => contract::field(input, field.split('.').next().unwrap_or_default()).is_some(),
        _ if field == "body" => expected.starts_with("none: ") || expected.starts_with("an object"),
        _ => contract::has_path(input, field),
    }
}

/// Whether a name is none of the fields of the message that it is said to be within.
fn is_unknown(input: &MessageDescriptor, place: &str, expected: &str) -> bool {
    let told = expected.strip_prefix("a field of ").and_then(|rest| rest.split_once(": "));
    let told = told.map(|(kind, names)| (kind, names.split(';').next().unwrap_or_default()));
    let Some((told, names)) = told else { return false };
    let ends = place.match_indices('.').map(|(end, _)| (&place[..end], &place[end + 1..]));
    std::iter::once(("", place)).chain(ends).any(|(path, name)| {
        let Some(kind) = contract::within(input, path).filter(|kind| kind.name() == told) else {
            return false;
        };
        let fields: Vec<String> =
            kind.fields().map(|field: FieldDescriptor| field.json_name().to_owned()).collect();
        let is_cut = place.len() + 4 > LONGEST_NAME || name.len() + 4 > LONGEST_NAME;
        names == fields.join(", ") && (is_cut || contract::field(&kind, name).is_none())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judged(field: &str, found: &str, expected: &str) -> bool {
        let problem = Problem::new(field, found, expected);
        std::panic::catch_unwind(|| judge(&contract::message("ListSetsRequest"), &[problem])).is_ok()
    }

    #[test]
    fn what_names_nothing_is_seen() {
        let unknown = "a name that is not known";
        let date = "a field of Date: year, month, day; did you mean `year`?";
        for (field, found, expected) in [
            ("page_size", "`x`", "a whole number of 32 bits"),
            ("start_date.year", "`x`", "a whole number of 32 bits"),
            ("start_date.yaer", unknown, date),
            ("body", "2 bytes", "none: the path tells all of this request"),
            ("parent", "it in the query", "it in the path"),
        ] {
            assert!(judged(field, found, expected), "{field}");
        }
        for (field, found, expected) in [
            ("pageSize", "`x`", "a whole number of 32 bits"),
            ("page_size", "", "a whole number of 32 bits"),
            ("start_date.year", unknown, date),
            ("yaer", unknown, date),
            ("start_date.yaer", unknown, "a field of Date: year, month"),
            ("body", "`x`", "a text"),
            ("...", "so many bad fields", "these mended before more are told"),
            ("colour", "it in the query", "it in the path"),
        ] {
            assert!(!judged(field, found, expected), "{field}");
        }
        let many = vec![Problem::new("page_size", "`x`", "a whole number of 32 bits"); MOST + 1];
        assert!(std::panic::catch_unwind(|| judge(&contract::message("ListSetsRequest"), &many)).is_err());
    }
}
