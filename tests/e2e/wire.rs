//! The wire: calls made of bytes, for what no client of ours would send.

use std::convert::Infallible;
use std::net::SocketAddr;
use std::pin::Pin;
use std::task::{Context, Poll};

use hyper::body::{Body, Bytes, Frame};
use hyper::client::conn::http2::{SendRequest, handshake};
use hyper::{Request, Response};
use hyper_util::rt::{TokioExecutor, TokioIo};
use nextrung_api::v1;
use prost::Message;
use tokio::net::TcpStream;
use tonic::{Code, Status};

use crate::messages::pull_up;
use crate::refusal::{Refusal, refused};
use crate::service::{ATHLETE, Service};

/// A body of one piece, after which it ends or nothing more comes.
pub(crate) struct Piece {
    bytes: Option<Bytes>,
    is_whole: bool,
}

impl Body for Piece {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        _cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        match self.bytes.take() {
            None if !self.is_whole => Poll::Pending,
            piece => Poll::Ready(piece.map(|piece| Ok(Frame::data(piece)))),
        }
    }
}

/// A bare HTTP/2 connection.
pub(crate) async fn bare(address: SocketAddr) -> SendRequest<Piece> {
    let stream = TcpStream::connect(address).await.unwrap();
    let (sender, connection) = handshake(TokioExecutor::new(), TokioIo::new(stream)).await.unwrap();
    tokio::spawn(connection);
    sender
}

/// A message with its gRPC frame.
pub(crate) fn framed(message: &[u8]) -> Vec<u8> {
    let mut frame = vec![0];
    frame.extend(u32::try_from(message.len()).unwrap().to_be_bytes());
    frame.extend(message);
    frame
}

/// The answer to a call of a method with this body and a deadline.
pub(crate) async fn post(
    sender: &mut SendRequest<Piece>,
    method: &str,
    body: Vec<u8>,
    timeout: Option<&str>,
) -> Response<hyper::body::Incoming> {
    let mut request = call(method);
    if let Some(timeout) = timeout {
        request = request.header("grpc-timeout", timeout);
    }
    let body = Piece { bytes: Some(body.into()), is_whole: true };
    sender.send_request(request.body(body).unwrap()).await.unwrap()
}

/// The answer to a call with a key whose body begins like this and does not end.
pub(crate) async fn begin(
    sender: &mut SendRequest<Piece>,
    method: &str,
    body: Vec<u8>,
    key: &str,
) -> Response<hyper::body::Incoming> {
    let request = call(method).header("authorization", format!("Bearer {key}"));
    let body = Piece { bytes: Some(body.into()), is_whole: false };
    sender.send_request(request.body(body).unwrap()).await.unwrap()
}

fn call(method: &str) -> http::request::Builder {
    Request::post(format!("http://bare/nextrung.v1.{method}"))
        .header("content-type", "application/grpc")
        .header("te", "trailers")
}

/// The refusal of RecordSets with this body, after which nothing was kept and the connection still works.
async fn refusal(body: Vec<u8>) -> Refusal {
    let service = Service::start().await;
    service.new_athlete().await;
    let mut sender = bare(service.address()).await;
    let response = post(&mut sender, "SetLogService/RecordSets", body, None).await;
    let status = Status::from_header_map(response.headers()).unwrap();
    assert_eq!(service.listed().await, []);
    let list = v1::ListLaddersRequest { page_size: 1, ..Default::default() };
    let after = post(&mut sender, "LadderService/ListLadders", framed(&list.encode_to_vec()), None).await;
    assert!(after.headers().get("grpc-status").is_none(), "{after:?}");
    Refusal::of(&status)
}

fn request(sets: Vec<v1::LoggedSet>) -> Vec<u8> {
    let request = v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets,
        request_id: "wire".to_owned(),
        validate_only: false,
    };
    request.encode_to_vec()
}

/// The one place of `from` in a message, overwritten.
fn overwritten(mut message: Vec<u8>, from: &[u8], to: &[u8]) -> Vec<u8> {
    let places: Vec<usize> = (0..message.len()).filter(|at| message[*at..].starts_with(from)).collect();
    assert_eq!(places.len(), 1);
    message[places[0]..places[0] + to.len()].copy_from_slice(to);
    message
}

#[tokio::test]
async fn broken_utf_8_is_a_bad_field_with_its_path() {
    let noted = v1::LoggedSet { note: "broken".to_owned(), ..pull_up(2) };
    let message = overwritten(request(vec![pull_up(1), noted]), b"broken", b"br\xff\xfeen");
    let refusal = refusal(framed(&message)).await;
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::InvalidArgument, "BAD_FIELDS"));
    assert_eq!(refusal.fields(), ["sets.note"]);
    assert!(refusal.about("sets.note").contains("UTF-8"), "{refusal:?}");
}

#[tokio::test]
async fn what_is_no_message_is_a_bad_field() {
    let truncated = request(vec![pull_up(1)]);
    for body in [
        framed(b"\xff\xff\xff"),
        framed(&truncated[..truncated.len() - 3]),
        Vec::new(),
        framed(b"\x0a\x7f")[..4].to_vec(),
        [&[7], &framed(b"")[1..]].concat(),
        [&[1], &framed(b"")[1..]].concat(),
    ] {
        let refusal = refusal(body.clone()).await;
        assert_eq!(
            (refusal.code, refusal.reason.as_str()),
            (Code::InvalidArgument, "BAD_FIELDS"),
            "{body:?}"
        );
        assert_eq!(refusal.violations.len(), 1, "{refusal:?}");
    }
}

#[tokio::test]
async fn an_oversize_message_is_refused() {
    let noted = v1::LoggedSet { note: "x".repeat(5 << 20), ..pull_up(1) };
    let refusal = refusal(framed(&request(vec![noted.clone()]))).await;
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::ResourceExhausted, "MESSAGE_TOO_LARGE"));
    let service = Service::start().await;
    service.new_athlete().await;
    let refusal = refused(service.record("1", vec![noted]).await);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::ResourceExhausted, "MESSAGE_TOO_LARGE"));
    assert_eq!(service.listed().await, []);
}

#[tokio::test]
async fn a_message_of_too_many_parts_is_refused_before_it_is_taken_apart() {
    // A million empty sets take two bytes each.
    let crowded = request(vec![v1::LoggedSet::default(); 1 << 20]);
    assert!(crowded.len() < 4 << 20);
    let refusal = refusal(framed(&crowded)).await;
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::ResourceExhausted, "MESSAGE_TOO_LARGE"));
    assert!(refusal.message.contains("32768 texts and messages"), "{refusal:?}");
}

#[tokio::test]
async fn fields_that_are_not_known_are_passed_over() {
    let service = Service::start().await;
    service.new_athlete().await;
    let mut message = request(vec![pull_up(1)]);
    message.extend([0xf8, 0x07, 1]);
    let mut sender = bare(service.address()).await;
    let response = post(&mut sender, "SetLogService/RecordSets", framed(&message), None).await;
    assert!(response.headers().get("grpc-status").is_none(), "{response:?}");
    assert_eq!(service.listed().await.len(), 1);
}

#[tokio::test]
async fn an_unknown_method_is_unimplemented() {
    let service = Service::start().await;
    let mut sender = bare(service.address()).await;
    for method in ["SetLogService/NoSuchMethod", "NoSuchService/Get"] {
        let response = post(&mut sender, method, framed(b""), None).await;
        let status = Status::from_header_map(response.headers()).unwrap();
        assert_eq!(status.code(), Code::Unimplemented, "{method}");
    }
}
