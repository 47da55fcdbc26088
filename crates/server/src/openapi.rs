//! OpenAPI: the description of the contract over plain HTTP, made of its descriptors.

use prost_reflect::MethodDescriptor;
use serde_json::{Map, Value, json};

use crate::json::pool::POOL;
use crate::json::route::{self, Carried, Route};
use crate::json::template::{Segment, Template};

mod comments;
mod error;
mod parameters;
mod refusals;
mod schema;

use comments::Comments;
use schema::reference;

/// The description as it is kept in the tree and served, JSON.
pub const TEXT: &str = include_str!("../../../proto/openapi.json");

/// The description as the contract has it now: OpenAPI 3.1 as indented JSON with a line break at its end.
pub fn document() -> String {
    format!("{:#}\n", description())
}

fn description() -> Value {
    let comments = Comments::read();
    let mut paths = Map::new();
    for method in route::methods() {
        for (index, route) in route::of(&method).unwrap_or_default().iter().enumerate() {
            let path = paths.entry(path(&route.template)).or_insert_with(|| json!({}));
            path[route.verb.as_str().to_lowercase()] = operation(&comments, route, index);
        }
    }
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "Nextrung",
            "version": "v1",
            "summary": "What to train next, and why: the contract over plain HTTP.",
            "description": "JSON by the canonical mapping of protocol buffers: whole numbers of 64 bits are texts, what is \
                empty is left out. Requests are taken with names as here or as in the contract; names that are not known are \
                refused. Errors name fields as here. Names that are not known and values of another kind are told first, all of \
                them, and what else is bad once they are mended.",
            "license": {"name": "MIT OR Apache-2.0", "identifier": "MIT OR Apache-2.0"},
        },
        "servers": [{"url": "/"}],
        "security": [{"key": []}, {}],
        "tags": tags(&comments),
        "paths": paths,
        "components": {
            "securitySchemes": {
                "key": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "A key of the service, `nextrung-...`, where it asks for keys.",
                },
            },
            "parameters": {"Deadline": parameters::deadline()},
            "responses": refusals::all(),
            "schemas": schema::all(&comments),
        },
    })
}

fn tags(comments: &Comments) -> Value {
    let own = POOL.services();
    own.map(|service| {
        let about = comments.of(&service.parent_file(), service.path());
        json!({"name": service.name(), "description": about})
    })
    .collect()
}

fn operation(comments: &Comments, route: &Route, index: usize) -> Value {
    let method = &route.method;
    let about = comments.of(&method.parent_file(), method.path());
    let suffix = if index == 0 { String::new() } else { format!("_{index}") };
    let mut responses = refusals::of(route);
    responses.insert("200".to_owned(), answer(comments, method));
    let mut operation = json!({
        "operationId": format!("{}{suffix}", method.name()),
        "tags": [method.parent_service().name()],
        "summary": about.split(['\n']).next().unwrap_or_default(),
        "description": about,
        "parameters": parameters::of(comments, route),
        "responses": responses,
    });
    if let Some(body) = body(comments, route) {
        operation["requestBody"] = body;
    }
    operation
}

fn body(comments: &Comments, route: &Route) -> Option<Value> {
    let schema = match &route.carried {
        Carried::Nothing => return None,
        Carried::All => {
            let bound = |name: &str| {
                route.template.variables.iter().any(|variable| variable.field.split('.').next() == Some(name))
            };
            schema::object(comments, &route.method.input(), |field| !bound(field.name()))
        }
        Carried::Field(field) => reference(&schema::name(field.kind().as_message()?)),
    };
    Some(json!({"required": true, "content": {"application/json": {"schema": schema}}}))
}

fn answer(comments: &Comments, method: &MethodDescriptor) -> Value {
    let output = method.output();
    let about = comments.of(&output.parent_file(), output.path());
    let schema = reference(&schema::name(&output));
    if method.is_server_streaming() {
        let line = json!({"anyOf": [schema, reference("Error")]});
        let about = format!(
            "{about}\n\nOne document a line, as they come. An error that comes behind them is the last line."
        );
        json!({"description": about, "content": {"application/x-ndjson": {"schema": line}}})
    } else {
        json!({"description": about, "content": {"application/json": {"schema": schema}}})
    }
}

/// A path with a parameter for each of its open parts, named by what stands before it.
fn path(template: &Template) -> String {
    let mut text = String::new();
    for (index, segment) in template.segments.iter().enumerate() {
        text.push('/');
        match segment {
            Segment::Literal(literal) => text.push_str(literal),
            Segment::Any => text.push_str(&format!("{{{}}}", part(template, index))),
        }
    }
    if let Some(verb) = &template.verb {
        text.push(':');
        text.push_str(verb);
    }
    text
}

/// What an open part of a path is called: one of the collection before it.
fn part(template: &Template, index: usize) -> &str {
    match index.checked_sub(1).and_then(|before| template.segments.get(before)) {
        Some(Segment::Literal(collection)) => collection.strip_suffix('s').unwrap_or(collection),
        Some(Segment::Any) | None => "id",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_description_in_the_tree_is_that_of_the_contract() {
        let made = document();
        assert!(
            made == TEXT,
            "proto/openapi.json is not what the contract says now; write it anew with `cargo run -p nextrung-server \
             --example openapi > made && mv made proto/openapi.json`"
        );
    }

    #[test]
    fn every_method_is_described_once_for_each_of_its_paths() {
        let description = description();
        let paths = description["paths"].as_object().unwrap();
        let operations: usize = paths.values().map(|path| path.as_object().unwrap().len()).sum();
        assert_eq!(operations, route::ROUTES.len());
        assert!(
            paths.contains_key("/v1/rosters/{roster}/athletes/{athlete}/sets/{set}:withdraw"),
            "{paths:?}"
        );
    }
}
