//! JSON: the contract over plain HTTP, by the paths that stand beside each method as `google.api.http`.
//!
//! A call becomes one of gRPC within this process and goes through the door like any other, so that keys, limits, the
//! record of accesses, metrics and traces hold. Its message is read and made only when the door asks for it: whoever has no
//! key has nothing read. Nothing here knows a method; all is told by the descriptors.

use http::header::{ALLOW, CACHE_CONTROL, CONTENT_TYPE, X_CONTENT_TYPE_OPTIONS};
use http::request::Parts;
use http::{HeaderMap, HeaderName, HeaderValue, Method, Request, Response, StatusCode, Version};
use http_body_util::Full;
use nextrung_domain::problem::Problem;
use tokio::time::Instant;
use tonic::body::Body;
use tonic::{Code, Status};

use self::asked::Asked;
use self::frames::Frames;
use self::lines::Lines;
use self::route::{Call, Found, ROUTES, Route};
use crate::access::translation::Translation;
use crate::door::{Door, TIMEOUT, client_deadline};
use crate::held_body::HeldBody;
use crate::listen::peers::Peer;
use crate::status::plain_http::{content_type_unknown, path_unknown, verb_unknown};
use crate::status::{bad_fields, internal};
use crate::witness::REQUEST_ID;

mod asked;
mod document;
mod frames;
mod lines;
pub mod message;
mod place;
pub(crate) mod pool;
mod query;
mod reading;
pub mod route;
mod scalar;
pub mod template;
#[cfg(test)]
mod tests;
pub mod told;

/// Where the description of what is here is served.
const DESCRIPTION_PATH: &str = "/openapi.json";
/// What all other paths begin with.
const PATHS: &str = "/v1/";
/// What one message is.
const JSON: HeaderValue = HeaderValue::from_static("application/json");
/// What a stream of messages is: one a line.
const JSON_LINES: HeaderValue = HeaderValue::from_static("application/x-ndjson");
/// Headers that mean the same in both.
pub(crate) const PASSED_ON: [HeaderName; 4] = [
    http::header::AUTHORIZATION,
    HeaderName::from_static(TIMEOUT),
    HeaderName::from_static("traceparent"),
    HeaderName::from_static("tracestate"),
];

/// The contract over plain HTTP.
#[derive(Clone)]
pub(crate) struct Json {
    door: Door,
}

/// What comes of a request.
enum Asking {
    /// A call of the contract.
    Call(Call),
    /// No call: an answer that is known before, with its code.
    Known(Code, Response<Body>),
}

impl Json {
    /// Calls through a door.
    pub(crate) fn new(door: Door) -> Self {
        Self { door }
    }

    /// Whether a request is for this, by its path.
    pub(crate) fn takes<B>(request: &Request<B>) -> bool {
        let path = request.uri().path();
        path == DESCRIPTION_PATH || path.starts_with(PATHS)
    }

    /// Answers a request of a peer.
    pub(crate) async fn answer(&self, request: Request<Body>, peer: &Peer) -> Response<Body> {
        match asking(&request) {
            Asking::Call(call) => self.call(request.into_parts(), call, peer).await,
            // The door sees it all the same, and slows down whoever asks for much of it.
            Asking::Known(code, known) => self.door.turn_away(&request, peer, (code, known)),
        }
    }

    async fn call(&self, (head, body): (Parts, Body), call: Call, peer: &Peer) -> Response<Body> {
        let route = call.route;
        let query = head.uri.query().unwrap_or_default().to_owned();
        // Of a stream the door sees the beginning alone.
        let end = client_deadline(&head.headers).and_then(|wait| Instant::now().checked_add(wait));
        let translation = Translation::by(Asked { call, query });
        let answer = self.through_door(&head.headers, (&route.path, translation, body), peer).await;
        let (parts, body) = answer.into_parts();
        let mut answer = match Status::from_header_map(&parts.headers).filter(told::is_error) {
            Some(status) => told::response(&status, &route.method.input()),
            None if route.method.is_server_streaming() => streamed(route, Frames::of(body).until(end)).await,
            None => single(route, Frames::of(body)).await,
        };
        signed(&mut answer, &parts.headers);
        answer
    }

    async fn through_door(
        &self,
        headers: &HeaderMap,
        (path, translation, body): (&str, Translation, Body),
        peer: &Peer,
    ) -> Response<Body> {
        let mut request = Request::new(body);
        request.extensions_mut().insert(translation);
        *request.method_mut() = Method::POST;
        *request.version_mut() = Version::HTTP_2;
        // The names of the contract are those of a URI.
        *request.uri_mut() = path.parse().unwrap_or_default();
        let passed = request.headers_mut();
        passed.insert(CONTENT_TYPE, HeaderValue::from_static("application/grpc"));
        passed.insert(http::header::TE, HeaderValue::from_static("trailers"));
        for name in PASSED_ON {
            if let Some(value) = headers.get(&name) {
                passed.insert(name, value.clone());
            }
        }
        let Ok(answer) = self.door.answer(request, peer).await;
        answer
    }
}

/// What a request asks for.
fn asking(request: &Request<Body>) -> Asking {
    let (verb, path) = (request.method(), request.uri().path());
    if path == DESCRIPTION_PATH {
        let description = || document(JSON, Body::new(Full::from(crate::openapi::TEXT)));
        let is_read = verb == Method::GET;
        return if is_read { Asking::Known(Code::Ok, description()) } else { other_verbs(&[Method::GET]) };
    }
    match route::found(&ROUTES, (verb, path)) {
        Found::Call(call) if call.route.takes_body() && !is_json(request.headers()) => {
            refused(&content_type_unknown(), StatusCode::UNSUPPORTED_MEDIA_TYPE)
        }
        Found::Call(call) => match unread_deadline(request.headers()) {
            Some(status) => refused(&status, StatusCode::BAD_REQUEST),
            None => Asking::Call(call),
        },
        Found::OtherVerbs(verbs) => other_verbs(&verbs),
        Found::Nothing => refused(&path_unknown(), StatusCode::NOT_FOUND),
    }
}

fn refused(status: &Status, http: StatusCode) -> Asking {
    Asking::Known(status.code(), told::response_with(status, http))
}

fn other_verbs(taken: &[Method]) -> Asking {
    let verbs = taken.iter().map(Method::as_str).collect::<Vec<_>>().join(", ");
    let status = verb_unknown(&verbs);
    let mut answer = told::response_with(&status, StatusCode::METHOD_NOT_ALLOWED);
    if let Ok(verbs) = HeaderValue::from_str(&verbs) {
        answer.headers_mut().insert(ALLOW, verbs);
    }
    Asking::Known(status.code(), answer)
}

/// What is wrong with a deadline. Over gRPC it is written by libraries, here by people.
fn unread_deadline(headers: &HeaderMap) -> Option<Status> {
    let told = headers.get(TIMEOUT).filter(|_| client_deadline(headers).is_none())?;
    let found = told.to_str().map_or_else(|_| "what is no text".to_owned(), scalar::shown_text);
    let expected = "up to eight digits and a unit, one of H, M, S, m, u and n: hours, minutes, seconds, milliseconds, \
                    microseconds, nanoseconds, such as `500m` for half a second";
    Some(bad_fields([Problem::new(TIMEOUT, found, expected)]))
}

/// Whether a body is said to be JSON as it is. Asking for the word keeps forms of other sites' pages out, too.
fn is_json(headers: &HeaderMap) -> bool {
    let kind = headers.get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    let (kind, parameters) = kind.split_once(';').unwrap_or((kind, ""));
    let parameters = parameters.trim();
    kind.trim().eq_ignore_ascii_case("application/json")
        && (parameters.is_empty() || parameters.eq_ignore_ascii_case("charset=utf-8"))
        && !headers.contains_key(http::header::CONTENT_ENCODING)
}

/// The one message of an answer. What the answer holds, such as a place, is held until the JSON was taken.
async fn single(route: &'static Route, mut frames: Frames) -> Response<Body> {
    let refused = |status: &Status| told::response(status, &route.method.input());
    let message = match frames.next().await {
        Some(Ok(message)) => message,
        Some(Err(status)) => return refused(&status),
        None => return refused(&internal("an answer without a message")),
    };
    // The status comes behind the message.
    if let Some(Err(status)) = frames.next().await {
        return refused(&status);
    }
    match told::text(&route.method.output(), &message) {
        Ok(text) => {
            let body = Body::new(Full::from(text));
            document(JSON, HeldBody::keeping(body, frames.into_body()))
        }
        Err(status) => refused(&status),
    }
}

/// The messages of an answer, one a line. An error before the first has a status of its own, a later one is the last line.
async fn streamed(route: &'static Route, mut frames: Frames) -> Response<Body> {
    match frames.next().await {
        Some(Err(status)) => told::response(&status, &route.method.input()),
        first => {
            let first = first.and_then(Result::ok);
            document(JSON_LINES, Body::new(Lines::new(route.method.clone(), first, frames)))
        }
    }
}

fn document(kind: HeaderValue, body: Body) -> Response<Body> {
    let mut answer = Response::new(body);
    answer.headers_mut().insert(CONTENT_TYPE, kind);
    // It is about people, and no copy of it is to stay behind.
    answer.headers_mut().insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    answer.headers_mut().insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    answer
}

/// Puts the id of the call on an answer.
fn signed(answer: &mut Response<Body>, seen: &HeaderMap) {
    if let Some(id) = seen.get(REQUEST_ID) {
        answer.headers_mut().insert(HeaderName::from_static(REQUEST_ID), id.clone());
    }
}
