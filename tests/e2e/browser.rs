//! Browser: requests as browsers send them, over HTTP/1.1 or HTTP/2, and what comes back.

use std::collections::BTreeMap;
use std::net::SocketAddr;

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use http::{HeaderMap, HeaderValue, Method, Response, StatusCode};
use http_body_util::{BodyExt, Full};
use hyper::Request;
use hyper::body::{Bytes, Incoming};
use hyper::client::conn::{http1, http2};
use hyper_util::rt::{TokioExecutor, TokioIo};
use prost::Message;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tonic::Status;

use crate::refusal::Refusal;
use crate::wire::framed;

/// The two versions of HTTP, one after the other.
pub(crate) const VERSIONS: [Version; 2] = [Version::One, Version::Two];
/// The origin that tests let in.
pub(crate) const ORIGIN: &str = "https://coach.example";

/// A version of HTTP.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Version {
    One,
    Two,
}

/// A connection of a browser.
pub(crate) enum Browser {
    One(http1::SendRequest<Full<Bytes>>),
    Two(http2::SendRequest<Full<Bytes>>),
}

/// What came back.
#[derive(Debug)]
pub(crate) struct Answer {
    pub(crate) status: StatusCode,
    pub(crate) headers: HeaderMap,
    pub(crate) body: Bytes,
}

impl Browser {
    pub(crate) async fn connect(address: SocketAddr, version: Version) -> Self {
        Self::over(TcpStream::connect(address).await.unwrap(), version).await
    }

    /// Over a stream that is there.
    pub(crate) async fn over<S>(stream: S, version: Version) -> Self
    where
        S: AsyncRead + AsyncWrite + Unpin + Send + 'static,
    {
        let stream = TokioIo::new(stream);
        match version {
            Version::One => {
                let (sender, connection) = http1::handshake(stream).await.unwrap();
                tokio::spawn(connection);
                Self::One(sender)
            }
            Version::Two => {
                let (sender, connection) = http2::handshake(TokioExecutor::new(), stream).await.unwrap();
                tokio::spawn(connection);
                Self::Two(sender)
            }
        }
    }

    /// Sends a request; the body of the answer is still to come.
    pub(crate) async fn begin(&mut self, request: Request<Vec<u8>>) -> Response<Incoming> {
        let mut request = request.map(|body| Full::new(Bytes::from(body)));
        match self {
            Self::One(sender) => {
                let host = request.uri().authority().unwrap().as_str().parse::<HeaderValue>().unwrap();
                request.headers_mut().entry("host").or_insert(host);
                *request.uri_mut() = request.uri().path_and_query().unwrap().as_str().parse().unwrap();
                sender.ready().await.unwrap();
                sender.send_request(request).await.unwrap()
            }
            Self::Two(sender) => sender.send_request(request).await.unwrap(),
        }
    }

    /// Sends a request and takes the whole answer.
    pub(crate) async fn ask(&mut self, request: Request<Vec<u8>>) -> Answer {
        let (head, body) = self.begin(request).await.into_parts();
        let body = body.collect().await.unwrap().to_bytes();
        Answer { status: head.status, headers: head.headers, body }
    }
}

/// A gRPC-Web call of a method such as `LadderService/ListLadders`, in binary.
pub(crate) fn call(method: &str, message: &impl Message) -> Request<Vec<u8>> {
    of_kind(method, "application/grpc-web+proto", framed(&message.encode_to_vec()))
}

/// A gRPC-Web call as text.
pub(crate) fn call_in_text(method: &str, message: &impl Message) -> Request<Vec<u8>> {
    let body = BASE64_STANDARD.encode(framed(&message.encode_to_vec())).into_bytes();
    of_kind(method, "application/grpc-web-text", body)
}

/// A call of a method with a body of some kind; the answer is wanted in the same kind.
pub(crate) fn of_kind(method: &str, kind: &str, body: Vec<u8>) -> Request<Vec<u8>> {
    Request::post(format!("http://localhost/nextrung.v1.{method}"))
        .header("content-type", kind)
        .header("accept", kind)
        .header("x-grpc-web", "1")
        .body(body)
        .unwrap()
}

/// The request with one header more.
pub(crate) fn with(mut request: Request<Vec<u8>>, name: &'static str, value: &str) -> Request<Vec<u8>> {
    request.headers_mut().insert(name, value.parse().unwrap());
    request
}

/// The question of a browser before a script's call.
pub(crate) fn preflight(method: &str, origin: &str) -> Request<Vec<u8>> {
    Request::builder()
        .method(Method::OPTIONS)
        .uri(format!("http://localhost/nextrung.v1.{method}"))
        .header("origin", origin)
        .header("access-control-request-method", "POST")
        .header("access-control-request-headers", "authorization,content-type,x-grpc-web")
        .body(Vec::new())
        .unwrap()
}

/// The frames of a gRPC-Web body: messages, and the trailers if they have come.
pub(crate) fn frames(mut body: &[u8]) -> (Vec<Bytes>, Option<HeaderMap>) {
    let mut messages = Vec::new();
    while let Some(([flag, length @ ..], rest)) = body.split_first_chunk::<5>() {
        let (frame, rest) = rest.split_at(usize::try_from(u32::from_be_bytes(*length)).unwrap());
        body = rest;
        if *flag == 0x80 {
            assert_eq!(rest, b"", "nothing comes behind the trailers");
            return (messages, Some(trailers(frame)));
        }
        assert_eq!(*flag, 0);
        messages.push(Bytes::copy_from_slice(frame));
    }
    (messages, None)
}

fn trailers(frame: &[u8]) -> HeaderMap {
    let text = std::str::from_utf8(frame).unwrap();
    let lines: BTreeMap<&str, &str> = text.lines().map(|line| line.split_once(':').unwrap()).collect();
    let pair = |(name, value): (&str, &str)| -> (http::HeaderName, HeaderValue) {
        (name.parse().unwrap(), value.trim().parse().unwrap())
    };
    lines.into_iter().map(pair).collect()
}

impl Answer {
    /// The one message of a call that went well.
    pub(crate) fn message<M: Message + Default>(&self) -> M {
        assert_eq!(self.status, StatusCode::OK, "{self:?}");
        let (messages, trailers) = frames(&self.plain());
        assert_eq!(trailers.expect("trailers")["grpc-status"], "0");
        let [message] = messages.as_slice() else { panic!("{} messages", messages.len()) };
        M::decode(message.clone()).unwrap()
    }

    /// Why a call was refused, which stands in the headers or in the trailers.
    pub(crate) fn refusal(&self) -> Refusal {
        assert_eq!(self.status, StatusCode::OK, "{self:?}");
        let of_headers = Status::from_header_map(&self.headers);
        let status = of_headers.or_else(|| Status::from_header_map(&frames(&self.plain()).1?));
        Refusal::of(&status.expect("a status"))
    }

    /// The body, which may be text: pieces in base64, each with its own padding.
    fn plain(&self) -> Vec<u8> {
        if self.headers["content-type"] != "application/grpc-web-text+proto" {
            return self.body.to_vec();
        }
        let pieces = self.body.chunks(4).map(|piece| BASE64_STANDARD.decode(piece).unwrap());
        pieces.collect::<Vec<_>>().concat()
    }

    /// A header, if it is there.
    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        self.headers.get(name).map(|value| value.to_str().unwrap())
    }
}
