//! Asked: the message of a call, read and made when somebody asks for it.

use std::pin::Pin;
use std::task::{Context, Poll, ready};

use http_body_util::{BodyExt, LengthLimitError, Limited};
use hyper::body::{Bytes, Frame};
use nextrung_domain::problem::Problem;
use prost::Message;
use prost_reflect::{DynamicMessage, Kind, Value};
use tonic::body::Body;
use tonic::{Code, Status};

use super::document::{self, Part, Unread};
use super::query;
use super::reading::Reading;
use super::route::{Call, Carried};
use super::scalar;
use crate::access::parts;
use crate::status::{bad_fields, message_crowded, message_malformed, of_transport};

/// A call as it came.
pub(super) struct Asked {
    pub(super) call: Call,
    /// What stands behind the question mark.
    pub(super) query: String,
    pub(super) body: Body,
    /// How long the body may be, bytes.
    pub(super) longest: usize,
}

impl Asked {
    /// The message with the prefix of gRPC. Nothing is read before it is asked for.
    pub(super) fn into_body(self) -> Body {
        Body::new(Later { frame: Some(Box::pin(self.frame())) })
    }

    async fn frame(self) -> Result<Bytes, Status> {
        let bytes = whole(self.body, self.longest).await?;
        let message = message(&self.call, &self.query, &bytes)?.encode_to_vec();
        // Shorter than a body may be, and with it than four bytes can tell.
        let length = u32::try_from(message.len()).map_err(|_| message_crowded(parts::MOST))?;
        Ok([&[0], length.to_be_bytes().as_slice(), &message].concat().into())
    }
}

/// A body of one frame that is not there yet.
struct Later {
    frame: Option<Pin<Box<dyn Future<Output = Result<Bytes, Status>> + Send>>>,
}

impl hyper::body::Body for Later {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        let Some(frame) = &mut self.frame else { return Poll::Ready(None) };
        let frame = ready!(frame.as_mut().poll(cx));
        self.frame = None;
        Poll::Ready(Some(frame.map(Frame::data)))
    }

    fn is_end_stream(&self) -> bool {
        self.frame.is_none()
    }
}

async fn whole(body: Body, longest: usize) -> Result<Bytes, Status> {
    let read = Limited::new(body, longest).collect().await.map_err(|error| {
        let is_too_long = error.downcast_ref::<LengthLimitError>().is_some();
        let too_long = of_transport(Code::OutOfRange, &format!("more than {longest} bytes"));
        too_long.filter(|_| is_too_long).unwrap_or_else(|| message_malformed("the body did not come whole"))
    })?;
    Ok(read.to_bytes())
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
