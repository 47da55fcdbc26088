//! Place: where a field of a request stands, in the names that JSON has for it.

use prost_reflect::MessageDescriptor;

/// The path of a field of a kind of message in the names of JSON, `sets[0].training_date` as `sets[0].trainingDate`; from the
/// first name on that the message does not have, as it is. Source: the comment of `google.rpc.BadRequest` (published source).
pub(super) fn in_json(kind: &MessageDescriptor, path: &str) -> String {
    let mut kind = Some(kind.clone());
    let translated = path.split('.').map(|part| {
        let (name, index) = part.split_at(part.find('[').unwrap_or(part.len()));
        let field = kind.take().and_then(|kind| kind.get_field_by_name(name));
        let Some(field) = field else { return part.to_owned() };
        kind = field.kind().as_message().cloned();
        format!("{}{index}", field.json_name())
    });
    translated.collect::<Vec<String>>().join(".")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::json::pool::POOL;

    #[test]
    fn names_are_those_of_json_as_far_as_the_message_has_them() {
        let kind = POOL.get_message_by_name("nextrung.v1.RecordSetsRequest").unwrap();
        for (path, wanted) in [
            ("sets[0].training_date", "sets[0].trainingDate"),
            ("sets[12].training_date.day", "sets[12].trainingDate.day"),
            ("request_id", "requestId"),
            ("sets[0].its_own", "sets[0].its_own"),
            ("its_own.request_id", "its_own.request_id"),
            ("request_id.its_own", "requestId.its_own"),
            ("sets[0]", "sets[0]"),
            ("...", "..."),
            ("\"\"", "\"\""),
            ("", ""),
        ] {
            assert_eq!(in_json(&kind, path), wanted, "{path}");
        }
    }
}
