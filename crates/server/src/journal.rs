//! Journal: what the process logs, and the traces it sends. The log of sets is another thing.
//!
//! The program's own lines hold nothing of what callers send or the log keeps; those of libraries could, so only their
//! warnings and errors are taken.

use std::io;
use std::panic;
use std::time::Duration;

use opentelemetry::trace::TracerProvider;
use opentelemetry_sdk::trace::SdkTracerProvider;
use tracing::level_filters::LevelFilter;
use tracing_subscriber::filter::Targets;
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::{SubscriberInitExt, TryInitError};
use tracing_subscriber::{Layer, fmt, registry};

use crate::settings::{Log, LogFormat, LogLevel, Trace};
use crate::traces::{self, TracesError};

/// What every crate of the program begins with.
const OWN: &str = "nextrung";
/// Longest the last spans are waited for at the end.
const LAST_SPANS: Duration = Duration::from_secs(5);

/// Why there is no journal.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// Traces cannot be sent.
    #[error(transparent)]
    Traces(#[from] TracesError),
    /// The process has a journal already.
    #[error("the process has a journal already")]
    Twice(#[from] TryInitError),
}

/// The journal of this process.
pub struct Journal {
    spans: Option<SdkTracerProvider>,
}

/// Begins the journal of this process: lines go to standard error, spans to a collector if one is named. Must be called
/// within a tokio runtime, once.
pub fn begin(log: Log, trace: &Trace) -> Result<Journal, JournalError> {
    let spans = traces::provider(trace)?;
    let lines = fmt::layer().with_writer(io::stderr).with_ansi(false);
    let lines = match log.format {
        LogFormat::Text => lines.boxed(),
        LogFormat::Json => {
            lines.json().flatten_event(true).with_current_span(false).with_span_list(true).boxed()
        }
    };
    let sent = spans.as_ref().map(|spans| {
        tracing_opentelemetry::layer()
            .with_tracer(spans.tracer(OWN))
            .with_location(false)
            .with_threads(false)
            .with_filter(Targets::new().with_target(OWN, LevelFilter::DEBUG))
    });
    registry().with(lines.with_filter(wanted(log.level))).with(sent).try_init()?;
    tell_of_panics();
    Ok(Journal { spans })
}

impl Journal {
    /// Sends the spans that are still waiting, for a few seconds at most.
    pub async fn end(self) {
        let Some(spans) = self.spans else { return };
        let ended = tokio::task::spawn_blocking(move || spans.shutdown_with_timeout(LAST_SPANS)).await;
        if !matches!(ended, Ok(Ok(()))) {
            tracing::warn!("the last spans did not reach the collector");
        }
    }
}

/// The lines that are taken.
fn wanted(level: LogLevel) -> Targets {
    let own = match level {
        LogLevel::Error => LevelFilter::ERROR,
        LogLevel::Warn => LevelFilter::WARN,
        LogLevel::Info => LevelFilter::INFO,
        LogLevel::Debug => LevelFilter::DEBUG,
        LogLevel::Trace => LevelFilter::TRACE,
    };
    Targets::new().with_default(own.min(LevelFilter::WARN)).with_target(OWN, own)
}

/// A panic is told by its place alone: its message could quote what a call carries.
fn tell_of_panics() {
    panic::set_hook(Box::new(|panic| {
        let place = panic.location().map(ToString::to_string).unwrap_or_default();
        tracing::error!(place, "a thread panicked");
    }));
}
