//! Settings: what the service is started with.

use std::net::SocketAddr;
use std::num::{NonZeroU32, NonZeroUsize};
use std::path::PathBuf;
use std::time::Duration;

use nextrung_domain::date::CivilDate;
use nextrung_store::log::{LogOptions, Place};

use crate::front::origin::Origins;
use crate::secret::Secret;

/// Athletes whose state is kept in memory unless told otherwise, at about 20 KB each.
const CACHED_ATHLETES: NonZeroUsize = NonZeroUsize::MIN.saturating_add(4095);

/// Where the ladders come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LadderSource {
    /// The binary itself.
    Embedded,
    /// A folder with `abilities.toml` and `ladders/*.toml`.
    Folder(PathBuf),
}

/// The files of TLS, in PEM.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TlsFiles {
    /// The service's certificate, with those between it and its authority.
    pub certificate: PathBuf,
    /// The certificate's private key.
    pub key: PathBuf,
    /// Authorities one of which must vouch for every client; nothing when clients need no certificate.
    pub clients: Option<PathBuf>,
}

/// What the service is started with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    /// Where to listen; port 0 takes a free one. Addresses beyond loopback need keys and TLS, or a trusted network.
    pub listen: SocketAddr,
    /// True when something else keeps others away from an address beyond loopback.
    pub trusted_network: bool,
    /// Where the log is kept: in a file, which is made when it is not there, or in a PostgreSQL database.
    pub database: Place,
    /// How the database is used.
    pub store: LogOptions,
    /// The ladders.
    pub ladders: LadderSource,
    /// The folder with refitted versions of which the one in force is used; nothing for the ladder files and first parameters.
    pub shelf: Option<PathBuf>,
    /// Certificates to be reached by TLS with; plain HTTP without.
    pub tls: Option<TlsFiles>,
    /// Whether every caller must show a key; without keys only loopback addresses are taken.
    pub keys: bool,
    /// A fixed date instead of the machine's, for demos and tests.
    pub today: Option<CivilDate>,
    /// Athletes whose state is kept in memory.
    pub cached_athletes: NonZeroUsize,
    /// Limits on connections and calls.
    pub limits: Limits,
    /// Origins whose pages in browsers may call.
    pub origins: Origins,
    /// Where metrics and probes are served, if anywhere.
    pub metrics: Option<SocketAddr>,
    /// What is logged; it is of the process, not of one service in it.
    pub log: Log,
    /// Where spans of calls are sent; it is of the process, not of one service in it.
    pub trace: Trace,
}

/// Where spans of calls are sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trace {
    /// The collector's address, such as `http://127.0.0.1:4317`; without one nothing is sent.
    pub collector: Option<String>,
    /// What the collector wants in the header `authorization`.
    pub authorization: Option<Secret>,
    /// Share of the traces that begin here which is sent, percent.
    pub percent: u8,
}

/// What is logged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Log {
    /// The least important lines that are logged.
    pub level: LogLevel,
    /// How a line is written.
    pub format: LogFormat,
}

/// How important a line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LogLevel {
    /// What went wrong.
    Error,
    /// What may go wrong.
    Warn,
    /// What the service does.
    Info,
    /// What each call does.
    Debug,
    /// All there is.
    Trace,
}

impl LogLevel {
    /// Every level, the most important first.
    pub const ALL: [Self; 5] = [Self::Error, Self::Warn, Self::Info, Self::Debug, Self::Trace];

    /// The word used in configuration.
    pub fn word(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Warn => "warn",
            Self::Info => "info",
            Self::Debug => "debug",
            Self::Trace => "trace",
        }
    }
}

/// How a line of the log is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LogFormat {
    /// One JSON object a line.
    Json,
    /// For people.
    Text,
}

impl LogFormat {
    /// Every format.
    pub const ALL: [Self; 2] = [Self::Json, Self::Text];

    /// The word used in configuration.
    pub fn word(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Text => "text",
        }
    }
}

/// Limits on connections and calls.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most connections at a time; further ones wait to be accepted.
    pub connections: usize,
    /// Most connections at a time from one address; further ones are closed at once.
    pub connections_of_one: usize,
    /// Most calls at a time on one connection; further ones wait.
    pub streams: u32,
    /// Most calls at a time on all connections; further ones are refused.
    pub calls: usize,
    /// Most callers who watch prescriptions at a time; further ones are refused.
    pub watchers: usize,
    /// Most replays at a time; further ones are refused.
    pub replays: usize,
    /// Most messages of more than 256 KiB that are held at a time; further ones are refused.
    pub long_messages: usize,
    /// Time within which a new connection must have sent the preface of HTTP/2, or the head of a request of HTTP/1.1.
    pub preface: Duration,
    /// Time without a call after which a connection is asked to end.
    pub idle: Duration,
    /// Time within which the message of a call must have come.
    pub arrival: Duration,
    /// What one key may ask for.
    pub key: KeyLimits,
    /// Longest call; a shorter deadline of the client counts instead.
    pub call: Duration,
    /// Time between telling that no more calls are wanted and taking none.
    pub notice: Duration,
    /// Time that open calls get after that before everything is closed.
    pub drain: Duration,
    /// Largest message, bytes.
    pub message_bytes: usize,
}

/// What one key may ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KeyLimits {
    /// Most calls at a time, those included whose answer is not taken yet; further ones are refused.
    pub calls: usize,
    /// Most messages of more than 256 KiB that are held at a time; further ones are refused.
    pub long_messages: usize,
    /// Points a second that it may spend over time; each method costs what its rule says.
    pub points: NonZeroU32,
    /// Points that it may spend at once after a rest.
    pub burst: NonZeroU32,
}

impl Default for KeyLimits {
    fn default() -> Self {
        Self {
            calls: 64,
            long_messages: 8,
            points: NonZeroU32::MIN.saturating_add(499),
            burst: NonZeroU32::MIN.saturating_add(3999),
        }
    }
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            connections: 512,
            connections_of_one: 128,
            streams: 128,
            calls: 1024,
            watchers: 256,
            replays: 2,
            long_messages: 64,
            preface: Duration::from_secs(5),
            idle: Duration::from_secs(300),
            arrival: Duration::from_secs(10),
            key: KeyLimits::default(),
            call: Duration::from_secs(30),
            notice: Duration::ZERO,
            drain: Duration::from_secs(10),
            message_bytes: 4 * 1024 * 1024,
        }
    }
}

impl Settings {
    /// The usual settings for an address and a database.
    pub fn new(listen: SocketAddr, database: impl Into<Place>) -> Self {
        Self {
            listen,
            trusted_network: false,
            database: database.into(),
            store: LogOptions::default(),
            ladders: LadderSource::Embedded,
            shelf: None,
            tls: None,
            keys: false,
            today: None,
            cached_athletes: CACHED_ATHLETES,
            limits: Limits::default(),
            origins: Origins::default(),
            metrics: None,
            log: Log { level: LogLevel::Info, format: LogFormat::Json },
            trace: Trace { collector: None, authorization: None, percent: 100 },
        }
    }
}
