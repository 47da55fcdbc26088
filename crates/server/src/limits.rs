//! Limits: one layer that ends calls in time and gives the transport's own statuses the contract's code and reason.

use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use http::{HeaderMap, HeaderValue, Request, Response};
use tonic::body::Body;
use tonic::{Code, Status};
use tower::{Layer, Service};

use crate::status::{deadline_exceeded, of_transport};

/// The layer.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LimitLayer {
    /// Longest call.
    pub(crate) call: Duration,
}

impl<S> Layer<S> for LimitLayer {
    type Service = Limited<S>;

    fn layer(&self, inner: S) -> Limited<S> {
        Limited { inner, call: self.call }
    }
}

/// A service under the limits.
#[derive(Debug, Clone)]
pub(crate) struct Limited<S> {
    inner: S,
    call: Duration,
}

type Boxed<T, E> = Pin<Box<dyn Future<Output = Result<T, E>> + Send>>;

impl<S> Service<Request<Body>> for Limited<S>
where
    S: Service<Request<Body>, Response = Response<Body>> + Clone + Send + 'static,
    S::Future: Send,
{
    type Response = Response<Body>;
    type Error = S::Error;
    type Future = Boxed<Response<Body>, S::Error>;

    fn poll_ready(&mut self, cx: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.inner.poll_ready(cx)
    }

    fn call(&mut self, request: Request<Body>) -> Self::Future {
        let asked = client_deadline(request.headers());
        let limit = asked.map_or(self.call, |asked| asked.min(self.call));
        let answer = self.inner.call(request);
        Box::pin(async move {
            match tokio::time::timeout(limit, answer).await {
                Ok(Ok(response)) => Ok(normalised(response)),
                Ok(Err(error)) => Err(error),
                Err(_) => Ok(deadline_exceeded().into_http()),
            }
        })
    }
}

/// The `grpc-timeout` of a request: up to eight digits and a unit.
fn client_deadline(headers: &HeaderMap<HeaderValue>) -> Option<Duration> {
    let text = headers.get("grpc-timeout")?.to_str().ok()?;
    let (digits, unit) = text.split_at_checked(text.len().checked_sub(1)?)?;
    let value: u64 = digits.parse().ok().filter(|_| digits.len() <= 8)?;
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
mod tests {
    use super::*;

    #[test]
    fn deadlines_are_read_in_every_unit() {
        let read = |text: &str| {
            let mut headers = HeaderMap::new();
            headers.insert("grpc-timeout", HeaderValue::from_str(text).unwrap());
            client_deadline(&headers)
        };
        assert_eq!(read("250m"), Some(Duration::from_millis(250)));
        assert_eq!(read("2S"), Some(Duration::from_secs(2)));
        assert_eq!(read("1H"), Some(Duration::from_secs(3600)));
        for bad in ["", "S", "5", "123456789m", "-1S", "1x"] {
            assert_eq!(read(bad), None, "{bad}");
        }
    }
}
