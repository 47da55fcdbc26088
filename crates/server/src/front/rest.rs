//! Rest: what is left of a request when its answer is there already. A browser reads no answer while it is still sending and the
//! connection is closed under it, so over HTTP/1.1 the rest is taken and thrown away first.

use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;

use http::Request;
use http_body_util::BodyExt;
use hyper::body::{Bytes, Frame, SizeHint};
use tonic::Status;
use tonic::body::Body;

/// Most bytes that are thrown away; who sends more is cut off.
const MOST: usize = 16 << 20;
/// Longest that is waited for all of them, and for the next of them: who sends nothing any more waits for the answer.
const LONGEST: Duration = Duration::from_secs(5);
const NEXT: Duration = Duration::from_millis(500);

/// Where a request's body comes back to when whoever answers has done with it.
pub(super) struct Rest(Arc<Mutex<Option<Body>>>);

impl Rest {
    /// The request as it is to be answered, and what will be left of it.
    pub(super) fn of(request: Request<Body>) -> (Request<Body>, Self) {
        let rest = Arc::new(Mutex::new(None));
        let lent = |inner| Body::new(Lent { inner, rest: Arc::clone(&rest) });
        (request.map(lent), Self(rest))
    }

    /// Takes what has come back, up to a bound in size and time. A body that is still being read is left alone.
    pub(super) async fn take(self) {
        let Some(mut body) = self.0.lock().unwrap_or_else(PoisonError::into_inner).take() else { return };
        let taking = async {
            let mut taken = 0;
            while taken <= MOST
                && let Ok(Some(Ok(frame))) = tokio::time::timeout(NEXT, body.frame()).await
            {
                taken += frame.data_ref().map_or(0, Bytes::len);
            }
        };
        drop(tokio::time::timeout(LONGEST, taking).await);
    }
}

/// A body that comes back when it is dropped.
struct Lent {
    inner: Body,
    rest: Arc<Mutex<Option<Body>>>,
}

impl Drop for Lent {
    fn drop(&mut self) {
        let inner = std::mem::take(&mut self.inner);
        *self.rest.lock().unwrap_or_else(PoisonError::into_inner) = Some(inner);
    }
}

impl hyper::body::Body for Lent {
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

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Instant;

    use http_body_util::StreamBody;
    use tokio_stream::{Stream, StreamExt};

    use super::*;

    /// What is taken of a request that sends these pieces and is answered at once: bytes, and for how long.
    async fn taken(pieces: impl Stream<Item = Bytes> + Send + 'static) -> (usize, Duration) {
        let count = Arc::new(AtomicUsize::new(0));
        let seen = Arc::clone(&count);
        let pieces = pieces.map(move |piece| {
            seen.fetch_add(piece.len(), Ordering::SeqCst);
            Ok::<_, Status>(Frame::data(piece))
        });
        let (request, rest) = Rest::of(Request::new(Body::new(StreamBody::new(pieces))));
        drop(request);
        let begun = Instant::now();
        rest.take().await;
        (count.load(Ordering::SeqCst), begun.elapsed())
    }

    fn endless(piece: usize, pause: Duration) -> impl Stream<Item = Bytes> + Send + 'static {
        let pieces = tokio_stream::iter(std::iter::repeat(Bytes::from(vec![0; piece])));
        pieces.then(move |piece| async move {
            tokio::time::sleep(pause).await;
            piece
        })
    }

    #[tokio::test]
    async fn what_comes_is_taken_to_its_end() {
        let pieces = tokio_stream::iter(vec![Bytes::from_static(b"abc"); 100]);
        assert_eq!(taken(pieces).await.0, 300);
    }

    #[tokio::test]
    async fn silence_is_not_waited_for() {
        let (bytes, took) = taken(tokio_stream::pending()).await;
        assert_eq!(bytes, 0);
        assert!((NEXT..LONGEST).contains(&took), "{took:?}");
    }

    #[tokio::test]
    async fn only_so_much_is_taken() {
        let piece = 1 << 20;
        let (bytes, _) = taken(endless(piece, Duration::ZERO)).await;
        assert!((MOST..MOST + 2 * piece).contains(&bytes), "{bytes}");
    }

    #[tokio::test]
    async fn a_trickle_is_taken_only_so_long() {
        let trickle = taken(endless(1, Duration::from_millis(100)));
        let (bytes, took) = tokio::time::timeout(2 * LONGEST, trickle).await.expect("an end");
        assert!(bytes > 1 && took >= LONGEST, "{bytes} in {took:?}");
    }

    #[tokio::test]
    async fn a_body_that_is_still_read_is_left_alone() {
        let body = Body::new(StreamBody::new(tokio_stream::pending::<Result<Frame<Bytes>, Status>>()));
        let (request, rest) = Rest::of(Request::new(body));
        let waited = tokio::time::timeout(Duration::ZERO, rest.take()).await;
        assert!(waited.is_ok(), "it is not waited for");
        drop(request);
    }
}
