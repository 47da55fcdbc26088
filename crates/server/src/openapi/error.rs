//! Error: what is told when a call is not done, as schemas.

use serde_json::{Map, Value, json};

use super::schema::reference;

/// What stands before the name of a detail's kind in its `@type`.
const TYPES: &str = "type.googleapis.com/google.rpc.";

/// The details that the service sends.
const DETAILS: [&str; 3] = ["ErrorInfo", "BadRequest", "RetryInfo"];

/// An error with its details, by name.
pub(super) fn all() -> Map<String, Value> {
    let schemas = [
        ("Error", error()),
        ("ErrorBody", body()),
        ("ErrorDetail", detail()),
        ("ErrorInfo", info()),
        ("BadRequest", bad_request()),
        ("FieldViolation", field_violation()),
        ("RetryInfo", retry_info()),
    ];
    schemas.into_iter().map(|(name, schema)| (name.to_owned(), schema)).collect()
}

fn error() -> Value {
    json!({
        "type": "object",
        "description": "What is told when a call is not done.",
        "required": ["error"],
        "properties": {"error": reference("ErrorBody")},
    })
}

fn body() -> Value {
    json!({
        "type": "object",
        "description": "What went wrong.",
        "required": ["code", "status", "message", "details"],
        "properties": {
            "code": {"type": "integer", "description": "The status of HTTP."},
            "status": {"type": "string", "description": "The code of gRPC, such as `INVALID_ARGUMENT`."},
            "message": {"type": "string", "description": "What went wrong, for people."},
            "details": {
                "type": "array",
                "description": "An ErrorInfo with every error that the service itself makes; at most one of each kind.",
                "items": reference("ErrorDetail"),
            },
        },
    })
}

fn detail() -> Value {
    let of = |name: &&str| ((*name).to_owned(), reference(name)["$ref"].clone());
    let by_type: Map<String, Value> =
        DETAILS.iter().map(of).map(|(name, place)| (TYPES.to_owned() + &name, place)).collect();
    json!({
        "description": "A detail, told apart by its `@type`.",
        "oneOf": DETAILS.map(reference),
        "discriminator": {"propertyName": "@type", "mapping": by_type},
    })
}

/// A kind of detail with its fields; those of `required` are always there.
fn kind(name: &str, about: &str, (required, mut properties): (&[&str], Value)) -> Value {
    // A list of one and no `const`: it says the same, and more generators of clients know it.
    properties["@type"] = json!({"type": "string", "enum": [format!("{TYPES}{name}")]});
    let required: Vec<&str> = [&["@type"], required].concat();
    json!({"type": "object", "description": about, "required": required, "properties": properties})
}

fn info() -> Value {
    let properties = json!({
        "reason": {"type": "string", "description": "Why, such as `BAD_FIELDS`: what to match on, with the status."},
        "domain": {"type": "string", "description": "`nextrung`."},
        "metadata": {
            "type": "object",
            "description": "What it is about, by keys as the contract's table of errors has them, such as `name`.",
            "additionalProperties": {"type": "string"},
        },
    });
    kind("ErrorInfo", "Why a call was not done, for programs.", (&["reason", "domain"], properties))
}

fn bad_request() -> Value {
    let violations =
        json!({"type": "array", "items": reference("FieldViolation"), "description": "Each bad field."});
    let about = "Every bad field of a request, with the reason BAD_FIELDS.";
    kind("BadRequest", about, (&["fieldViolations"], json!({"fieldViolations": violations})))
}

fn field_violation() -> Value {
    json!({
        "type": "object",
        "description": "A bad field. One whose field is `...` says how many more there are.",
        "required": ["field", "description"],
        "properties": {
            "field": {
                "type": "string",
                "description": "The path of the field in the names that stand here, such as `sets[0].trainingDate`.",
            },
            "description": {
                "type": "string",
                "description": "What was found, what was expected and how to mend it, for people.",
            },
        },
    })
}

fn retry_info() -> Value {
    let delay = json!({
        "type": "string",
        "format": "duration",
        "pattern": r"^\d+(\.\d+)?s$",
        "description": "How long to wait before it is sent again, in seconds, such as `1.201s`.",
    });
    kind("RetryInfo", "When to send it again.", (&["retryDelay"], json!({"retryDelay": delay})))
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::time::Duration;

    use nextrung_domain::problem::Problem;

    use super::*;
    use crate::json::pool::POOL;
    use crate::json::told;
    use crate::status::plain_http::verb_unknown;
    use crate::status::{bad_fields, key_missing, key_too_busy};

    fn names(value: &Value) -> BTreeSet<&str> {
        value.as_object().unwrap().keys().map(String::as_str).collect()
    }

    /// Holds a value against a schema: it is of its type, all of its fields are described, and those that have to be there are.
    fn hold(value: &Value, schema: &Value, schemas: &Map<String, Value>) {
        let named = |name: &str| &schemas[name.rsplit('/').next().unwrap()];
        if let Some(kinds) = schema["oneOf"].as_array() {
            let kinds = kinds.iter().map(|kind| named(kind["$ref"].as_str().unwrap()));
            let own: Vec<&Value> =
                kinds.filter(|kind| kind["properties"]["@type"]["enum"] == json!([value["@type"]])).collect();
            assert_eq!(own.len(), 1, "{value}");
            assert_eq!(
                named(schema["discriminator"]["mapping"][value["@type"].as_str().unwrap()].as_str().unwrap()),
                own[0]
            );
            hold(value, own[0], schemas);
        } else if let Some(name) = schema["$ref"].as_str() {
            hold(value, named(name), schemas);
        } else if let Some(fields) = schema["properties"].as_object() {
            let told = names(value);
            assert!(told.is_subset(&fields.keys().map(String::as_str).collect()), "{value} and {schema}");
            let required: BTreeSet<&str> =
                schema["required"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
            assert!(required.is_subset(&told), "{value} and {schema}");
            fields
                .iter()
                .filter_map(|(name, schema)| Some((value.get(name)?, schema)))
                .for_each(|(value, schema)| hold(value, schema, schemas));
        } else if let Some(each) = schema.get("additionalProperties") {
            value.as_object().unwrap().values().for_each(|value| hold(value, each, schemas));
        } else {
            match schema["type"].as_str() {
                Some("array") => {
                    value.as_array().unwrap().iter().for_each(|value| hold(value, &schema["items"], schemas));
                }
                Some("string") => assert!(value.is_string(), "{value} and {schema}"),
                Some("integer") => assert!(value.is_u64(), "{value} and {schema}"),
                _ => panic!("{value} and {schema}"),
            }
        }
    }

    #[test]
    fn whatever_is_told_is_described() {
        let schemas = all();
        let asked = POOL.get_message_by_name("nextrung.v1.RecordSetsRequest").unwrap();
        for status in [
            key_missing(),
            verb_unknown("GET"),
            key_too_busy(Duration::from_millis(1200)),
            bad_fields([Problem::new("sets[0].reps", "-1", "0 or more")]),
        ] {
            hold(&told::error(&status, &asked), &schemas["Error"], &schemas);
        }
    }

    #[test]
    fn details_have_every_field_of_their_kind() {
        let schemas = all();
        for name in DETAILS {
            let kind = POOL.get_message_by_name(&format!("google.rpc.{name}")).unwrap();
            let wanted = kind.fields().map(|field| field.json_name().to_owned()).chain(["@type".to_owned()]);
            // Without it nobody can tell which of them a detail is.
            assert_eq!(schemas[name]["required"][0], "@type");
            assert_eq!(
                names(&schemas[name]["properties"]),
                wanted.collect::<BTreeSet<_>>().iter().map(String::as_str).collect()
            );
        }
    }
}
