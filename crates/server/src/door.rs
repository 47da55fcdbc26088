//! Door: every call passes here. It bounds the calls in number and time and gives the transport's own statuses the
//! contract's code and reason.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use http::{HeaderMap, HeaderValue, Request, Response};
use tokio::sync::Semaphore;
use tonic::body::Body;
use tonic::service::Routes;
use tonic::{Code, Status};
use tower::Service;
use tracing::Instrument;

use crate::access::register::About;
use crate::access::room::Taken;
use crate::access::target::{Arrival, Arrived};
use crate::access::{Access, Admitted, rules};
use crate::listen::peers::Peer;
use crate::patience::Patience;
use crate::service::WatchedLog;
use crate::settings::Limits;
use crate::status::{deadline_exceeded, of_transport, too_busy};
use crate::witness::Witness;

/// Paths of calls that are counted: those of the contract. A busy service must still say that it is healthy.
const COUNTED: &str = "/nextrung.";
/// Paths of calls for which no key is asked: they say whether the service is healthy and what its contract is.
const OPEN: [&str; 2] = ["/grpc.health.v1.Health/", "/grpc.reflection.v1.ServerReflection/"];

/// The header that says how long a caller waits.
pub(crate) const TIMEOUT: &str = "grpc-timeout";

/// The way to every service.
#[derive(Clone)]
pub(crate) struct Door {
    routes: Routes,
    access: Option<Access<WatchedLog>>,
    arrival: Arrival,
    places: Arc<Semaphore>,
    longest: Duration,
    patience: Patience,
    witness: Witness,
}

impl Door {
    /// A door before some services; without access everybody may pass.
    pub(crate) fn new(
        routes: Routes,
        access: Option<Access<WatchedLog>>,
        (limits, witness): (Limits, Witness),
    ) -> Self {
        let places = Arc::new(Semaphore::new(limits.calls));
        let (routes, patience, arrival) = (routes.prepare(), Patience::with_calls(), Arrival::of(&limits));
        Self { routes, access, arrival, places, longest: limits.call, patience, witness }
    }

    /// Answers a call of a peer.
    pub(crate) async fn answer(
        &self,
        request: Request<Body>,
        peer: &Peer,
    ) -> Result<Response<Body>, Infallible> {
        let mut seen = self.witness.begin(&request);
        let (span, is_open) = (seen.span().clone(), is_open(&request));
        let response = self.answered(request, peer, seen.about()).instrument(span).await;
        if is_open || is_in_vain(&response) {
            self.tire(peer);
        }
        Ok(seen.answered(response))
    }

    /// The answer to a request that does not come in; it is seen and counted as a call in vain is.
    pub(crate) fn turn_away(
        &self,
        request: &Request<Body>,
        peer: &Peer,
        (code, answer): (Code, Response<Body>),
    ) -> Response<Body> {
        self.tire(peer);
        self.witness.begin(request).turned_away(code, answer)
    }

    /// Notes that a peer asked in vain; when it did so too often, it is read slowly.
    fn tire(&self, peer: &Peer) {
        if !self.patience.bears(peer.address()) {
            peer.slow_down();
        }
    }

    async fn answered(&self, request: Request<Body>, peer: &Peer, about: &mut About) -> Response<Body> {
        let asked = client_deadline(request.headers());
        let limit = asked.map_or(self.longest, |asked| asked.min(self.longest));
        match tokio::time::timeout(limit, self.pass(request, peer, about)).await {
            Ok(Ok(response)) => normalised(response),
            Ok(Err(refused)) => refused.into_http(),
            Err(_) => deadline_exceeded().into_http(),
        }
    }

    async fn pass(
        &self,
        request: Request<Body>,
        peer: &Peer,
        about: &mut About,
    ) -> Result<Response<Body>, Status> {
        if is_open(&request) {
            return Ok(self.call(request).await);
        }
        // Whose key is to be looked at waits for a turn without a place, and gives the turn back when the key is known.
        let turn = match &self.access {
            Some(_) => peer.looks().acquire().await.ok(),
            None => None,
        };
        let is_counted = request.uri().path().starts_with(COUNTED);
        let _place = self.places.try_acquire_many(u32::from(is_counted)).map_err(|_| too_busy())?;
        let Some(access) = &self.access else {
            let (request, _room) = self.noted(request, about).await?;
            return Ok(self.call(request).await);
        };
        let Admitted { request, lease, room: _room } = access.admit(request, turn, about).await?;
        Ok(self.call(request).await.map(|answer| lease.of(answer)))
    }

    async fn call(&self, request: Request<Body>) -> Response<Body> {
        let Ok(response) = self.routes.clone().call(request).await;
        response
    }

    /// A call for which no key is asked, once it is known whom it is about. What its message lacks the service says.
    async fn noted(
        &self,
        request: Request<Body>,
        about: &mut About,
    ) -> Result<(Request<Body>, Option<Taken>), Status> {
        let Some(rule) = rules::of(request.uri().path()) else { return Ok((request, None)) };
        let Arrived { request, told, room } = self.arrival.read(request, rule.target).await?;
        if let Ok(told) = told {
            about.take(&told);
        }
        Ok((request, room))
    }
}

/// Whether a call is answered without a key.
fn is_open(request: &Request<Body>) -> bool {
    OPEN.iter().any(|service| request.uri().path().starts_with(service))
}

/// Whether whoever asked had no right to, or asked too much. What is merely wrong in a message is told at once.
fn is_in_vain(response: &Response<Body>) -> bool {
    let code = response.headers().get("grpc-status").map(|code| Code::from_bytes(code.as_bytes()));
    matches!(
        code,
        Some(Code::Unauthenticated | Code::PermissionDenied | Code::ResourceExhausted | Code::Unimplemented)
    )
}

/// How long the caller of a request waits: up to eight digits and a unit.
pub(crate) fn client_deadline(headers: &HeaderMap<HeaderValue>) -> Option<Duration> {
    let text = headers.get(TIMEOUT)?.to_str().ok()?;
    let (digits, unit) = text.split_at_checked(text.len().checked_sub(1)?)?;
    let is_number = (1..=8).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit());
    let value: u64 = digits.parse().ok().filter(|_| is_number)?;
    match unit {
        "H" => Some(Duration::from_secs(value.saturating_mul(3600))),
        "M" => Some(Duration::from_secs(value.saturating_mul(60))),
        "S" => Some(Duration::from_secs(value)),
        "m" => Some(Duration::from_millis(value)),
        "u" => Some(Duration::from_micros(value)),
        "n" => Some(Duration::from_nanos(value)),
        _ => None,
    }
}

/// A response whose status the transport made, with the contract's code and reason; others as they are.
fn normalised(response: Response<Body>) -> Response<Body> {
    let replaced = Status::from_header_map(response.headers())
        .filter(|s| s.code() != Code::Ok && s.details().is_empty())
        .and_then(|s| of_transport(s.code(), s.message()));
    replaced.map_or(response, |status| status.into_http())
}

#[cfg(test)]
mod tests;
