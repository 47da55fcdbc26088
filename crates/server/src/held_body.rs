//! Held body: an answer on its way out that keeps something, such as a place, until its last piece was taken.

use std::pin::Pin;
use std::task::{Context, Poll};

use hyper::body::{Bytes, Frame, SizeHint};
use tonic::Status;
use tonic::body::Body;

/// An answer and what it keeps.
pub(crate) struct HeldBody<K> {
    inner: Body,
    _kept: K,
}

impl<K: Send + Unpin + 'static> HeldBody<K> {
    /// The answer, which keeps something from now on.
    pub(crate) fn keeping(inner: Body, kept: K) -> Body {
        Body::new(Self { inner, _kept: kept })
    }
}

impl<K: Unpin> hyper::body::Body for HeldBody<K> {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        Pin::new(&mut self.inner).poll_frame(cx)
    }

    fn is_end_stream(&self) -> bool {
        self.inner.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.inner.size_hint()
    }
}
