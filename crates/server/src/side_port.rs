//! Side port: metrics and probes over plain HTTP, apart from the calls, so that a busy or draining service still answers.

use std::convert::Infallible;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use http::{HeaderValue, Method, Request, Response, StatusCode, header};
use http_body_util::Full;
use hyper::body::Bytes;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;
use tokio_util::task::AbortOnDropHandle;

use crate::meter::{MEDIA_TYPE, Meter};
use crate::readiness::Readiness;

/// Most connections at a time.
const CONNECTIONS: usize = 64;
/// Time within which a request must have come.
const HEAD: Duration = Duration::from_secs(5);
/// Longest a connection is kept.
const CONNECTION: Duration = Duration::from_secs(60);
/// Pause after a failed accept.
const PAUSE: Duration = Duration::from_millis(50);

/// What is served there.
#[derive(Clone)]
pub(crate) struct Desk {
    pub(crate) meter: Arc<Meter>,
    pub(crate) readiness: Arc<Readiness>,
}

/// A port with metrics and probes; it is closed when this is dropped.
pub(crate) struct SidePort {
    pub(crate) local_addr: SocketAddr,
    _accepting: AbortOnDropHandle<()>,
}

impl SidePort {
    /// Begins to serve. Fails when the address is not free.
    pub(crate) async fn open(listen: SocketAddr, desk: Desk) -> io::Result<Self> {
        let listener = TcpListener::bind(listen).await?;
        let local_addr = listener.local_addr()?;
        let accepting = AbortOnDropHandle::new(tokio::spawn(accept(listener, desk)));
        Ok(Self { local_addr, _accepting: accepting })
    }
}

async fn accept(listener: TcpListener, desk: Desk) {
    let places = Arc::new(Semaphore::new(CONNECTIONS));
    loop {
        let Ok(place) = places.clone().acquire_owned().await else { return };
        match listener.accept().await {
            Ok((stream, _)) => {
                let desk = desk.clone();
                tokio::spawn(async move {
                    // What goes wrong on such a connection is its peer's concern alone.
                    drop(tokio::time::timeout(CONNECTION, serve(stream, desk)).await);
                    drop(place);
                });
            }
            Err(error) => {
                tracing::warn!(%error, "a connection to the side port was not accepted");
                tokio::time::sleep(PAUSE).await;
            }
        }
    }
}

async fn serve(stream: TcpStream, desk: Desk) -> Result<(), hyper::Error> {
    let answer = service_fn(|request: Request<hyper::body::Incoming>| {
        let response = desk.answer(request.method(), request.uri().path());
        async move { Ok::<_, Infallible>(response) }
    });
    let mut http1 = http1::Builder::new();
    http1.timer(TokioTimer::new()).header_read_timeout(HEAD).max_buf_size(16 * 1024);
    http1.serve_connection(TokioIo::new(stream), answer).await
}

impl Desk {
    fn answer(&self, method: &Method, path: &str) -> Response<Full<Bytes>> {
        if !matches!(*method, Method::GET | Method::HEAD) {
            return page(StatusCode::METHOD_NOT_ALLOWED, "GET and HEAD alone\n");
        }
        match path {
            "/metrics" => {
                self.meter.is_ready(self.readiness.objection().is_none());
                let mut response = page(StatusCode::OK, self.meter.page());
                response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(MEDIA_TYPE));
                response
            }
            "/livez" if self.readiness.is_alive() => page(StatusCode::OK, "alive\n"),
            "/livez" => page(StatusCode::SERVICE_UNAVAILABLE, "the store stopped; start anew\n"),
            "/readyz" => match self.readiness.objection() {
                None => page(StatusCode::OK, "ready\n"),
                Some(why) => page(StatusCode::SERVICE_UNAVAILABLE, format!("not ready: {why}\n")),
            },
            _ => page(StatusCode::NOT_FOUND, "there are /metrics, /livez and /readyz\n"),
        }
    }
}

fn page(status: StatusCode, text: impl Into<Bytes>) -> Response<Full<Bytes>> {
    let mut response = Response::new(Full::new(text.into()));
    *response.status_mut() = status;
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("text/plain; charset=utf-8"));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}
