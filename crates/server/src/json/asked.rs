//! Asked: the message of a call, made of its path, its query and its body.

use nextrung_domain::problem::Problem;
use prost::Message;
use prost_reflect::{DynamicMessage, Kind, Value};
use tonic::Status;

use super::document::{self, Part, Unread};
use super::query;
use super::reading::Reading;
use super::route::{Call, Carried};
use super::scalar;
use crate::access::parts;
use crate::access::translation::Translate;
use crate::status::{bad_fields, message_crowded};

/// What a call asks for beside its body.
pub(super) struct Asked {
    pub(super) call: Call,
    /// What stands behind the question mark.
    pub(super) query: String,
}

impl Translate for Asked {
    fn message(&self, body: &[u8]) -> Result<Vec<u8>, Status> {
        message(&self.call, &self.query, body).map(|message| message.encode_to_vec())
    }
}

/// The message of a call; or everything that is wrong with it, wherever it stands.
pub(super) fn message(call: &Call, query: &str, body: &[u8]) -> Result<DynamicMessage, Status> {
    let route = call.route;
    let mut message = DynamicMessage::new(route.method.input());
    let mut reading = Reading::default();
    match &route.carried {
        Carried::Nothing if body.is_empty() => (),
        Carried::Nothing => {
            reading.wrong(
                "body",
                format!("{} bytes", body.len()),
                "none: the path tells all of this request",
            );
        }
        Carried::All => {
            let fields = object(body, "an object with the fields of the request")?;
            reading.object(&mut message, fields, "");
        }
        Carried::Field(field) => {
            let kind = field.kind();
            let fields = object(body, &scalar::expected(&kind, &Part::Null))?;
            if let Kind::Message(kind) = kind {
                let mut carried = DynamicMessage::new(kind);
                reading.object(&mut carried, fields, field.name());
                reading.set(&mut message, (field, Value::Message(carried)), field.name());
            }
        }
    }
    query::read(&mut reading, &mut message, (route, query));
    for (field, value) in &call.bound {
        reading.bind(&mut message, (field, value));
    }
    let problems = reading.problems();
    if problems.is_empty() { Ok(message) } else { Err(bad_fields(problems)) }
}

fn object(body: &[u8], expected: &str) -> Result<Vec<(String, Part)>, Status> {
    let found = match document::read(body) {
        Ok(Part::Object(fields)) => return Ok(fields),
        Ok(other) => scalar::shown(&other),
        Err(Unread::Malformed { why }) => format!("what is no JSON ({why})"),
        Err(Unread::Crowded) => return Err(message_crowded(parts::MOST)),
    };
    Err(bad_fields([Problem::new("body", found, expected)]))
}
