//! Lines: a stream of messages as JSON, one a line. An error that comes behind them is the last line.

use std::pin::Pin;
use std::task::{Context, Poll, ready};

use hyper::body::{Bytes, Frame};
use prost_reflect::MethodDescriptor;
use tonic::Status;

use super::frames::Frames;
use super::told;

/// An answer of many messages.
pub(super) struct Lines {
    method: MethodDescriptor,
    first: Option<Bytes>,
    frames: Frames,
    has_failed: bool,
}

impl Lines {
    /// Messages of a method, the first of which has been taken already.
    pub(super) fn new(method: MethodDescriptor, first: Option<Bytes>, frames: Frames) -> Self {
        Self { method, first, frames, has_failed: false }
    }
}

impl hyper::body::Body for Lines {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        if self.has_failed {
            return Poll::Ready(None);
        }
        let next = match self.first.take() {
            Some(first) => Some(Ok(first)),
            None => ready!(self.frames.poll_next(cx)),
        };
        let line =
            next.map(|message| message.and_then(|message| told::text(&self.method.output(), &message)));
        let line = line.map(|line| {
            line.unwrap_or_else(|status| {
                self.has_failed = true;
                told::error(&status, &self.method.input()).to_string().into_bytes()
            })
        });
        Poll::Ready(line.map(|mut line| {
            line.push(b'\n');
            Ok(Frame::data(line.into()))
        }))
    }
}

#[cfg(test)]
mod tests {
    use http::HeaderMap;
    use http_body_util::BodyExt;
    use nextrung_api::v1;
    use prost::Message;
    use tonic::body::Body;

    use super::*;
    use crate::json::pool::POOL;
    use crate::status::key_missing;

    #[tokio::test]
    async fn an_error_is_the_last_line() {
        let told = v1::WatchPrescriptionsResponse { athlete: "wren".to_owned(), ..Default::default() };
        let told = told.encode_to_vec();
        let mut framed = vec![0, 0, 0, 0, u8::try_from(told.len()).unwrap()];
        framed.extend(&told);
        let mut trailers = HeaderMap::new();
        key_missing().add_header(&mut trailers).unwrap();
        let frames = [Ok::<_, Status>(Frame::data(Bytes::from(framed))), Ok(Frame::trailers(trailers))];
        let body = Body::new(http_body_util::StreamBody::new(tokio_stream::iter(frames)));
        let mut services = POOL.services().filter(|service| service.name() == "PrescriptionService");
        let service = services.next().unwrap();
        let method = service.methods().find(|method| method.name() == "WatchPrescriptions").unwrap();
        let asked = method.input();
        let lines = Lines::new(method, Some(told.into()), Frames::of(body));
        let text = lines.collect().await.unwrap().to_bytes();
        let lines: Vec<serde_json::Value> =
            text.split(|byte| *byte == b'\n').filter_map(|line| serde_json::from_slice(line).ok()).collect();
        let one = serde_json::json!({"athlete": "wren"});
        assert_eq!(lines, [one.clone(), one, told::error(&key_missing(), &asked)]);
        assert!(text.ends_with(b"\n"));
    }
}
