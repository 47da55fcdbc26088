//! Connection: serves one stream until it ends, is asked to end, or is cut off.

use std::convert::Infallible;
use std::io;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;

use http::Request;
use hyper::body::Incoming;
use hyper::rt::Executor;
use hyper::service::service_fn;
use hyper_util::rt::TokioIo;
use hyper_util::server::conn::auto::Builder;
use socket2::{SockRef, TcpKeepalive};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite};
use tokio::net::TcpStream;
use tokio::sync::watch;
use tokio_util::either::Either;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;
use tonic::body::Body;

use super::PING;
use super::flow::Protocol;
use super::peers::Peer;
use super::throttle::Throttled;
use super::tls::Tls;
use crate::front::Front;
use crate::held_body::HeldBody;
use crate::meter::{InVain, Meter};
use crate::patience::Patience;

/// What every HTTP/2 connection begins with (RFC 9113, 3.4).
const PREFACE: [u8; 24] = *b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n";

/// Runs the calls of a connection where they can be waited for.
#[derive(Clone)]
pub(super) struct Tracked(pub(super) TaskTracker);

impl<F> Executor<F> for Tracked
where
    F: Future<Output = ()> + Send + 'static,
{
    fn execute(&self, call: F) {
        self.0.spawn(call);
    }
}

/// How each connection is served.
#[derive(Clone)]
pub(super) struct Each {
    pub(super) http: Builder<Tracked>,
    /// How to greet before; plain without.
    pub(super) tls: Option<Tls>,
    pub(super) front: Front,
    /// Asks to end.
    pub(super) stop: CancellationToken,
    /// Ends at once.
    pub(super) cut: CancellationToken,
    pub(super) meter: Arc<Meter>,
    /// How often an address may connect.
    pub(super) patience: Patience,
    pub(super) preface: Duration,
    pub(super) idle: Duration,
}

impl Each {
    /// Serves a stream of a peer to its end.
    pub(super) async fn serve(self, stream: TcpStream, peer: Arc<Peer>) {
        let _open = self.meter.connection_began();
        let greeted = tokio::select! {
            () = self.stop.cancelled() => return,
            greeted = tokio::time::timeout(self.preface, self.greeted(stream, &peer)) => greeted,
        };
        let (stream, protocol) = match greeted {
            Ok(Ok(greeted)) => greeted,
            Ok(Err(error)) => {
                tracing::debug!(%error, "a connection ended before its first call");
                return self.meter.connection_in_vain(why(&error));
            }
            Err(_) => return self.meter.connection_in_vain(InVain::Silent),
        };
        let stream = Throttled::new(stream, Arc::clone(&peer), protocol);
        let calls = OpenCalls::default();
        let answer = service_fn(|request: Request<Incoming>| {
            let (front, peer, open) = (self.front.clone(), Arc::clone(&peer), calls.begin());
            async move {
                let response = front.answer(request.map(Body::new), peer).await?;
                Ok::<_, Infallible>(response.map(|body| HeldBody::keeping(body, open)))
            }
        });
        let mut connection = pin!(self.http.serve_connection(TokioIo::new(stream), answer));
        let ended = tokio::select! {
            ended = connection.as_mut() => ended,
            () = until_unwanted(&self.stop, calls.idle(self.idle)) => {
                connection.as_mut().graceful_shutdown();
                tokio::select! {
                    ended = connection => ended,
                    // Whoever does not hear that it is to end has gone.
                    () = calls.idle(self.preface) => return,
                    () = self.cut.cancelled() => return,
                }
            }
        };
        if let Err(error) = ended {
            tracing::debug!(%error, "a connection ended with an error");
        }
    }
}

impl Each {
    /// A stream whose peer has sent all that comes before the first call, once it is the turn of its address.
    async fn greeted(
        &self,
        stream: TcpStream,
        peer: &Peer,
    ) -> io::Result<(impl AsyncRead + AsyncWrite + Unpin + use<>, Protocol)> {
        self.patience.until_borne(peer.address()).await;
        stream.set_nodelay(true)?;
        // Tells of a peer that has vanished; HTTP/1.1 has no pings.
        let asked = TcpKeepalive::new().with_time(PING.0).with_interval(PING.1 / 4);
        SockRef::from(&stream).set_tcp_keepalive(&asked)?;
        match &self.tls {
            None => {
                let (stream, protocol) = prefaced(stream.into_split()).await?;
                Ok((Either::Left(stream), protocol))
            }
            Some(tls) => {
                let (stream, protocol) = prefaced(tokio::io::split(tls.accept(stream).await?)).await?;
                Ok((Either::Right(stream), protocol))
            }
        }
    }
}

/// Why a peer was not greeted.
fn why(error: &io::Error) -> InVain {
    // What TLS finds wrong it gives by this kind, an alert of the peer among it.
    if error.kind() == io::ErrorKind::InvalidData { InVain::Handshake } else { InVain::Gone }
}

/// Waits until a connection is to end.
async fn until_unwanted(stop: &CancellationToken, idle: impl Future<Output = ()>) {
    tokio::select! {
        () = stop.cancelled() => (),
        () = idle => (),
    }
}

/// How many calls of a connection are open.
#[derive(Default)]
struct OpenCalls(watch::Sender<usize>);

/// A call that is open until this is dropped.
struct OpenCall(watch::Sender<usize>);

impl OpenCalls {
    fn begin(&self) -> OpenCall {
        self.0.send_modify(|open| *open += 1);
        OpenCall(self.0.clone())
    }

    /// Waits until no call was open for the whole of a time.
    async fn idle(&self, time: Duration) {
        let mut open = self.0.subscribe();
        // The sender is held here, so that waiting cannot fail.
        while open.wait_for(|open| *open == 0).await.is_ok() {
            if tokio::time::timeout(time, open.changed()).await.is_err() {
                return;
            }
        }
    }
}

impl Drop for OpenCall {
    fn drop(&mut self) {
        self.0.send_modify(|open| *open -= 1);
    }
}

/// A stream of which is known what its peer speaks; what was read for that is read again by whoever reads next.
async fn prefaced<R, W>(
    (mut reader, writer): (R, W),
) -> io::Result<(impl AsyncRead + AsyncWrite + Unpin, Protocol)>
where
    R: AsyncRead + Unpin,
    W: AsyncWrite + Unpin,
{
    let mut begun = Vec::with_capacity(PREFACE.len());
    while begun.len() < PREFACE.len() && PREFACE.starts_with(&begun) {
        let mut some = (&mut reader).take(u64::try_from(PREFACE.len() - begun.len()).unwrap_or_default());
        if some.read_buf(&mut begun).await? == 0 {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
    }
    let protocol = if begun == PREFACE { Protocol::Http2 } else { Protocol::Http1 };
    Ok((tokio::io::join(io::Cursor::new(begun).chain(reader), writer), protocol))
}
