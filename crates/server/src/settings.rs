//! Settings: what the service is started with.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

use nextrung_domain::date::CivilDate;
use nextrung_store::sqlite::SqliteOptions;

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
    /// Where to listen; port 0 takes a free one. Other than loopback addresses are taken with keys and TLS alone.
    pub listen: SocketAddr,
    /// The database file; it is made when it is not there.
    pub database: PathBuf,
    /// How the database is used.
    pub store: SqliteOptions,
    /// The ladders.
    pub ladders: LadderSource,
    /// The folder with refitted versions of which the one in force is used; nothing for the ladder files and first parameters.
    pub shelf: Option<PathBuf>,
    /// Certificates to be reached by TLS with; plain HTTP/2 without.
    pub tls: Option<TlsFiles>,
    /// Whether every caller must show a key; without keys only loopback addresses are taken.
    pub keys: bool,
    /// A fixed date instead of the machine's, for demos and tests.
    pub today: Option<CivilDate>,
    /// Limits on connections and calls.
    pub limits: Limits,
}

/// Limits on connections and calls.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most connections at a time; further ones wait to be accepted.
    pub connections: usize,
    /// Most calls at a time on one connection; further ones wait.
    pub streams: u32,
    /// Most calls at a time on all connections; further ones are refused.
    pub calls: usize,
    /// Most callers who watch prescriptions at a time; further ones are refused.
    pub watchers: usize,
    /// Most replays at a time; further ones are refused.
    pub replays: usize,
    /// Time within which a new connection must have sent the preface of HTTP/2.
    pub preface: Duration,
    /// Longest call; a shorter deadline of the client counts instead.
    pub call: Duration,
    /// Time that open calls get at the end before everything is closed.
    pub drain: Duration,
    /// Largest message, bytes.
    pub message_bytes: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            connections: 512,
            streams: 128,
            calls: 1024,
            watchers: 256,
            replays: 2,
            preface: Duration::from_secs(5),
            call: Duration::from_secs(30),
            drain: Duration::from_secs(10),
            message_bytes: 4 * 1024 * 1024,
        }
    }
}

impl Settings {
    /// The usual settings for an address and a database.
    pub fn new(listen: SocketAddr, database: impl Into<PathBuf>) -> Self {
        Self {
            listen,
            database: database.into(),
            store: SqliteOptions::default(),
            ladders: LadderSource::Embedded,
            shelf: None,
            tls: None,
            keys: false,
            today: None,
            limits: Limits::default(),
        }
    }
}
