//! Configuration: the settings of a service out of flags, variables of the environment and a file, in this order.
//!
//! [`read`] names every key once, with what it does, its default and its bounds; flags, variables, help, the listing of
//! what is in force and the page for people all follow from it. Unknown keys are errors, and every problem is told at once.

use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use nextrung_domain::problem::Problem;
use nextrung_store::log::{LogOptions, Place};
use nextrung_store::postgres::PostgresOptions;
use nextrung_store::sqlite::SqliteOptions;

use self::limits::limits;
use self::reading::Reading;
use self::value::CollectorAddress;
use crate::settings::{LadderSource, Log, LogFormat, LogLevel, Settings, TlsFiles, Trace};

mod layers;
mod limits;
mod listing;
mod page;
mod reading;
mod value;

pub use layers::{FILE_VARIABLE, Layers, Origin, flag, is_unknown, variable};
pub use listing::listing;
pub use page::page;
pub use reading::Entry;

/// Where a service listens when nobody says anything.
const LISTEN: ([u8; 4], u16) = ([127, 0, 0, 1], 7878);
/// Where metrics and probes are served when nobody says anything.
const METRICS: ([u8; 4], u16) = ([127, 0, 0, 1], 7879);
/// Where a service keeps its log when nobody says anything.
const DATABASE: &str = "nextrung.db";

/// What is in force, and where each value comes from.
#[derive(Debug, Clone)]
pub struct Effective {
    /// The settings.
    pub settings: Settings,
    /// Every key in the order of the page.
    pub entries: Vec<Entry>,
}

/// Reads the settings. Fails with every problem of every layer.
pub fn read(layers: &Layers) -> Result<Effective, Vec<Problem>> {
    let mut reading = Reading::of(layers);
    let settings = settings(&mut reading);
    Ok(Effective { settings, entries: reading.end()? })
}

/// Every key with its default.
pub fn entries() -> Vec<Entry> {
    // The defaults have no problems; a test holds that.
    read(&Layers::default()).map(|effective| effective.entries).unwrap_or_default()
}

fn settings(reading: &mut Reading<'_>) -> Settings {
    let usual = Settings::new(LISTEN.into(), Path::new(DATABASE));
    Settings {
        listen: reading.value(
            "listen",
            "Where the service listens; port 0 takes a free one. An address that other machines can reach needs `keys` and \
             `tls.certificate`, or `trusted-network`.",
            usual.listen,
        ),
        trusted_network: reading.value(
            "trusted-network",
            "True to listen where other machines can reach it without keys or without TLS: something else must keep others \
             out, or whoever reaches the address may read and write everything.",
            usual.trusted_network,
        ),
        database: database(reading, usual.database),
        ladders: ladders(reading),
        tls: tls(reading),
        keys: reading.value(
            "keys",
            "True to ask every caller for a key (see `nextrung key`). With keys and TLS other machines may be let in.",
            usual.keys,
        ),
        shelf: reading.value(
            "shelf",
            "A shelf of refitted versions (see `nextrung refit`), of which the one in force is used.",
            usual.shelf,
        ),
        today: reading.value(
            "today",
            "A fixed date instead of the machine's, for tries and tests.",
            usual.today,
        ),
        cached_athletes: cached_athletes(reading, usual.cached_athletes),
        store: LogOptions {
            sqlite: sqlite(reading, usual.store.sqlite),
            postgres: postgres(reading, usual.store.postgres),
        },
        limits: limits(reading, usual.limits),
        origins: reading
            .value(
                "web.origins",
                "Origins whose pages in browsers may call, separated by commas. A service without keys also takes their hosts \
                 as names of its own.",
                (!usual.origins.is_empty()).then_some(usual.origins),
            )
            .unwrap_or_default(),
        metrics: reading.value(
            "metrics.listen",
            "Where metrics (/metrics) and probes (/livez, /readyz) are served over plain HTTP; port 0 takes a free one. \
             They hold nothing about athletes.",
            Some(METRICS.into()),
        ),
        log: log(reading, usual.log),
        trace: trace(reading, usual.trace),
    }
}

fn ladders(reading: &mut Reading<'_>) -> LadderSource {
    let about = "A folder with abilities.toml and ladders/*.toml in place of the ladders of the program.";
    let folder: Option<PathBuf> = reading.value("data", about, None);
    folder.map_or(LadderSource::Embedded, LadderSource::Folder)
}

fn tls(reading: &mut Reading<'_>) -> Option<TlsFiles> {
    let certificate: Option<PathBuf> = reading.value(
        "tls.certificate",
        "The certificate to be reached by TLS with, and those between it and its authority (PEM). It is taken anew when \
         the file changes.",
        None,
    );
    let key: Option<PathBuf> = reading.value(
        "tls.key",
        "The private key of that certificate (PEM). Both or neither are given.",
        None,
    );
    let clients: Option<PathBuf> =
        reading.value("tls.clients", "Authorities one of which must vouch for every client (PEM).", None);
    match (certificate, key) {
        (Some(certificate), Some(key)) => Some(TlsFiles { certificate, key, clients }),
        (None, None) if clients.is_none() => None,
        (Some(_), None) => reading.lacks("tls.key", "the private key of tls.certificate"),
        (None, _) => {
            reading.lacks("tls.certificate", "the certificate that goes with the other files of TLS")
        }
    }
}

fn cached_athletes(reading: &mut Reading<'_>, usual: NonZeroUsize) -> NonZeroUsize {
    let about =
        "Athletes whose state is kept in memory, at about 20 KB each; others are folded anew from their log.";
    let athletes = reading.count("cache.athletes", about, usual.get(), 1..=1_000_000);
    NonZeroUsize::new(athletes).unwrap_or(usual)
}

fn database(reading: &mut Reading<'_>, usual: Place) -> Place {
    let place = reading.value(
        "database",
        "Where the log is kept: a file, which is made when it is not there and which one service at a time keeps, or a \
         PostgreSQL database, which several may share: postgres://USER@HOST/DATABASE. Its password may stand in PGPASSWORD. With \
         a database on another machine there is TLS, and its certificate must be vouched for by the system's authorities or by \
         those in the file named behind the address: ?sslrootcert=FILE.",
        usual,
    );
    let is_network_trusted = reading.value(
        "postgres.trusted-network",
        "True to reach a PostgreSQL database on another machine as the address says, without TLS if it says nothing: something \
         else must keep others out, or whoever is on the way there may read and change everything.",
        false,
    );
    place.trusting(is_network_trusted)
}

fn sqlite(reading: &mut Reading<'_>, usual: SqliteOptions) -> SqliteOptions {
    SqliteOptions {
        readers: reading.count(
            "sqlite.readers",
            "Most reads of the database at a time.",
            usual.readers,
            1..=256,
        ),
        group: reading.count("sqlite.group", "Most writes to a commit.", usual.group, 1..=65_536),
        queue: reading.count(
            "sqlite.queue",
            "Most writes that wait for a commit; further callers wait for room.",
            usual.queue,
            1..=1_000_000,
        ),
    }
}

fn postgres(reading: &mut Reading<'_>, usual: PostgresOptions) -> PostgresOptions {
    let about = "Most sessions of a PostgreSQL database at a time.";
    PostgresOptions { sessions: reading.count("postgres.sessions", about, usual.sessions, 1..=1024) }
}

fn log(reading: &mut Reading<'_>, usual: Log) -> Log {
    let levels = LogLevel::ALL.map(|level| (level.word(), level));
    let formats = LogFormat::ALL.map(|format| (format.word(), format));
    Log {
        level: reading.word(
            "log.level",
            "The least important lines of the program's own that are logged to standard error. Libraries tell of \
             warnings and errors alone, whatever the level, since their lines could hold what a call carries.",
            usual.level,
            &levels,
        ),
        format: reading.word(
            "log.format",
            "How a line is written: json, one object a line for machines; text for people.",
            usual.format,
            &formats,
        ),
    }
}

fn trace(reading: &mut Reading<'_>, usual: Trace) -> Trace {
    let collector: Option<CollectorAddress> = reading.value(
        "trace.collector",
        "Where spans of calls are sent over OTLP (gRPC), if anywhere.",
        None,
    );
    Trace {
        collector: collector.map(|CollectorAddress(address)| address),
        authorization: reading.value(
            "trace.authorization",
            "What the collector wants in the header `authorization`. It is secret.",
            usual.authorization,
        ),
        percent: reading.count(
            "trace.percent",
            "Share of the traces which begin here that is sent, percent. A caller who sends `traceparent` decides for \
             its own.",
            usual.percent,
            0..=100,
        ),
    }
}

#[cfg(test)]
mod tests;
