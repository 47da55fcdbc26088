//! Meter: counts what the service does, for those who operate it. No label and no value comes from a caller: methods are
//! those of the contract, codes those of gRPC, operations and kinds the program's own words.

use std::sync::atomic::AtomicU64;
use std::time::Duration;

use nextrung_capacity::params::MODEL_VERSION;
use nextrung_engine::foretelling::Rank;
use nextrung_engine::observer::Observer;
use prometheus_client::encoding::prometheus_text;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::{Histogram, exponential_buckets, linear_buckets};
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::Registry;
use tonic::Code;

use self::drift::Drift;
use crate::status::word;

mod drift;

/// Names and values of the labels of one series.
type Labels<const N: usize> = [(&'static str, &'static str); N];
/// Histograms by label.
type Histograms<const N: usize> = Family<Labels<N>, Histogram, fn() -> Histogram>;
/// A gauge of a real number.
type Real = Gauge<f64, AtomicU64>;

/// The media type of what [`Meter::page`] gives.
pub(crate) const MEDIA_TYPE: &str = "text/plain; version=0.0.4; charset=utf-8";

/// Counts what the service does.
pub(crate) struct Meter {
    registry: Registry,
    calls: Histograms<2>,
    in_flight: Gauge,
    heads: Family<Labels<1>, Counter>,
    folds: Histogram,
    store: Histograms<1>,
    store_errors: Family<Labels<2>, Counter>,
    connections: Gauge,
    connections_in_vain: Family<Labels<1>, Counter>,
    certificate_ends: Family<Labels<1>, Gauge>,
    ready: Gauge,
    ranks: Histogram,
    drift: Drift,
    rank_mean: Real,
    rank_spread: Real,
}

/// From a quarter of a millisecond to about eight seconds, each bound double the one before.
fn seconds() -> Histogram {
    Histogram::new(exponential_buckets(0.000_25, 2.0, 16))
}

/// From one set to about a million, each bound four times the one before.
fn lengths() -> Histogram {
    Histogram::new(exponential_buckets(1.0, 4.0, 11))
}

impl Meter {
    pub(crate) fn new() -> Self {
        let mut meter = Self {
            registry: Registry::with_prefix("nextrung"),
            calls: Family::new_with_constructor(seconds as fn() -> Histogram),
            in_flight: Gauge::default(),
            heads: Family::default(),
            folds: lengths(),
            store: Family::new_with_constructor(seconds as fn() -> Histogram),
            store_errors: Family::default(),
            connections: Gauge::default(),
            connections_in_vain: Family::default(),
            certificate_ends: Family::default(),
            ready: Gauge::default(),
            ranks: Histogram::new(linear_buckets(0.1, 0.1, 9)),
            drift: Drift::default(),
            rank_mean: Real::default(),
            rank_spread: Real::default(),
        };
        meter.rank_mean.set(0.5);
        meter.rank_spread.set(1.0);
        meter.register();
        meter
    }

    fn register(&mut self) {
        let registry = &mut self.registry;
        let help = "Seconds from the start of a call to the end of its answer, by method and gRPC code";
        registry.register("call_seconds", help, self.calls.clone());
        registry.register("calls_in_flight", "Calls that have begun and not ended", self.in_flight.clone());
        let help = "States of athletes asked for, by whether they were in memory";
        registry.register("state_lookups", help, self.heads.clone());
        let help = "Sets of the log read and folded to make one state anew";
        registry.register("fold_sets", help, self.folds.clone());
        registry.register("store_seconds", "Seconds of work of the store, by operation", self.store.clone());
        let help = "Failures of the store or its disk, by operation and kind";
        registry.register("store_errors", help, self.store_errors.clone());
        registry.register("connections", "Connections that are open", self.connections.clone());
        let help = "Connections that ended before a call could be made on them, by why";
        registry.register("connections_in_vain", help, self.connections_in_vain.clone());
        let help = "When the certificates in use end, seconds since 1970-01-01 UTC, by the setting that names their file";
        registry.register("certificate_ends_seconds", help, self.certificate_ends.clone());
        registry.register("ready", "1 while the service takes calls, else 0", self.ready.clone());
        let help = "Rank of each arriving set's outcome among those foretold before it, 0 to 1; even if the model is right";
        registry.register("foretold_rank", help, self.ranks.clone());
        let help = "Mean rank of about the last 1000 sets foretold; 0.5 if the model is right, higher when athletes do better";
        registry.register("foretold_rank_mean", help, self.rank_mean.clone());
        let help = "Spread of those ranks over the spread foretold; 1 if the model is right, higher when it is too sure";
        registry.register("foretold_rank_spread", help, self.rank_spread.clone());
        let build = Info::new([
            ("version", env!("CARGO_PKG_VERSION")),
            ("model", MODEL_VERSION),
            ("profile", if cfg!(debug_assertions) { "debug" } else { "release" }),
        ]);
        registry.register("build", "The program and its model", build);
    }

    /// Everything counted so far, in the text format of Prometheus.
    pub(crate) fn page(&self) -> String {
        let mut page = String::new();
        match prometheus_text::encode(&mut page, &self.registry) {
            Ok(()) => page,
            // Writing to a text does not fail.
            Err(_) => String::new(),
        }
    }

    /// A call has begun.
    pub(crate) fn call_began(&self) {
        self.in_flight.inc();
    }

    /// A call has ended.
    pub(crate) fn call_ended(&self, method: &'static str, code: Code, took: Duration) {
        self.in_flight.dec();
        let labels = [("method", method), ("code", word(code))];
        self.calls.get_or_create(&labels).observe(took.as_secs_f64());
    }

    /// The store has done something, or failed at it.
    pub(crate) fn store_did(&self, operation: &'static str, fault: Option<&'static str>, took: Duration) {
        self.store.get_or_create(&[("operation", operation)]).observe(took.as_secs_f64());
        if let Some(kind) = fault {
            self.store_errors.get_or_create(&[("operation", operation), ("kind", kind)]).inc();
        }
    }

    /// A connection is open until what is given is dropped.
    pub(crate) fn connection_began(&self) -> OpenConnection {
        self.connections.inc();
        OpenConnection(self.connections.clone())
    }

    /// A connection ended before a call could be made on it.
    pub(crate) fn connection_in_vain(&self, why: InVain) {
        self.connections_in_vain.get_or_create(&[("why", why.word())]).inc();
    }

    /// When the certificates of a setting end, seconds since 1970-01-01 UTC.
    pub(crate) fn certificate_ends(&self, setting: &'static str, at: i64) {
        self.certificate_ends.get_or_create(&[("setting", setting)]).set(at);
    }

    /// The service takes calls, or does not.
    pub(crate) fn is_ready(&self, is_ready: bool) {
        self.ready.set(i64::from(is_ready));
    }
}

/// A connection that is open.
pub(crate) struct OpenConnection(Gauge);

impl Drop for OpenConnection {
    fn drop(&mut self) {
        self.0.dec();
    }
}

/// Why no call could be made on a connection.
#[derive(Debug, Clone, Copy)]
pub(crate) enum InVain {
    /// Its address has as many as one may have.
    Crowded,
    /// No TLS came about: no certificate that counts, another protocol, or a client that does not trust ours.
    Handshake,
    /// What comes before a call was not sent in time, or its address connects so often that its turn did not come.
    Silent,
    /// The peer went, as whoever looks whether a port is open does.
    Gone,
}

impl InVain {
    fn word(self) -> &'static str {
        match self {
            Self::Crowded => "crowded",
            Self::Handshake => "handshake",
            Self::Silent => "silent",
            Self::Gone => "gone",
        }
    }
}

impl Observer for Meter {
    fn head_asked(&self, was_cached: bool) {
        let result = if was_cached { "hit" } else { "miss" };
        self.heads.get_or_create(&[("result", result)]).inc();
    }

    fn folded(&self, sets: usize) {
        self.folds.observe(f64::from(u32::try_from(sets).unwrap_or(u32::MAX)));
    }

    fn foretold(&self, rank: Rank) {
        self.ranks.observe(rank.middle);
        let (mean, spread) = self.drift.take(rank);
        self.rank_mean.set(mean);
        self.rank_spread.set(spread);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_has_what_was_counted() {
        let meter = Meter::new();
        meter.call_began();
        meter.call_began();
        meter.call_ended("nextrung.v1.SetLogService/RecordSets", Code::NotFound, Duration::from_millis(3));
        meter.head_asked(true);
        meter.head_asked(true);
        meter.head_asked(false);
        meter.folded(17);
        meter.store_did("append", Some("backend"), Duration::from_millis(1));
        meter.store_did("append", None, Duration::from_millis(1));
        meter.is_ready(true);
        meter.foretold(Rank { middle: 0.75, variance: 1.0 / 12.0 });
        let page = meter.page();
        for line in [
            "nextrung_call_seconds_count{method=\"nextrung.v1.SetLogService/RecordSets\",code=\"NOT_FOUND\"} 1",
            "nextrung_call_seconds_bucket{method=\"nextrung.v1.SetLogService/RecordSets\",code=\"NOT_FOUND\",le=\"0.004\"} 1",
            "nextrung_calls_in_flight 1",
            "nextrung_state_lookups_total{result=\"hit\"} 2",
            "nextrung_state_lookups_total{result=\"miss\"} 1",
            "nextrung_fold_sets_bucket{le=\"16\"} 0",
            "nextrung_fold_sets_bucket{le=\"64\"} 1",
            "nextrung_store_errors_total{operation=\"append\",kind=\"backend\"} 1",
            "nextrung_store_seconds_count{operation=\"append\"} 2",
            "nextrung_ready 1",
            "nextrung_foretold_rank_count 1",
            "nextrung_foretold_rank_mean 0.75",
        ] {
            assert!(page.lines().any(|have| have == line), "{line}\n{page}");
        }
        assert!(page.contains(&format!("version=\"{}\"", env!("CARGO_PKG_VERSION"))), "{page}");
    }
}
