//! Traces: spans of calls sent to a collector over OTLP, and the ids that go with them.

use std::time::Duration;

use http::HeaderMap;
use opentelemetry::propagation::{Extractor, TextMapPropagator};
use opentelemetry::trace::{TraceContextExt, TraceId};
use opentelemetry::{Context, KeyValue};
use opentelemetry_otlp::{ExporterBuildError, SpanExporter, WithExportConfig, WithTonicConfig};
use opentelemetry_sdk::Resource;
use opentelemetry_sdk::propagation::TraceContextPropagator;
use opentelemetry_sdk::trace::{Sampler, SdkTracerProvider};
use tonic::metadata::MetadataMap;
use tracing::Span;
use tracing_opentelemetry::OpenTelemetrySpanExt;

use crate::settings::Trace;

/// The name of the service among others in a collector.
const SERVICE: &str = "nextrung";
/// Longest a batch of spans is sent.
const SENDING: Duration = Duration::from_secs(5);

/// Why traces cannot be sent.
#[derive(Debug, thiserror::Error)]
pub enum TracesError {
    /// The authorization cannot stand in a header.
    #[error("trace.authorization (not shown) cannot stand in a header: visible ASCII alone may")]
    Authorization,
    /// There is no way to the collector.
    #[error("no way to the collector")]
    Exporter(#[from] ExporterBuildError),
}

/// What sends spans to the collector of the settings; nothing when none is named. Must be called within a tokio runtime.
pub(crate) fn provider(trace: &Trace) -> Result<Option<SdkTracerProvider>, TracesError> {
    let Some(collector) = &trace.collector else { return Ok(None) };
    let mut metadata = MetadataMap::new();
    if let Some(secret) = &trace.authorization {
        let mut value: tonic::metadata::AsciiMetadataValue =
            secret.reveal().parse().map_err(|_| TracesError::Authorization)?;
        value.set_sensitive(true);
        metadata.insert("authorization", value);
    }
    let exporter = SpanExporter::builder()
        .with_tonic()
        .with_endpoint(collector.as_str())
        .with_timeout(SENDING)
        .with_metadata(metadata)
        .build()?;
    let share = Sampler::TraceIdRatioBased(f64::from(trace.percent) / 100.0);
    let about =
        [KeyValue::new("service.name", SERVICE), KeyValue::new("service.version", env!("CARGO_PKG_VERSION"))];
    let provider = SdkTracerProvider::builder()
        .with_batch_exporter(exporter)
        .with_sampler(Sampler::ParentBased(Box::new(share)))
        .with_resource(Resource::builder_empty().with_attributes(about).build())
        .build();
    Ok(Some(provider))
}

/// Headers to read a parent from.
struct Headers<'a>(&'a HeaderMap);

impl Extractor for Headers<'_> {
    fn get(&self, key: &str) -> Option<&str> {
        self.0.get(key)?.to_str().ok()
    }

    fn keys(&self) -> Vec<&str> {
        self.0.keys().map(http::HeaderName::as_str).collect()
    }
}

/// Makes a span the child of the caller's (W3C traceparent), if there is one, and gives the id of its trace: that which is sent
/// to the collector; where none is sent, the caller's; else one made up, so that the lines of a call always have one.
pub(crate) fn follow(span: &Span, headers: &HeaderMap) -> String {
    let parent = TraceContextPropagator::new().extract_with_context(&Context::new(), &Headers(headers));
    let of_caller = parent.span().span_context().trace_id();
    // It fails where nothing is sent.
    drop(span.set_parent(parent));
    let own = span.context().span().span_context().trace_id();
    let known = [own, of_caller].into_iter().find(|id| *id != TraceId::INVALID);
    known.map_or_else(|| random_hex() + &random_hex(), |id| id.to_string())
}

/// Sixteen hexadecimal digits drawn by lot.
pub(crate) fn random_hex() -> String {
    // A machine without randomness serves all the same; its calls cannot be told apart by id.
    format!("{:016x}", getrandom::u64().unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_callers_trace_is_followed_and_a_bad_one_is_not() {
        let trace = "4bf92f3577b34da6a3ce929d0e0e4736";
        let trace_of = |parent: &str| {
            let mut headers = HeaderMap::new();
            headers.insert("traceparent", parent.parse().unwrap());
            follow(&Span::none(), &headers)
        };
        assert_eq!(trace_of(&format!("00-{trace}-00f067aa0ba902b7-01")), trace);
        for bad in [
            "",
            "00",
            "00-wren-00f067aa0ba902b7-01",
            "00-00000000000000000000000000000000-00f067aa0ba902b7-01",
        ] {
            let made_up = trace_of(bad);
            assert_eq!(made_up.len(), 32, "{bad}: {made_up}");
            assert!(made_up != trace && made_up.bytes().all(|b| b.is_ascii_hexdigit()), "{made_up}");
            assert_ne!(made_up, trace_of(bad), "one for each call");
        }
    }
}
