//! Lease: an answer that goes on only while its key is good, and holds the key's place until its last piece was taken.

use std::pin::Pin;
use std::task::{Context, Poll};

use http::HeaderMap;
use hyper::body::{Bytes, Frame, SizeHint};
use tokio::sync::OwnedSemaphorePermit;
use tonic::Status;
use tonic::body::Body;

/// Resolves to why a key is not good any more.
pub(super) type Over = Pin<Box<dyn Future<Output = Status> + Send>>;

/// What an answer is given on: the key's place, and the key's end.
pub(crate) struct Lease {
    over: Over,
    _place: OwnedSemaphorePermit,
}

impl Lease {
    pub(super) fn new(over: Over, place: OwnedSemaphorePermit) -> Self {
        Self { over, _place: place }
    }

    /// The answer, which ends with this lease if not before.
    pub(crate) fn of(self, answer: Body) -> Body {
        Body::new(Leased { answer, lease: Some(self) })
    }
}

/// An answer on a lease; without one it has ended.
struct Leased {
    answer: Body,
    lease: Option<Lease>,
}

impl hyper::body::Body for Leased {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        let Self { answer, lease } = &mut *self;
        let Some(Lease { over, .. }) = lease else { return Poll::Ready(None) };
        let polled = Pin::new(answer).poll_frame(cx);
        if polled.is_ready() {
            return polled;
        }
        let Poll::Ready(status) = over.as_mut().poll(cx) else { return Poll::Pending };
        *lease = None;
        let mut trailers = HeaderMap::new();
        Poll::Ready(Some(status.add_header(&mut trailers).map(|()| Frame::trailers(trailers))))
    }

    fn is_end_stream(&self) -> bool {
        self.lease.is_none() || self.answer.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.answer.size_hint()
    }
}
