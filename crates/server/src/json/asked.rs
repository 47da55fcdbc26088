//! Asked: the message of a call, read and made when somebody asks for it.

use std::pin::Pin;
use std::task::{Context, Poll, ready};

use http_body_util::{BodyExt, LengthLimitError, Limited};
use hyper::body::{Bytes, Frame};
use prost::Message;
use tonic::body::Body;
use tonic::{Code, Status};

use super::message::{self, Unreadable};
use super::route::Call;
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
        let read = message::read(&self.call, &self.query, &bytes);
        let message = read.map_err(|unreadable| match unreadable {
            Unreadable::BadFields { problems } => bad_fields(problems),
            Unreadable::Crowded => message_crowded(parts::MOST),
        });
        let message = message?.encode_to_vec();
        // Shorter than a body may be, and with it than four bytes can tell.
        let length = u32::try_from(message.len()).map_err(|_| message_crowded(parts::MOST))?;
        Ok([&[0], length.to_be_bytes().as_slice(), &message].concat().into())
    }
}

/// A frame that somebody makes.
type Made = Pin<Box<dyn Future<Output = Result<Bytes, Status>> + Send>>;

/// A body of one frame that is not there yet.
struct Later {
    frame: Option<Made>,
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
