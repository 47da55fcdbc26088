//! Front: requests come in by several protocols and go on as plain gRPC, so that all of them pass the door and nothing beside
//! it. Browsers speak gRPC-Web (translated by tonic-web), over HTTP/1.1 or HTTP/2.

use std::convert::Infallible;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use http::header::{CONTENT_TYPE, HOST, ORIGIN};
use http::{HeaderValue, Method, Request, Response, StatusCode, Version};
use tonic::body::Body;
use tonic_web::GrpcWebLayer;
use tower::{Layer, Service};

use crate::door::Door;
use crate::listen::peers::Peer;

pub(crate) mod origin;

use origin::Origins;

/// How the content type of every gRPC-Web call begins.
const WEB: &[u8] = b"application/grpc-web";
/// What is told to whoever speaks none of the protocols.
const SPOKEN: &str = "This port speaks gRPC (HTTP/2) and gRPC-Web.\n";

/// The way to the door for every protocol.
#[derive(Clone)]
pub(crate) struct Front {
    door: Door,
    origins: Arc<Origins>,
    /// Whether only names are taken that nobody else can make point here: without keys a page in a browser on this machine,
    /// reached under a name of its maker's, could read and write everything.
    wants_own_name: bool,
}

/// What a request is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Grpc,
    Web,
    /// A browser asks whether a page may call.
    Preflight,
    Unknown,
}

impl Front {
    /// A front before a door, for pages of some origins. A service that asks for no keys wants to be called by its own name.
    pub(crate) fn new(door: Door, origins: Origins, keys: bool) -> Self {
        Self { door, origins: Arc::new(origins), wants_own_name: !keys }
    }

    /// Answers a request of a peer.
    pub(crate) async fn answer(
        &self,
        request: Request<Body>,
        peer: Arc<Peer>,
    ) -> Result<Response<Body>, Infallible> {
        let kind = kind(&request);
        if kind == Kind::Grpc {
            return self.door.answer(request, &peer).await;
        }
        let origin = request.headers().get(ORIGIN).cloned();
        let refused = self.refuses(&request, origin.as_ref());
        let is_in_vain = refused.is_some() || kind != Kind::Web;
        if is_in_vain {
            self.door.tire(&peer);
        }
        let mut answer = match (refused, kind) {
            (Some(refused), _) => return Ok(refused),
            (None, Kind::Web) => {
                let Ok(answer) =
                    GrpcWebLayer::new().layer(AtDoor { door: self.door.clone(), peer }).call(request).await;
                answer
            }
            (None, Kind::Preflight) => origin::preflight(),
            (None, Kind::Grpc | Kind::Unknown) => plain(StatusCode::NOT_FOUND, SPOKEN),
        };
        if let Some(origin) = origin {
            origin::let_read(&mut answer, origin);
        }
        Ok(answer)
    }

    /// Why a request that may come from a browser is not taken.
    fn refuses(&self, request: &Request<Body>, origin: Option<&HeaderValue>) -> Option<Response<Body>> {
        if let Some(origin) = origin
            && !self.origins.have(origin)
        {
            let told = "Pages of this origin may not call this service; its operator lists those that may (web.origins).\n";
            return Some(plain(StatusCode::FORBIDDEN, told));
        }
        if self.wants_own_name && !self.origins.are_safe_at(host(request)) {
            let told = "This service asks for no keys and is to be called by its IP address, as localhost, or by the host of an \
                        origin that its operator lists (web.origins).\n";
            return Some(plain(StatusCode::MISDIRECTED_REQUEST, told));
        }
        None
    }
}

fn kind(request: &Request<Body>) -> Kind {
    let headers = request.headers();
    let is_web = headers.get(CONTENT_TYPE).is_some_and(|kind| kind.as_bytes().starts_with(WEB));
    if request.method() == Method::OPTIONS && headers.contains_key(origin::ASKED_METHOD) {
        Kind::Preflight
    } else if is_web {
        Kind::Web
    } else if request.version() == Version::HTTP_2 {
        Kind::Grpc
    } else {
        Kind::Unknown
    }
}

/// Under which name the service was called.
fn host(request: &Request<Body>) -> Option<&str> {
    let told = || request.headers().get(HOST).and_then(|host| host.to_str().ok());
    request.uri().authority().map(http::uri::Authority::as_str).or_else(told)
}

/// An answer in words.
fn plain(status: StatusCode, text: &'static str) -> Response<Body> {
    let mut answer = Response::new(Body::new(http_body_util::Full::from(text)));
    *answer.status_mut() = status;
    answer.headers_mut().insert(CONTENT_TYPE, HeaderValue::from_static("text/plain; charset=utf-8"));
    answer
}

/// The door as a peer finds it.
#[derive(Clone)]
struct AtDoor {
    door: Door,
    peer: Arc<Peer>,
}

impl Service<Request<Body>> for AtDoor {
    type Response = Response<Body>;
    type Error = Infallible;
    type Future = Pin<Box<dyn Future<Output = Result<Response<Body>, Infallible>> + Send>>;

    fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, request: Request<Body>) -> Self::Future {
        let at = self.clone();
        Box::pin(async move { at.door.answer(request, &at.peer).await })
    }
}
