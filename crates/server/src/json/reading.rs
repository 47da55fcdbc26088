//! Reading: makes the message of a call of what came over HTTP, and keeps every problem that is found by the way.

use std::collections::BTreeSet;

use nextrung_domain::problem::{Problem, did_you_mean};
use prost_reflect::{DynamicMessage, FieldDescriptor, Kind, MessageDescriptor, ReflectMessage, Value};

use super::document::Part;
use super::scalar;

/// Problems that are looked for, at most: an answer has room for fewer, and each costs a search for the nearest name.
const MOST: usize = 100;
/// Longest name that is repeated in a problem, bytes.
const LONGEST_NAME: usize = 80;

/// What has been found wrong so far.
#[derive(Debug, Default)]
pub(super) struct Reading {
    problems: Vec<Problem>,
}

impl Reading {
    /// Everything that is wrong, the last one saying that there is more when no more was looked for.
    pub(super) fn problems(self) -> Vec<Problem> {
        self.problems
    }

    /// Whether no more problems are looked for.
    pub(super) fn is_full(&self) -> bool {
        self.problems.len() >= MOST
    }

    /// Keeps a problem.
    pub(super) fn wrong(&mut self, field: &str, found: impl Into<String>, expected: impl Into<String>) {
        if !self.is_full() {
            self.problems.push(Problem::new(cut(field), found, expected));
        }
        if self.problems.len() + 1 == MOST {
            self.problems.push(Problem::new(
                "...",
                "so many bad fields",
                "these mended before more are told",
            ));
        }
    }

    /// Keeps that a kind of message has no field of this name.
    pub(super) fn unknown(&mut self, kind: &MessageDescriptor, (place, name): (&str, &str)) {
        let names: Vec<String> = kind.fields().map(|field| field.json_name().to_owned()).collect();
        let near = did_you_mean(name, names.iter().map(String::as_str));
        let expected = match names.as_slice() {
            [] => format!("nothing: a {} has no fields", kind.name()),
            names => format!("a field of {}: {}{near}", kind.name(), names.join(", ")),
        };
        self.wrong(place, "a name that is not known", expected);
    }

    /// Reads an object into a message; `path` is where it stands.
    pub(super) fn object(&mut self, message: &mut DynamicMessage, fields: Vec<(String, Part)>, path: &str) {
        let kind = message.descriptor();
        let mut seen = BTreeSet::new();
        for (name, part) in fields {
            if self.is_full() {
                return;
            }
            let Some(field) = named(&kind, &name) else {
                self.unknown(&kind, (&joined(path, &name), &name));
                continue;
            };
            let place = joined(path, field.name());
            if !seen.insert(field.number()) {
                self.wrong(&place, "it twice", "it once");
            } else if part != Part::Null {
                self.field(message, (&field, part), &place);
            }
        }
    }

    fn field(&mut self, message: &mut DynamicMessage, (field, part): (&FieldDescriptor, Part), place: &str) {
        let choice = field.containing_oneof();
        let other = choice.and_then(|choice| choice.fields().find(|f| f != field && message.has_field(f)));
        if let Some(other) = other {
            self.wrong(place, format!("it beside {}", other.json_name()), "one of the two");
            return;
        }
        let value = if field.is_list() {
            self.list(&field.kind(), part, place)
        } else {
            self.one(&field.kind(), part, place)
        };
        if let Some(value) = value {
            self.set(message, (field, value), place);
        }
    }

    fn list(&mut self, kind: &Kind, part: Part, path: &str) -> Option<Value> {
        let Part::List(parts) = part else {
            self.wrong(path, scalar::shown(&part), "a list");
            return None;
        };
        let mut values = Vec::new();
        for (index, part) in parts.into_iter().enumerate() {
            if self.is_full() {
                break;
            }
            values.extend(self.one(kind, part, &format!("{path}[{index}]")));
        }
        Some(Value::List(values))
    }

    fn one(&mut self, kind: &Kind, part: Part, place: &str) -> Option<Value> {
        match (kind, part) {
            (Kind::Message(kind), Part::Object(fields)) if !scalar::is_one_piece(kind) => {
                let mut message = DynamicMessage::new(kind.clone());
                self.object(&mut message, fields, place);
                Some(Value::Message(message))
            }
            (kind, part) => {
                let value = scalar::of(kind, &part);
                if value.is_none() {
                    self.wrong(place, scalar::shown(&part), scalar::expected(kind, &part));
                }
                value
            }
        }
    }

    /// Puts a value into a field.
    pub(super) fn set(
        &mut self,
        message: &mut DynamicMessage,
        (field, value): (&FieldDescriptor, Value),
        place: &str,
    ) {
        if message.try_set_field(field, value).is_err() {
            self.wrong(place, "another kind of value", "one of its kind");
        }
    }

    /// Puts a name from the path into its field, which may say the same and nothing else.
    pub(super) fn bind(&mut self, message: &mut DynamicMessage, (path, value): (&str, &str)) {
        self.bind_at(message, (path, path), value);
    }

    fn bind_at(&mut self, message: &mut DynamicMessage, (place, rest): (&str, &str), value: &str) {
        let (first, rest) = rest.split_once('.').map_or((rest, None), |(first, rest)| (first, Some(rest)));
        let Some(field) = message.descriptor().get_field_by_name(first) else { return };
        match rest {
            Some(rest) => {
                if let Some(inner) = message.get_field_mut(&field).as_message_mut() {
                    self.bind_at(inner, (place, rest), value);
                }
            }
            None => {
                let told = message.get_field(&field).as_str().unwrap_or_default().to_owned();
                if told.is_empty() || told == value {
                    self.set(message, (&field, Value::String(value.to_owned())), place);
                } else {
                    let expected = format!("{}, as in the path, or none", scalar::shown_text(value));
                    self.wrong(place, scalar::shown_text(&told), expected);
                }
            }
        }
    }
}

/// A field by its name in JSON or in the contract.
pub(super) fn named(kind: &MessageDescriptor, name: &str) -> Option<FieldDescriptor> {
    kind.get_field_by_json_name(name).or_else(|| kind.get_field_by_name(name))
}

/// The path of a field; a name that is empty, or looks like a path, stands in quotes, so that it is seen for what it is.
pub(super) fn joined(path: &str, name: &str) -> String {
    let is_plain = !name.is_empty() && !name.contains(['.', '[', ']']);
    let name = if is_plain { cut(name).to_owned() } else { format!("\"{}\"", cut(name)) };
    if path.is_empty() { name } else { format!("{path}.{name}") }
}

fn cut(name: &str) -> &str {
    &name[..name.floor_char_boundary(LONGEST_NAME)]
}
