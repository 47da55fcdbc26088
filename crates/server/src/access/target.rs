//! Target: whom a request is about, read from its message before anything is done.
//!
//! The message is read by the same rules as by the service itself (of a field told twice the last counts), so the two cannot
//! see different names.

use std::time::Duration;

use http::Request;
use http_body_util::{BodyExt, Full, LengthLimitError, Limited};
use prost::Message;
use prost::bytes::Bytes;
use tonic::body::Body;
use tonic::{Code, Status};

use super::rules::Target;
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
#[derive(Debug, Clone, Copy)]
pub(crate) struct Arrival {
    /// Bytes at most.
    pub(crate) longest: usize,
    /// Within which time.
    pub(crate) time: Duration,
}

impl Arrival {
    pub(crate) fn of(limits: &Limits) -> Self {
        Self { longest: limits.message_bytes, time: limits.arrival }
    }

    /// The request, as good as new, and what its message tells; why it tells nothing, when it is none. Fails when it did not
    /// come whole, in time, within its length and in as many parts as are taken.
    pub(crate) async fn read(
        self,
        request: Request<Body>,
        target: Target,
    ) -> Result<(Request<Body>, Result<Told, Status>), Status> {
        let come = tokio::time::timeout(self.time, self.whole(request, target)).await;
        come.map_err(|_| message_late(self.time))?
    }

    async fn whole(
        self,
        request: Request<Body>,
        target: Target,
    ) -> Result<(Request<Body>, Result<Told, Status>), Status> {
        let (head, body) = request.into_parts();
        let whole =
            Limited::new(body, self.longest.saturating_add(PREFIX)).collect().await.map_err(|error| {
                // A message that is made within the service says itself what is wrong with it.
                if let Some(status) = error.downcast_ref::<Status>().filter(|told| !told.details().is_empty())
                {
                    return status.clone();
                }
                let is_too_long = error.downcast_ref::<LengthLimitError>().is_some();
                let told = format!("more than {} bytes", self.longest);
                let too_long = of_transport(Code::OutOfRange, &told).filter(|_| is_too_long);
                too_long.unwrap_or_else(|| message_malformed("the message did not come whole"))
            })?;
        let bytes = whole.to_bytes();
        if message(&bytes).is_ok_and(|message| parts::are_too_many(head.uri.path(), message)) {
            return Err(message_crowded(parts::MOST));
        }
        let told = message(&bytes).and_then(|message| Told::read(head.uri.path(), message, target));
        Ok((Request::from_parts(head, Body::new(Full::new(bytes))), told))
    }
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
