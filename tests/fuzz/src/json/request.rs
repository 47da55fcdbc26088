//! Request: a call over plain HTTP as a client writes it.

use http::Method;
use http::uri::PathAndQuery;
use nextrung_server::json::route::{Carried, Route};
use nextrung_server::json::template::{Segment, Template};
use nextrung_server::json::told;
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};
use prost_reflect::prost::Message;
use prost_reflect::{DynamicMessage, MessageDescriptor, ReflectMessage};
use serde_json::{Map, Value};

/// All but the unreserved characters of RFC 3986 (published source).
const ESCAPED: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'~');

/// A request.
#[derive(Debug)]
pub(crate) struct Request {
    pub(crate) verb: Method,
    pub(crate) target: PathAndQuery,
    pub(crate) body: Vec<u8>,
}

impl Request {
    /// A request from a line with its verb and target, and its body behind that; nothing when a server would not take the line.
    pub(crate) fn read(bytes: &[u8]) -> Option<Self> {
        let end = bytes.iter().position(|byte| *byte == b'\n').unwrap_or(bytes.len());
        let (line, body) = bytes.split_at(end);
        let blank = line.iter().position(|byte| *byte == b' ')?;
        let (verb, target) = line.split_at(blank);
        let target = target.strip_prefix(b" /").map(|rest| [b"/", rest].concat())?;
        Some(Self {
            verb: Method::from_bytes(verb).ok()?,
            target: PathAndQuery::try_from(target).ok()?,
            body: body.get(1..).unwrap_or_default().to_vec(),
        })
    }

    /// The bytes of it.
    pub(crate) fn write(&self) -> Vec<u8> {
        [format!("{} {}\n", self.verb, self.target).as_bytes(), &self.body].concat()
    }

    pub(crate) fn path(&self) -> &str {
        self.target.path()
    }

    /// What stands behind the question mark.
    pub(crate) fn query(&self) -> &str {
        self.target.query().unwrap_or_default()
    }

    /// The request for a message over a route; nothing when its names are no parts of the path, or JSON has no form for it.
    pub(crate) fn of(route: &Route, message: &DynamicMessage) -> Option<Self> {
        let mut rest = message.clone();
        let path = path(&route.template, &mut rest)?;
        let body = match &route.carried {
            Carried::Nothing => Vec::new(),
            Carried::All => text(&rest)?,
            Carried::Field(field) => {
                let carried = text(rest.get_field(field).as_message()?)?;
                rest.clear_field(field);
                carried
            }
        };
        let mut target = path;
        if !matches!(route.carried, Carried::All) {
            let Value::Object(fields) = serde_json::from_slice(&text(&rest)?).ok()? else { return None };
            let mut pairs = Vec::new();
            add(&mut pairs, (&rest.descriptor(), &fields), "")?;
            if !pairs.is_empty() {
                target = format!("{target}?{}", pairs.join("&"));
            }
        }
        Some(Self { verb: route.verb.clone(), target: target.parse().ok()?, body })
    }
}

fn text(message: &DynamicMessage) -> Option<Vec<u8>> {
    told::text(&message.descriptor(), &message.encode_to_vec()).ok()
}

/// The path, with the fields that stand in it, which are taken out of the message.
fn path(template: &Template, message: &mut DynamicMessage) -> Option<String> {
    let mut parts: Vec<Option<String>> = vec![None; template.segments.len()];
    for variable in &template.variables {
        let name = take(message, &variable.field)?;
        let texts: Vec<&str> = name.split('/').collect();
        let places = parts.get_mut(variable.place.clone())?;
        if texts.len() != places.len() {
            return None;
        }
        for (place, text) in places.iter_mut().zip(texts) {
            *place = Some(text.to_owned());
        }
    }
    let mut path = String::new();
    for (segment, part) in template.segments.iter().zip(parts) {
        path.push('/');
        match (segment, part) {
            (Segment::Literal(literal), part) => {
                part.is_none_or(|part| part == *literal).then(|| path.push_str(literal))?;
            }
            (Segment::Any, part) => {
                let part = part.filter(|part| !part.is_empty())?;
                path.extend(utf8_percent_encode(&part, ESCAPED));
            }
        }
    }
    if let Some(verb) = &template.verb {
        path.push(':');
        path.push_str(verb);
    }
    Some(path)
}

/// Takes a text out of a message by its path with dots.
fn take(message: &mut DynamicMessage, path: &str) -> Option<String> {
    match path.split_once('.') {
        Some((first, rest)) => take(message.get_field_by_name_mut(first)?.as_message_mut()?, rest),
        None => {
            let text = message.get_field_by_name(path)?.as_str()?.to_owned();
            message.clear_field_by_name(path);
            Some(text)
        }
    }
}

/// Adds the fields of a message to a query, those within it by their paths.
fn add(
    pairs: &mut Vec<String>,
    (kind, fields): (&MessageDescriptor, &Map<String, Value>),
    path: &str,
) -> Option<()> {
    for (name, value) in fields {
        let mut pair =
            |value: &str| pairs.push(format!("{path}{name}={}", utf8_percent_encode(value, ESCAPED)));
        match value {
            Value::Object(inner) => {
                let field = kind.get_field_by_json_name(name)?;
                let within = field.kind().as_message()?.clone();
                let path = format!("{path}{name}.");
                match within.fields().next() {
                    // That it is there at all is told by a field that is as if it were not.
                    Some(first) if inner.is_empty() => pairs.push(format!("{path}{}=0", first.json_name())),
                    _ => add(pairs, (&within, inner), &path)?,
                }
            }
            Value::Array(items) => items.iter().try_for_each(|item| single(item).map(|text| pair(&text)))?,
            Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => pair(&single(value)?),
        }
    }
    Some(())
}

/// A value of one piece as text.
fn single(value: &Value) -> Option<String> {
    match value {
        Value::String(text) => Some(text.clone()),
        Value::Bool(_) | Value::Number(_) => Some(value.to_string()),
        Value::Null | Value::Array(_) | Value::Object(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use nextrung_server::json::route::ROUTES;

    use super::*;
    use crate::seed;

    #[test]
    fn requests_are_written_as_clients_write_them() {
        let written = |method: &str| {
            let route = ROUTES.iter().find(|route| route.path.ends_with(method)).expect("a route");
            Request::of(route, &seed::of_route(route)).expect("a request")
        };
        let listed = written("/ListSets");
        assert_eq!((&listed.verb, listed.path()), (&Method::GET, "/v1/rosters/hall/athletes/wren/sets"));
        assert!(listed.query().split('&').any(|pair| pair == "startDate.year=2026"), "{listed:?}");
        let updated = written("/UpdateAthlete");
        assert_eq!((&updated.verb, updated.path()), (&Method::PATCH, "/v1/rosters/hall/athletes/wren"));
        // In whichever order the texts of an object come.
        let pairs: BTreeSet<&str> = updated.query().split('&').collect();
        assert_eq!(pairs, BTreeSet::from(["updateMask=goals", "requestId=r-1"]));
        let body: Value = serde_json::from_slice(&updated.body).expect("JSON");
        assert_eq!((body.get("name"), body["displayName"].as_str()), (None, Some("as agreed")));
        let again = Request::read(&updated.write()).expect("a request");
        assert_eq!(again.write(), updated.write());
    }

    #[test]
    fn what_no_server_takes_is_no_request() {
        for bad in ["", "GET", "GET /a b", "G@T /a", "GET a", "GET /a\u{1}", "GET http://a/b"] {
            assert!(Request::read(bad.as_bytes()).is_none(), "{bad}");
        }
        let short = Request::read(b"GET /v1/rosters").expect("a request");
        assert_eq!((short.path(), short.query(), short.body.len()), ("/v1/rosters", "", 0));
    }
}
