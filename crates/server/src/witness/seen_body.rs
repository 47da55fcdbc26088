//! Seen body: an answer on its way out, watched to its last piece.

use std::pin::Pin;
use std::task::{Context, Poll};

use hyper::body::{Bytes, Frame, SizeHint};
use tonic::body::Body;
use tonic::{Code, Status};

use super::Seen;

/// An answer that ends its call when it ends.
pub(super) struct SeenBody {
    inner: Body,
    seen: Seen,
}

impl SeenBody {
    pub(super) fn new(inner: Body, seen: Seen) -> Self {
        Self { inner, seen }
    }
}

impl hyper::body::Body for SeenBody {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        let Self { inner, seen } = &mut *self;
        let polled = {
            let _in = seen.span.enter();
            Pin::new(inner).poll_frame(cx)
        };
        match &polled {
            Poll::Ready(Some(Ok(frame))) => {
                if let Some(status) = frame.trailers_ref().and_then(|trailers| trailers.get("grpc-status")) {
                    seen.code = Some(Code::from_bytes(status.as_bytes()));
                }
            }
            Poll::Ready(Some(Err(status))) => seen.code = Some(status.code()),
            Poll::Ready(None) | Poll::Pending => {}
        }
        polled
    }

    fn is_end_stream(&self) -> bool {
        self.inner.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.inner.size_hint()
    }
}
