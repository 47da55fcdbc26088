//! Front: requests come in by several protocols and go on as plain gRPC, so that all of them pass the door and nothing beside
//! it. Browsers speak gRPC-Web (translated by tonic-web), over HTTP/1.1 or HTTP/2; everybody else may speak
//! JSON.

use std::convert::Infallible;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use http::header::{CONTENT_TYPE, HOST, ORIGIN};
use http::{HeaderValue, Method, Request, Response, StatusCode, Version};
use tonic::Code;
use tonic::body::Body;
use tonic_web::GrpcWebLayer;
use tower::{Layer, Service};

use crate::door::Door;
use crate::json::Json;
use crate::listen::peers::Peer;
use crate::patience::Patience;

pub(crate) mod origin;
mod rest;

use origin::Origins;
use rest::Rest;

/// The content of gRPC-Web calls, named as tonic-web knows it.
const WEB: [&str; 4] = [
    "application/grpc-web",
    "application/grpc-web+proto",
    "application/grpc-web-text",
    "application/grpc-web-text+proto",
];
/// How the content of every call of gRPC is named. Scripts cannot send it without asking first.
const GRPC: &str = "application/grpc";
/// What is told to whoever speaks none of the protocols.
const SPOKEN: &str =
    "This port speaks gRPC (HTTP/2), gRPC-Web and JSON, which GET /openapi.json describes.\n";

/// The way to the door for every protocol.
#[derive(Clone)]
pub(crate) struct Front {
    door: Door,
    json: Json,
    origins: Arc<Origins>,
    preflights: Patience,
    /// Whether only names are taken that nobody else can make point here: without keys a page in a browser on this machine,
    /// reached under a name of its maker's, could read and write everything.
    wants_own_name: bool,
}

/// What a request is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Grpc,
    /// Its content named plainly.
    Web(&'static str),
    /// A call over plain HTTP.
    Json,
    /// A browser asks whether a page may call.
    Preflight,
    Unknown,
}

impl Front {
    /// A front before a door, for pages of some origins. A service that asks for no keys wants to be called by its own name.
    pub(crate) fn new(door: Door, origins: Origins, keys: bool) -> Self {
        let json = Json::new(door.clone());
        let (origins, preflights) = (Arc::new(origins), Patience::with_preflights());
        Self { door, json, origins, preflights, wants_own_name: !keys }
    }

    /// Answers a request of a peer; over HTTP/1.1 when no more of it comes.
    pub(crate) async fn answer(
        &self,
        request: Request<Body>,
        peer: Arc<Peer>,
    ) -> Result<Response<Body>, Infallible> {
        if request.version() == Version::HTTP_2 {
            return self.answer_to(request, peer).await;
        }
        let (request, rest) = Rest::of(request);
        let answer = self.answer_to(request, peer).await;
        rest.take().await;
        answer
    }

    async fn answer_to(&self, request: Request<Body>, peer: Arc<Peer>) -> Result<Response<Body>, Infallible> {
        let kind = kind(&request);
        if kind == Kind::Grpc {
            return self.door.answer(request, &peer).await;
        }
        let origin = request.headers().get(ORIGIN).cloned();
        if let Some(refused) = self.refuses(&request, origin.as_ref()) {
            return Ok(self.door.turn_away(&request, &peer, (Code::PermissionDenied, refused)));
        }
        let mut answer = match kind {
            Kind::Web(kind) => self.translated(request, kind, peer).await,
            Kind::Json => self.json.answer(request, &peer).await,
            Kind::Preflight => self.preflight(&peer),
            Kind::Grpc | Kind::Unknown => {
                let told = (Code::Unimplemented, plain(StatusCode::NOT_FOUND, SPOKEN));
                self.door.turn_away(&request, &peer, told)
            }
        };
        if let Some(origin) = origin {
            origin::let_read(&mut answer, origin);
        }
        Ok(answer)
    }

    /// Tells a browser that a page may call. Behind a proxy one address asks for all browsers, and the answer costs next to
    /// nothing: more of this is borne than of calls in vain.
    fn preflight(&self, peer: &Peer) -> Response<Body> {
        if !self.preflights.bears(peer.address()) {
            peer.slow_down();
        }
        origin::preflight()
    }

    /// Answers a call of gRPC-Web.
    async fn translated(
        &self,
        mut request: Request<Body>,
        kind: &'static str,
        peer: Arc<Peer>,
    ) -> Response<Body> {
        request.headers_mut().insert(CONTENT_TYPE, HeaderValue::from_static(kind));
        let door = AtDoor { door: self.door.clone(), peer };
        let Ok(answer) = GrpcWebLayer::new().layer(door).call(request).await;
        answer
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
    let told = headers.get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    let media = told.split(';').next().unwrap_or_default().trim();
    let web = WEB.into_iter().find(|web| media.eq_ignore_ascii_case(web));
    let is_grpc = media.get(..GRPC.len()).is_some_and(|start| start.eq_ignore_ascii_case(GRPC));
    match web {
        _ if request.method() == Method::OPTIONS && headers.contains_key(origin::ASKED_METHOD) => {
            Kind::Preflight
        }
        // Whatever else tonic-web answers by itself, unseen by the door.
        Some(web) if request.method() == Method::POST => Kind::Web(web),
        None if request.version() == Version::HTTP_2 && is_grpc => Kind::Grpc,
        None if Json::takes(request) => Kind::Json,
        Some(_) | None => Kind::Unknown,
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
