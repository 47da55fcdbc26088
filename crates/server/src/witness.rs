//! Witness: sees every call begin and end, and tells the meter, the register, the log and the traces.

use std::sync::Arc;
use std::time::{Duration, Instant};

use http::{HeaderName, HeaderValue, Request, Response};
use tonic::Code;
use tonic::body::Body;
use tracing::Span;
use tracing::field::Empty;

use self::seen_body::SeenBody;
use crate::access::register::{About, Register};
use crate::meter::Meter;
use crate::status::word;
use crate::traces;

mod method;
mod seen_body;

/// The header in which each answer carries the id of its call, as the log has it.
pub const REQUEST_ID: &str = "x-request-id";

/// Sees every call begin and end.
#[derive(Clone)]
pub(crate) struct Witness {
    meter: Arc<Meter>,
    register: Arc<Register>,
}

impl Witness {
    pub(crate) fn new(meter: Arc<Meter>, register: Arc<Register>) -> Self {
        Self { meter, register }
    }

    /// A call begins.
    pub(crate) fn begin<B>(&self, request: &Request<B>) -> Seen {
        let method = method::known(request.uri().path());
        let id = traces::random_hex();
        // At this level, because the ids must be there however little is logged.
        let span = tracing::error_span!(
            "call",
            request = %id,
            trace = Empty,
            method,
            otel.name = method,
            otel.kind = "server",
            rpc.system = "grpc",
            code = Empty,
        );
        span.record("trace", traces::follow(&span, request.headers()));
        self.meter.call_began();
        Seen {
            meter: self.meter.clone(),
            register: self.register.clone(),
            about: About::default(),
            method,
            id,
            began: Instant::now(),
            span,
            code: None,
        }
    }
}

/// A call that has begun. It ends when this is dropped: with the code it was given, or else as given up by the caller.
pub(crate) struct Seen {
    meter: Arc<Meter>,
    register: Arc<Register>,
    about: About,
    method: &'static str,
    id: String,
    began: Instant,
    span: Span,
    code: Option<Code>,
}

impl Seen {
    /// The span of the call; what is logged within it has the ids of the call.
    pub(crate) fn span(&self) -> &Span {
        &self.span
    }

    /// Whom the call is about, to be filled in.
    pub(crate) fn about(&mut self) -> &mut About {
        &mut self.about
    }

    /// The answer, which has no status of a call, to a request that came to none.
    pub(crate) fn turned_away(mut self, code: Code, answer: Response<Body>) -> Response<Body> {
        self.code = Some(code);
        self.answered(answer)
    }

    /// The answer with the id of the call. The call ends with its last piece.
    pub(crate) fn answered(mut self, mut response: Response<Body>) -> Response<Body> {
        if let Ok(id) = HeaderValue::from_str(&self.id) {
            response.headers_mut().insert(HeaderName::from_static(REQUEST_ID), id);
        }
        // An answer without a body has its status among the headers.
        if let Some(status) = response.headers().get("grpc-status") {
            self.code = Some(Code::from_bytes(status.as_bytes()));
        }
        response.map(|body| Body::new(SeenBody::new(body, self)))
    }
}

impl Drop for Seen {
    fn drop(&mut self) {
        let (code, took) = (self.code.unwrap_or(Code::Cancelled), self.began.elapsed());
        self.meter.call_ended(self.method, code, took);
        let _in = self.span.enter();
        self.register.tell(&self.about, (self.method, code));
        self.span.record("code", word(code));
        tell(code, took);
    }
}

/// Says that a call has ended. What a caller did wrong is not the operator's concern.
fn tell(code: Code, took: Duration) {
    let (code_word, seconds) = (word(code), took.as_secs_f64());
    let is_service = matches!(
        code,
        Code::Internal | Code::Unknown | Code::DataLoss | Code::Unavailable | Code::DeadlineExceeded
    );
    if is_service {
        tracing::warn!(code = code_word, seconds, "call ended");
    } else {
        tracing::debug!(code = code_word, seconds, "call ended");
    }
}
