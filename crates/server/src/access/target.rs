//! Target: whom a request is about, read from its message before anything is done.
//!
//! The message is read by the same rules as by the service itself (of a field told twice the last counts), so the two cannot
//! see different names.

use std::error::Error;
use std::sync::Arc;
use std::time::Duration;

use http::Request;
use http_body_util::{BodyExt, Full, LengthLimitError, Limited};
use prost::Message;
use prost::bytes::{Bytes, BytesMut};
use tokio::sync::Semaphore;
use tonic::body::Body;
use tonic::{Code, Status};

use super::room::{LONG, Room, Taken};
use super::rules::Target;
use super::translation::Translation;
use super::{parts, request_field};
use crate::settings::Limits;
use crate::status::{message_crowded, message_late, message_malformed, of_transport};

/// Bytes before a message: whether it is compressed, and its length.
const PREFIX: usize = 5;

#[derive(Clone, PartialEq, Message)]
struct WithName {
    #[prost(string, tag = "1")]
    name: String,
}

#[derive(Clone, PartialEq, Message)]
struct WithNames {
    #[prost(string, repeated, tag = "1")]
    names: Vec<String>,
}

#[derive(Clone, PartialEq, Message)]
struct WithNameWithin {
    #[prost(message, optional, tag = "1")]
    within: Option<WithName>,
}

/// What a message tells of itself.
#[derive(Debug, Default)]
pub struct Told {
    /// The names of whom it is about.
    pub names: Vec<String>,
    /// SHA-256 of the id of its request.
    pub request: Option<[u8; 32]>,
}

impl Told {
    /// Reads a message of a method, a path such as `/nextrung.v1.SetLogService/ListSets`. Fails when it is none.
    pub fn read(path: &str, message: &[u8], target: Target) -> Result<Self, Status> {
        let names = names(message, target).map_err(|error| message_malformed(&error.to_string()))?;
        Ok(Self { names, request: request_field::digest(path, message) })
    }
}

/// How the message of a call has to come.
#[derive(Debug, Clone)]
pub(crate) struct Arrival {
    /// Bytes at most.
    longest: usize,
    /// Within which time.
    time: Duration,
    /// For how many long ones there is room.
    room: Room,
}

/// A request whose message has come.
pub(crate) struct Arrived {
    /// The request, as good as new.
    pub(crate) request: Request<Body>,
    /// What its message tells; why it tells nothing, when it is none.
    pub(crate) told: Result<Told, Status>,
    /// The room it takes, to be kept until it is answered.
    pub(crate) room: Option<Taken>,
}

impl Arrival {
    pub(crate) fn of(limits: &Limits) -> Self {
        let room = Room::new(limits.long_messages);
        Self { longest: limits.message_bytes, time: limits.arrival, room }
    }

    /// The same for a key that has only so many long messages at a time.
    pub(super) fn of_key(&self, long_messages: Arc<Semaphore>) -> Self {
        Self { room: self.room.of_key(long_messages), longest: self.longest, time: self.time }
    }

    /// The request with what it tells. Fails when it did not come whole, in time, within its length and in as many parts as are
    /// taken, or is long and there is no room.
    pub(crate) async fn read(&self, request: Request<Body>, target: Target) -> Result<Arrived, Status> {
        let come = tokio::time::timeout(self.time, self.whole(request, target)).await;
        come.map_err(|_| message_late(self.time))?
    }

    async fn whole(&self, request: Request<Body>, target: Target) -> Result<Arrived, Status> {
        let (mut head, body) = request.into_parts();
        let (mut bytes, room) = self.collected(body).await?;
        if let Some(translation) = head.extensions.remove::<Translation>() {
            bytes = framed(&translation.of(&bytes)?)?;
        }
        if message(&bytes).is_ok_and(|message| parts::are_too_many(head.uri.path(), message)) {
            return Err(message_crowded(parts::MOST));
        }
        let told = message(&bytes).and_then(|message| Told::read(head.uri.path(), message, target));
        Ok(Arrived { request: Request::from_parts(head, Body::new(Full::new(bytes))), told, room })
    }

    /// All of a body, with the room that it takes.
    async fn collected(&self, body: Body) -> Result<(Bytes, Option<Taken>), Status> {
        let mut body = Limited::new(body, self.longest.saturating_add(PREFIX));
        let mut bytes = BytesMut::new();
        let mut room = None;
        while let Some(frame) = body.frame().await {
            let Ok(data) = frame.map_err(|error| self.not_come(error.as_ref()))?.into_data() else {
                continue;
            };
            if room.is_none() && bytes.len().saturating_add(data.len()) > LONG {
                room = Some(self.room.take()?);
            }
            bytes.extend_from_slice(&data);
        }
        Ok((bytes.freeze(), room))
    }

    /// Why a message did not come.
    fn not_come(&self, error: &(dyn Error + Send + Sync + 'static)) -> Status {
        let is_too_long = error.downcast_ref::<LengthLimitError>().is_some();
        let told = format!("more than {} bytes", self.longest);
        let too_long = of_transport(Code::OutOfRange, &told).filter(|_| is_too_long);
        too_long.unwrap_or_else(|| message_malformed("the message did not come whole"))
    }
}

/// A message with the bytes before it.
fn framed(message: &[u8]) -> Result<Bytes, Status> {
    // Shorter than a body may be, and with it than four bytes can tell.
    let length = u32::try_from(message.len()).map_err(|_| message_crowded(parts::MOST))?;
    Ok([&[0], length.to_be_bytes().as_slice(), message].concat().into())
}

/// The one message of a call.
fn message(bytes: &Bytes) -> Result<&[u8], Status> {
    match bytes.split_first_chunk::<PREFIX>() {
        Some(([0, length @ ..], message))
            if usize::try_from(u32::from_be_bytes(*length)) == Ok(message.len()) =>
        {
            Ok(message)
        }
        Some(([0, ..], _)) => Err(message_malformed("not one message of the length it tells")),
        Some(_) => Err(message_malformed("a compressed message, which is not taken")),
        None => Err(message_malformed("no message")),
    }
}

fn names(message: &[u8], target: Target) -> Result<Vec<String>, prost::DecodeError> {
    match target {
        Target::Nobody => Ok(Vec::new()),
        Target::Name => Ok(vec![WithName::decode(message)?.name]),
        Target::Names => Ok(WithNames::decode(message)?.names),
        Target::NameWithin => {
            Ok(WithNameWithin::decode(message)?.within.map(|within| within.name).into_iter().collect())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_whole_message_is_taken() {
        let framed = |prefix: [u8; PREFIX], rest: &[u8]| Bytes::from([&prefix, rest].concat());
        assert_eq!(message(&framed([0, 0, 0, 0, 2], b"ab")).unwrap(), b"ab");
        assert_eq!(message(&framed([0; 5], b"")).unwrap(), b"");
        for bad in [
            Bytes::new(),
            framed([0, 0, 0, 0, 3], b"ab"),
            framed([0, 0, 0, 0, 1], b"ab"),
            framed([1, 0, 0, 0, 2], b"ab"),
        ] {
            assert_eq!(message(&bad).unwrap_err().code(), Code::InvalidArgument, "{bad:?}");
        }
    }

    #[test]
    fn of_a_name_told_twice_the_last_counts() {
        let twice = [WithName { name: "a".to_owned() }, WithName { name: "b".to_owned() }];
        let bytes: Vec<u8> = twice.iter().flat_map(Message::encode_to_vec).collect();
        assert_eq!(names(&bytes, Target::Name).unwrap(), ["b"]);
        assert_eq!(names(&bytes, Target::Names).unwrap(), ["a", "b"]);
        let within: Vec<u8> = twice
            .iter()
            .flat_map(|name| WithNameWithin { within: Some(name.clone()) }.encode_to_vec())
            .collect();
        assert_eq!(names(&within, Target::NameWithin).unwrap(), ["b"]);
        assert_eq!(names(&[], Target::NameWithin).unwrap(), [""; 0]);
    }
}
