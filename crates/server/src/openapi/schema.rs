//! Schema: the messages and words of the contract as JSON Schema.

use prost_reflect::{EnumDescriptor, FieldDescriptor, Kind, MessageDescriptor};
use serde_json::{Map, Value, json};

use super::comments::Comments;
use super::error;
use crate::json::pool::POOL;

/// The package whose messages and words have schemas.
const OWN: &str = "nextrung.v1";

/// Every message and word that is sent or taken, by its name, and what an error is.
pub(super) fn all(comments: &Comments) -> Map<String, Value> {
    let mut schemas = Map::new();
    let is_request = |kind: &MessageDescriptor| kind.name().ends_with("Request");
    for kind in POOL.all_messages().filter(|kind| kind.package_name() == OWN && !is_request(kind)) {
        schemas.insert(name(&kind), object(comments, &kind, |_| true));
    }
    for kind in POOL.all_enums().filter(|kind| kind.package_name() == OWN) {
        schemas.insert(own_name(kind.full_name()), words(comments, &kind));
    }
    schemas.append(&mut error::all());
    schemas
}

/// The name of a message among the schemas.
pub(super) fn name(kind: &MessageDescriptor) -> String {
    own_name(kind.full_name())
}

fn own_name(full: &str) -> String {
    full.strip_prefix(OWN).and_then(|name| name.strip_prefix('.')).unwrap_or(full).to_owned()
}

/// A schema by its name.
pub(super) fn reference(name: &str) -> Value {
    json!({"$ref": format!("#/components/schemas/{name}")})
}

/// Whether a kind of message is written as one piece.
pub(super) fn is_one_piece(kind: &MessageDescriptor) -> bool {
    kind.package_name() != OWN
}

/// A message with those of its fields that are wanted.
pub(super) fn object(
    comments: &Comments,
    kind: &MessageDescriptor,
    is_wanted: impl Fn(&FieldDescriptor) -> bool,
) -> Value {
    let mut properties = Map::new();
    let mut required = Vec::new();
    for field in kind.fields().filter(is_wanted) {
        let mut schema = of_field(&field);
        schema["description"] = json!(comments.of_field(&field));
        properties.insert(field.json_name().to_owned(), schema);
        if comments.is_required(&field) {
            required.push(field.json_name().to_owned());
        }
    }
    let about = comments.of(&kind.parent_file(), kind.path());
    let mut object = json!({"type": "object", "description": about, "properties": properties});
    if !required.is_empty() {
        object["required"] = json!(required);
    }
    object
}

/// A field, without its comment.
pub(super) fn of_field(field: &FieldDescriptor) -> Value {
    let one = of_kind(&field.kind());
    if field.is_list() { json!({"type": "array", "items": one}) } else { one }
}

fn of_kind(kind: &Kind) -> Value {
    match kind {
        Kind::Double | Kind::Float => json!({"type": "number", "format": "double"}),
        Kind::Int32 | Kind::Sint32 | Kind::Sfixed32 => json!({"type": "integer", "format": "int32"}),
        Kind::Uint32 | Kind::Fixed32 => json!({"type": "integer", "format": "int64", "minimum": 0}),
        Kind::Int64 | Kind::Sint64 | Kind::Sfixed64 => json!({"type": "string", "format": "int64"}),
        Kind::Uint64 | Kind::Fixed64 => json!({"type": "string", "format": "uint64"}),
        Kind::Bool => json!({"type": "boolean"}),
        Kind::String => json!({"type": "string"}),
        Kind::Bytes => json!({"type": "string", "contentEncoding": "base64"}),
        Kind::Enum(kind) => reference(&own_name(kind.full_name())),
        Kind::Message(kind) => match kind.full_name() {
            "google.protobuf.Timestamp" => json!({"type": "string", "format": "date-time"}),
            "google.protobuf.FieldMask" => json!({"type": "string", "format": "field-mask"}),
            _ => reference(&name(kind)),
        },
    }
}

fn words(comments: &Comments, kind: &EnumDescriptor) -> Value {
    let file = kind.parent_file();
    let mut about = comments.of(&file, kind.path()).to_owned();
    let mut names = Vec::new();
    for value in kind.values() {
        about.push_str(&format!("\n- `{}`: {}", value.name(), comments.of(&file, value.path())));
        names.push(value.name().to_owned());
    }
    json!({"type": "string", "description": about, "enum": names})
}
