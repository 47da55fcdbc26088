//! Frames: the messages of an answer over gRPC, one after another, to the status behind them.

use std::future::poll_fn;
use std::pin::Pin;
use std::task::{Context, Poll, ready};

use http::HeaderMap;
use hyper::body::{Body as _, Bytes};
use prost::bytes::{Buf, BytesMut};
use tokio::time::{Instant, Sleep, sleep_until};
use tonic::body::Body;
use tonic::{Code, Status};

use crate::status::{deadline_exceeded, internal};

/// Bytes before a message: whether it is compressed, and its length.
const PREFIX: usize = 5;

/// An answer that is taken apart as it comes.
pub(super) struct Frames {
    body: Body,
    come: BytesMut,
    is_over: bool,
    end: Option<Pin<Box<Sleep>>>,
}

impl Frames {
    /// The messages of an answer.
    pub(super) fn of(body: Body) -> Self {
        Self { body, come: BytesMut::new(), is_over: false, end: None }
    }

    /// The same, for somebody who waits no longer than this.
    pub(super) fn until(self, end: Option<Instant>) -> Self {
        Self { end: end.map(|end| Box::pin(sleep_until(end))), ..self }
    }

    /// What is left of the answer, with all that it holds.
    pub(super) fn into_body(self) -> Body {
        self.body
    }

    /// The next message; nothing once the answer has ended well.
    pub(super) async fn next(&mut self) -> Option<Result<Bytes, Status>> {
        poll_fn(|cx| self.poll_next(cx)).await
    }

    /// See [`Self::next`].
    pub(super) fn poll_next(&mut self, cx: &mut Context<'_>) -> Poll<Option<Result<Bytes, Status>>> {
        loop {
            if let Some(message) = self.message() {
                return Poll::Ready(Some(Ok(message)));
            }
            if self.is_over {
                return Poll::Ready(None);
            }
            if self.end.as_mut().is_some_and(|end| end.as_mut().poll(cx).is_ready()) {
                self.is_over = true;
                return Poll::Ready(Some(Err(deadline_exceeded())));
            }
            let ended = match ready!(Pin::new(&mut self.body).poll_frame(cx)) {
                Some(Ok(frame)) => match frame.into_data() {
                    Ok(data) => {
                        self.come.extend_from_slice(&data);
                        continue;
                    }
                    Err(frame) => end(frame.trailers_ref()),
                },
                Some(Err(status)) => Err(status),
                None => end(None),
            };
            self.is_over = true;
            if let Err(status) = ended {
                return Poll::Ready(Some(Err(status)));
            }
        }
    }

    /// A message that has come whole.
    fn message(&mut self) -> Option<Bytes> {
        let ([_, length @ ..], rest) = self.come.split_first_chunk::<PREFIX>()?;
        let length = usize::try_from(u32::from_be_bytes(*length)).ok()?;
        if rest.len() < length {
            return None;
        }
        self.come.advance(PREFIX);
        Some(self.come.split_to(length).freeze())
    }
}

/// How an answer ended.
fn end(trailers: Option<&HeaderMap>) -> Result<(), Status> {
    match trailers.and_then(Status::from_header_map) {
        Some(status) if status.code() == Code::Ok => Ok(()),
        Some(status) => Err(status),
        None => Err(internal("an answer without an end")),
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use hyper::body::Frame;
    use tokio_stream::{StreamExt, iter, pending};

    use super::*;
    use crate::status::stopping;

    fn answer(pieces: &[&[u8]], trailers: Option<HeaderMap>) -> Frames {
        let data = pieces.iter().map(|piece| Frame::data(Bytes::copy_from_slice(piece)));
        let all: Vec<Result<Frame<Bytes>, Status>> =
            data.chain(trailers.map(Frame::trailers)).map(Ok).collect();
        Frames::of(Body::new(http_body_util::StreamBody::new(iter(all))))
    }

    fn trailers(status: &Status) -> HeaderMap {
        let mut trailers = HeaderMap::new();
        status.add_header(&mut trailers).unwrap();
        trailers
    }

    fn well() -> Option<HeaderMap> {
        Some(HeaderMap::from_iter([("grpc-status".parse().unwrap(), "0".parse().unwrap())]))
    }

    #[tokio::test]
    async fn messages_come_however_they_are_cut() {
        let sent: &[u8] = &[0, 0, 0, 0, 2, b'a', b'b', 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, b'c'];
        for size in 1..=sent.len() {
            let pieces: Vec<&[u8]> = sent.chunks(size).collect();
            let mut frames = answer(&pieces, well());
            for message in ["ab", "", "c"] {
                assert_eq!(frames.next().await.unwrap().unwrap(), message, "{size}");
            }
            assert!(frames.next().await.is_none(), "{size}");
        }
    }

    #[tokio::test]
    async fn an_error_behind_messages_is_told_once() {
        let mut frames = answer(&[&[0, 0, 0, 0, 1, b'a']], Some(trailers(&stopping())));
        assert_eq!(frames.next().await.unwrap().unwrap(), "a");
        assert_eq!(frames.next().await.unwrap().unwrap_err().code(), Code::Unavailable);
        assert!(frames.next().await.is_none());
    }

    #[tokio::test]
    async fn who_waits_no_longer_is_told_so_and_nothing_more() {
        let sent: &[u8] = &[0, 0, 0, 0, 1, b'a'];
        let come = iter([Ok::<_, Status>(Frame::data(Bytes::from_static(sent)))]).chain(pending());
        let begun = Instant::now();
        let mut frames = Frames::of(Body::new(http_body_util::StreamBody::new(come)))
            .until(Some(begun + Duration::from_millis(500)));
        assert_eq!(frames.next().await.unwrap().unwrap(), "a");
        assert_eq!(frames.next().await.unwrap().unwrap_err().code(), Code::DeadlineExceeded);
        assert!(begun.elapsed() >= Duration::from_millis(500));
        assert!(frames.next().await.is_none());
    }

    #[tokio::test]
    async fn an_answer_that_breaks_off_is_an_error() {
        for pieces in [vec![], vec![&[0_u8, 0, 0, 0, 9, b'a'][..]]] {
            let mut frames = answer(&pieces, None);
            assert_eq!(frames.next().await.unwrap().unwrap_err().code(), Code::Internal);
            assert!(frames.next().await.is_none());
        }
    }
}
