//! Parameters: what of a request stands in its path, behind the question mark and in its headers.

use prost_reflect::{FieldDescriptor, MessageDescriptor};
use serde_json::{Value, json};

use super::comments::Comments;
use super::{part, schema};
use crate::json::route::{Carried, Route};
use crate::json::template::Segment;

/// The parameters of a route.
pub(super) fn of(comments: &Comments, route: &Route) -> Vec<Value> {
    let template = &route.template;
    let open = template.segments.iter().enumerate().filter(|(_, segment)| **segment == Segment::Any);
    let mut parameters: Vec<Value> = open
        .map(|(index, _)| {
            let variable = template.variables.iter().find(|variable| variable.place.contains(&index));
            let field = variable.map_or("", |variable| variable.field.as_str());
            let about = format!("Part of `{field}` of the request.");
            let name = part(template, index);
            json!({"name": name, "in": "path", "required": true, "description": about, "schema": {"type": "string"}})
        })
        .collect();
    let bound = |field: &FieldDescriptor| {
        template.variables.iter().any(|variable| variable.field.split('.').next() == Some(field.name()))
    };
    let input = route.method.input();
    let query = input.fields().filter(|field| match &route.carried {
        Carried::All => false,
        Carried::Field(carried) => carried != field && !bound(field),
        Carried::Nothing => !bound(field),
    });
    for field in query {
        add(&mut parameters, (comments, &field), ("", comments.is_required(&field)));
    }
    parameters.push(json!({"$ref": "#/components/parameters/Deadline"}));
    parameters
}

/// How long a caller waits, which every call may say.
pub(super) fn deadline() -> Value {
    json!({
        "name": "grpc-timeout",
        "in": "header",
        "required": false,
        "description": "How long you wait: up to eight digits and a unit, one of H, M, S, m, u and n, from hours to nanoseconds. \
            After that the answer is DEADLINE_EXCEEDED, and of a stream its last line.",
        "schema": {"type": "string", "pattern": "^[0-9]{1,8}[HMSmun]$"},
    })
}

/// Adds a field, or the fields within it, each with its path before it.
fn add(
    parameters: &mut Vec<Value>,
    (comments, field): (&Comments, &FieldDescriptor),
    (path, is_required): (&str, bool),
) {
    let name = format!("{path}{}", field.json_name());
    if let Some(inner) = inner(field) {
        for field in inner.fields() {
            add(parameters, (comments, &field), (&format!("{name}."), is_required));
        }
        return;
    }
    parameters.push(json!({
        "name": name,
        "in": "query",
        "required": is_required,
        "description": comments.of_field(field),
        "schema": schema::of_field(field),
    }));
}

fn inner(field: &FieldDescriptor) -> Option<MessageDescriptor> {
    let kind = field.kind().as_message().cloned();
    kind.filter(|kind| !schema::is_one_piece(kind) && !field.is_list())
}
