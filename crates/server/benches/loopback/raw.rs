//! Raw: messages as bytes that nobody reads, for clients that only count and for an empty call.

use std::convert::Infallible;
use std::net::SocketAddr;
use std::task::{Context, Poll};

use http::{Request, Response};
use prost::bytes::{Buf, BufMut, Bytes};
use tokio::net::TcpListener;
use tokio::task::JoinHandle;
use tonic::Status;
use tonic::body::Body;
use tonic::codec::{Codec, DecodeBuf, Decoder, EncodeBuf, Encoder};
use tonic::server::{Grpc, NamedService, UnaryService};
use tonic::transport::Server;
use tonic::transport::server::TcpIncoming;
use tower::Service;

use crate::Outcome;

/// Bytes in, bytes out.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct RawCodec;

impl Codec for RawCodec {
    type Encode = Bytes;
    type Decode = Bytes;
    type Encoder = Self;
    type Decoder = Self;

    fn encoder(&mut self) -> Self {
        Self
    }

    fn decoder(&mut self) -> Self {
        Self
    }
}

impl Encoder for RawCodec {
    type Item = Bytes;
    type Error = Status;

    fn encode(&mut self, item: Bytes, to: &mut EncodeBuf<'_>) -> Result<(), Status> {
        to.put(item);
        Ok(())
    }
}

impl Decoder for RawCodec {
    type Item = Bytes;
    type Error = Status;

    fn decode(&mut self, from: &mut DecodeBuf<'_>) -> Result<Option<Bytes>, Status> {
        Ok(Some(from.copy_to_bytes(from.remaining())))
    }
}

/// Path of the empty call.
pub(crate) const EMPTY: &str = "/bench.Empty/Call";

/// A service whose one call always has the same answer.
#[derive(Clone)]
struct Empty(Bytes);

impl NamedService for Empty {
    const NAME: &'static str = "bench.Empty";
}

impl UnaryService<Bytes> for Empty {
    type Response = Bytes;
    type Future = std::future::Ready<Result<tonic::Response<Bytes>, Status>>;

    fn call(&mut self, _request: tonic::Request<Bytes>) -> Self::Future {
        std::future::ready(Ok(tonic::Response::new(self.0.clone())))
    }
}

impl Service<Request<Body>> for Empty {
    type Response = Response<Body>;
    type Error = Infallible;
    type Future = std::pin::Pin<Box<dyn Future<Output = Result<Response<Body>, Infallible>> + Send>>;

    fn poll_ready(&mut self, _cx: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, request: Request<Body>) -> Self::Future {
        let service = self.clone();
        Box::pin(async move { Ok(Grpc::new(RawCodec).unary(service, request).await) })
    }
}

/// Serves the empty call with the transport's own server, until the handle is aborted.
pub(crate) async fn serve_empty(answer: Bytes) -> Outcome<(SocketAddr, JoinHandle<()>)> {
    let listener = TcpListener::bind("127.0.0.1:0").await?;
    let address = listener.local_addr()?;
    let incoming = TcpIncoming::from(listener).with_nodelay(Some(true));
    let serving = Server::builder().add_service(Empty(answer)).serve_with_incoming(incoming);
    let handle = tokio::spawn(async move { drop(serving.await) });
    Ok((address, handle))
}
