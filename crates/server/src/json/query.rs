//! Query: the fields of a request that stand behind the question mark of its path, such as `date.year=2026&ladders=a&ladders=b`.

use std::collections::BTreeSet;

use percent_encoding::percent_decode_str;
use prost_reflect::{DynamicMessage, FieldDescriptor, Kind, ReflectMessage};

use super::reading::{Reading, joined, named};
use super::route::{Carried, Route};
use super::scalar;

/// Reads a query into a message.
pub(super) fn read(reading: &mut Reading, message: &mut DynamicMessage, (route, query): (&Route, &str)) {
    let mut told = BTreeSet::new();
    for pair in query.split('&').filter(|pair| !pair.is_empty()) {
        if reading.is_full() {
            return;
        }
        let (name, value) = pair.split_once('=').unwrap_or((pair, ""));
        let (name, value) = (plain(name), plain(value));
        match elsewhere(route, &name) {
            Some(place) => reading.wrong(&name, "it in the query", format!("it in the {place}")),
            None => {
                parameter(reading, message, &mut Parameter { told: &mut told, whole: &name, value: &value })
            }
        }
    }
}

/// One name and its value, and what was told before.
struct Parameter<'p> {
    told: &'p mut BTreeSet<String>,
    whole: &'p str,
    value: &'p str,
}

fn parameter(reading: &mut Reading, message: &mut DynamicMessage, told: &mut Parameter<'_>) {
    place(reading, message, told, (String::new(), told.whole));
}

/// Walks to the field of a name with dots and puts the value there.
fn place(
    reading: &mut Reading,
    message: &mut DynamicMessage,
    told: &mut Parameter<'_>,
    (path, rest): (String, &str),
) {
    let (first, rest) = rest.split_once('.').map_or((rest, None), |(first, rest)| (first, Some(rest)));
    let kind = message.descriptor();
    let Some(field) = named(&kind, first) else {
        reading.unknown(&kind, (&joined(&path, first), first));
        return;
    };
    let path = joined(&path, field.name());
    let inner = match field.kind() {
        Kind::Message(kind) if !scalar::is_one_piece(&kind) => Some(kind),
        _ => None,
    };
    match (inner, rest) {
        (Some(_), Some(rest)) if !field.is_list() => {
            if let Some(within) = message.get_field_mut(&field).as_message_mut() {
                place(reading, within, told, (path, rest));
            }
        }
        (Some(kind), _) => {
            let first = kind.fields().next().map(|field| field.json_name().to_owned()).unwrap_or_default();
            let expected = format!("its fields, such as `{}.{first}`", field.json_name());
            reading.wrong(&path, scalar::shown_text(told.value), expected);
        }
        (None, Some(_)) => reading.wrong(&path, "a name within it", "it without a dot behind it"),
        (None, None) => value(reading, message, told, (&field, path)),
    }
}

fn value(
    reading: &mut Reading,
    message: &mut DynamicMessage,
    told: &mut Parameter<'_>,
    (field, path): (&FieldDescriptor, String),
) {
    let Some(value) = scalar::of_text(&field.kind(), told.value) else {
        let found = super::document::Part::Text(told.value.to_owned());
        reading.wrong(&path, scalar::shown(&found), scalar::expected(&field.kind(), &found));
        return;
    };
    if field.is_list() {
        if let Some(list) = message.get_field_mut(field).as_list_mut() {
            list.push(value);
        }
    } else if told.told.insert(path.clone()) {
        reading.set(message, (field, value), &path);
    } else {
        reading.wrong(&path, "it twice", "it once");
    }
}

/// Where else a field of the request has to stand, if not in the query.
fn elsewhere(route: &Route, name: &str) -> Option<&'static str> {
    let field = named(&route.method.input(), name.split('.').next().unwrap_or_default())?;
    let is_bound = |variable: &str| variable.split('.').next() == Some(field.name());
    match &route.carried {
        Carried::Field(carried) if *carried == field => Some("body"),
        _ if route.template.variables.iter().any(|variable| is_bound(&variable.field)) => Some("path"),
        Carried::All => Some("body"),
        Carried::Nothing | Carried::Field(_) => None,
    }
}

/// A piece of a query without its escapes.
fn plain(text: &str) -> String {
    percent_decode_str(&text.replace('+', " ")).decode_utf8_lossy().into_owned()
}
