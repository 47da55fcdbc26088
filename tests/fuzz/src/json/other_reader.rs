//! Other reader: bodies as prost-reflect reads them by itself, which stops at the first error and names no field.

use nextrung_domain::problem::Problem;
use nextrung_server::json::message::Unreadable;
use nextrung_server::json::route::{Call, Carried};
use prost_reflect::prost::Message;
use prost_reflect::{DeserializeOptions, DynamicMessage, MessageDescriptor, Value};

use super::request::Request;

/// Whole numbers beyond are not always those that were written (2^53).
const EXACT: f64 = 9_007_199_254_740_992.0;

/// Both readers see the same message in a body that is the whole message but for the names in the path.
pub(crate) fn judge(request: &Request, call: &Call, ours: &Result<DynamicMessage, Unreadable>) {
    if !matches!(call.route.carried, Carried::All) || !request.query().is_empty() {
        return;
    }
    let other = read(&call.route.method.input(), &request.body);
    match (ours, other) {
        (Ok(ours), Some(mut other)) => {
            for (field, value) in &call.bound {
                other.set_field_by_name(field, Value::String(value.clone()));
            }
            assert_eq!(ours.encode_to_vec(), other.encode_to_vec(), "{request:?}");
        }
        (Ok(_), None) => unreachable!("only our reader takes {request:?}"),
        (Err(Unreadable::BadFields { problems }), Some(_)) => {
            assert!(
                problems.iter().all(is_stricter),
                "only the other reader takes {request:?}: {problems:?}"
            );
        }
        (Err(Unreadable::BadFields { .. } | Unreadable::Crowded), _) => {}
    }
}

fn read(kind: &MessageDescriptor, body: &[u8]) -> Option<DynamicMessage> {
    let options = DeserializeOptions::new().deny_unknown_fields(true);
    let mut reader = serde_json::Deserializer::from_slice(body);
    let read = DynamicMessage::deserialize_with_options(kind.clone(), &mut reader, &options).ok()?;
    reader.end().ok().map(|()| read)
}

/// What we refuse and others may take: a name told twice, numbers as texts in forms that JSON does not have, whole numbers that
/// may be others than were meant, and another name in the body than in the path.
fn is_stricter(problem: &Problem) -> bool {
    let is_huge = || problem.found.parse().is_ok_and(|number: f64| number.abs() > EXACT);
    let is_number =
        problem.expected.starts_with("a number") || problem.expected.starts_with("a whole number");
    problem.found == "it twice"
        || problem.field == "..."
        || problem.expected.ends_with(", as in the path, or none")
        || is_number && (problem.found.starts_with('`') || is_huge())
}
