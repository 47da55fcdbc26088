//! Serve verb: runs the service until it is told to stop.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args;
use nextrung_domain::date::CivilDate;
use nextrung_server::TlsFiles;
use serde_json::json;
use tracing_subscriber::EnvFilter;

use crate::arguments::HELP;
use crate::calendar;
use crate::failure::Failure;
use crate::output::Output;
use crate::service::{Service, ServiceOptions};

const EXAMPLES: &str = "Examples:
  nextrung serve
  nextrung serve --database hall.db --listen 127.0.0.1:9000
  NEXTRUNG_LOG=debug nextrung serve --database hall.db --data my-data";
const AFTER: &str = "The first line of output says where it listens. Ctrl-C or SIGTERM ends it: open calls are \
finished first. Only this machine can reach it, and one service at a time keeps a database. NEXTRUNG_LOG sets what is \
logged to standard error: error, warn, info, debug or trace.";

/// Run the service on this machine.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES, after_help = AFTER)]
pub(crate) struct ServeArguments {
    /// Where to listen, this machine only; port 0 takes a free one
    #[arg(long, value_name = "ADDRESS", default_value = "127.0.0.1:7878")]
    listen: SocketAddr,
    /// The database file; it is made when it is not there
    #[arg(
        long,
        value_name = "FILE",
        env = "NEXTRUNG_DATABASE",
        hide_env_values = true,
        default_value = "nextrung.db"
    )]
    database: PathBuf,
    /// A folder with abilities.toml and ladders/*.toml in place of the ladders of this program
    #[arg(long, value_name = "FOLDER", env = "NEXTRUNG_DATA", hide_env_values = true)]
    data: Option<PathBuf>,
    /// A shelf of refitted versions (see nextrung refit), of which the one in force is used
    #[arg(long, value_name = "FOLDER", env = "NEXTRUNG_SHELF", hide_env_values = true)]
    shelf: Option<PathBuf>,
    /// The certificate to be reached by TLS with, and those between it and its authority (PEM)
    #[arg(long, value_name = "FILE", requires = "tls_key")]
    tls_certificate: Option<PathBuf>,
    /// The private key of that certificate (PEM)
    #[arg(long, value_name = "FILE", requires = "tls_certificate")]
    tls_key: Option<PathBuf>,
    /// Authorities one of which must vouch for every client (PEM)
    #[arg(long, value_name = "FILE", requires = "tls_certificate")]
    tls_clients: Option<PathBuf>,
    /// Ask every caller for a key (see nextrung key)
    #[arg(long, env = "NEXTRUNG_KEYS", hide_env_values = true)]
    keys: bool,
    /// A fixed date instead of the machine's, for tries and tests
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    today: Option<CivilDate>,
}

/// Runs the service until it is told to stop.
pub(crate) async fn run(arguments: &ServeArguments, mut output: Output) -> Result<(), Failure> {
    let wanted = std::env::var("NEXTRUNG_LOG").unwrap_or_else(|_| "info".to_owned());
    let filter = EnvFilter::try_new(&wanted).map_err(|error| {
        Failure::usage(
            format!("NEXTRUNG_LOG is `{wanted}`: {error}"),
            "Set it to error, warn, info, debug or trace.",
        )
    })?;
    let log = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).with_ansi(false);
    log.try_init().map_err(|error| Failure::internal(&error))?;
    let mut stop = StopSignals::listen()?;
    let tls = match (&arguments.tls_certificate, &arguments.tls_key) {
        (Some(certificate), Some(key)) => Some(TlsFiles {
            certificate: certificate.clone(),
            key: key.clone(),
            clients: arguments.tls_clients.clone(),
        }),
        _ => None,
    };
    let service = Service::start(ServiceOptions {
        listen: arguments.listen,
        database: arguments.database.clone(),
        data: arguments.data.clone(),
        shelf: arguments.shelf.clone(),
        tls,
        keys: arguments.keys,
        today: arguments.today,
    })
    .await?;
    if output.is_json {
        output.json(&json!({ "listening": service.address().to_string() }))?;
    } else {
        output.page(&format!("listening on {}\n", service.address()))?;
    }
    stop.wait().await;
    tracing::info!("stopping: open calls are finished first");
    service.stop().await
}

/// The signals that ask the process to end.
struct StopSignals {
    #[cfg(unix)]
    terminate: tokio::signal::unix::Signal,
}

impl StopSignals {
    /// Takes the signals from now on.
    fn listen() -> Result<Self, Failure> {
        Ok(Self {
            #[cfg(unix)]
            terminate: tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate())
                .map_err(|error| Failure::internal(&format!("no signals: {error}")))?,
        })
    }

    /// Waits for the first of them.
    async fn wait(&mut self) {
        #[cfg(unix)]
        tokio::select! {
            _ = self.terminate.recv() => {}
            _ = tokio::signal::ctrl_c() => {}
        }
        #[cfg(not(unix))]
        drop(tokio::signal::ctrl_c().await);
    }
}
