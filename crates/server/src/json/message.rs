//! Message: what is asked with over plain HTTP, made of the path, the query and the body of a request.

use nextrung_domain::problem::Problem;
use prost_reflect::{DynamicMessage, Kind, Value};

use super::document::{self, Part, Unread};
use super::query;
use super::reading::Reading;
use super::route::{Call, Carried};
use super::scalar;

/// Why a request has no message.
#[derive(Debug, thiserror::Error)]
pub enum Unreadable {
    /// Something in it is wrong.
    #[error("{} bad fields", problems.len())]
    BadFields {
        /// Everything that is, wherever it stands; at most 100.
        problems: Vec<Problem>,
    },
    /// Its body has more values in it than a message may have.
    #[error("more than is taken")]
    Crowded,
}

/// The message of a call, from what stands behind the question mark and the bytes of the body.
///
/// # Errors
/// Says why there is none.
pub fn read(call: &Call, query: &str, body: &[u8]) -> Result<DynamicMessage, Unreadable> {
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
    if problems.is_empty() { Ok(message) } else { Err(Unreadable::BadFields { problems }) }
}

fn object(body: &[u8], expected: &str) -> Result<Vec<(String, Part)>, Unreadable> {
    let found = match document::read(body) {
        Ok(Part::Object(fields)) => return Ok(fields),
        Ok(other) => scalar::shown(&other),
        Err(Unread::Malformed { why }) => format!("what is no JSON ({why})"),
        Err(Unread::Crowded) => return Err(Unreadable::Crowded),
    };
    Err(Unreadable::BadFields { problems: vec![Problem::new("body", found, expected)] })
}
