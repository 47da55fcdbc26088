//! Serve verb: runs the service until it is told to stop.

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;
use nextrung_domain::problem::Problem;
use nextrung_server::Settings;
use nextrung_server::configuration::{Effective, Entry, Layers, entries, is_unknown, listing, read};
use nextrung_server::journal::{self, JournalError};
use serde_json::{Value, json};

use crate::arguments::HELP;
use crate::failure::{Detail, Failure};
use crate::output::Output;
use crate::service::{Service, chain};
use crate::setting_flags::SettingFlags;

const EXAMPLES: &str = "Examples:
  nextrung serve
  nextrung serve --database hall.db --listen 127.0.0.1:9000
  nextrung serve --database postgres://USER@HOST/DATABASE
  nextrung serve --config nextrung.toml --show-config
  NEXTRUNG_LOG_FORMAT=text nextrung serve --log-level debug --data my-data";
const AFTER: &str = "The first line of output says where it listens. Ctrl-C or SIGTERM ends it: open calls are \
finished first. It ends by itself, with exit code 4, when its disk failed and only a new start helps: let something start it \
again. Only this machine can reach it, unless told otherwise. One service at a time keeps a file; a PostgreSQL \
database may be shared by several, and its password may stand in PGPASSWORD, where no list of processes shows it. Every \
setting can also be a variable (NEXTRUNG_LIMITS_CALLS for --limits-calls) or a line of the file that --config names \
(limits.calls = 500); deploy/SETTINGS.md explains each.";

/// How long a service whose store stopped for good goes on before it ends: probes and health say meanwhile why, and calls are
/// answered, those about what is there among them.
const LAST_LOOK: Duration = Duration::from_secs(5);

/// Run the service on this machine.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES, after_help = AFTER)]
pub(crate) struct ServeArguments {
    /// A TOML file with settings; variables and flags count before it
    #[arg(long, value_name = "FILE", env = "NEXTRUNG_CONFIG", hide_env_values = true)]
    config: Option<PathBuf>,
    /// Print the settings in force and where each comes from, and start nothing
    #[arg(long)]
    show_config: bool,
    /// What was said by flags.
    #[command(flatten)]
    flags: SettingFlags,
}

/// Runs the service until it is told to stop.
pub(crate) async fn run(arguments: &ServeArguments, mut output: Output) -> Result<(), Failure> {
    let Effective { settings, entries } = effective(arguments)?;
    if arguments.show_config {
        return show(&entries, &mut output);
    }
    let journal = journal::begin(settings.log, &settings.trace).map_err(|error| not_begun(&error))?;
    let ended = serve(settings, &mut output).await;
    journal.end().await;
    ended
}

/// Serves until the first signal to stop or until the store stops for good, and drains until the next signal.
async fn serve(settings: Settings, output: &mut Output) -> Result<(), Failure> {
    let mut signals = StopSignals::listen()?;
    let service = tokio::select! {
        started = Service::start(settings) => started?,
        () = signals.wait() => return Ok(()),
    };
    say_where(&service, output)?;
    let is_broken = tokio::select! {
        () = signals.wait() => false,
        () = service.store_stopped() => true,
    };
    if is_broken {
        tracing::error!("the store stopped for good: the service ends, to be started anew");
        tokio::select! {
            () = signals.wait() => {}
            () = tokio::time::sleep(LAST_LOOK) => {}
        }
    }
    tracing::info!("stopping: open calls are finished first");
    let stopped = tokio::select! {
        stopped = service.stop() => stopped,
        () = signals.wait() => Err(Failure::Hurried),
    };
    // A store that has stopped cannot be closed well.
    if is_broken {
        return Err(Failure::StoreStopped);
    }
    stopped?;
    tracing::info!("stopped");
    Ok(())
}

fn say_where(service: &Service, output: &mut Output) -> Result<(), Failure> {
    let (listening, metrics) = (service.address().to_string(), service.metrics().map(|at| at.to_string()));
    if output.is_json {
        return output.json(&json!({ "listening": listening, "metrics": metrics }));
    }
    let metrics = metrics.map_or_else(String::new, |metrics| format!("metrics on {metrics}\n"));
    output.page(&format!("listening on {listening}\n{metrics}"))
}

fn not_begun(error: &JournalError) -> Failure {
    match error {
        JournalError::Traces(_) => {
            Failure::usage(chain(error), "See --trace-collector and --trace-authorization.")
        }
        JournalError::Twice(_) => Failure::internal(error),
    }
}

/// The settings of flags, environment and file.
fn effective(arguments: &ServeArguments) -> Result<Effective, Failure> {
    let mut layers =
        Layers::default().with_flags(arguments.flags.0.clone()).with_variables(std::env::vars_os());
    if let Some(path) = &arguments.config {
        layers = layers.with_file(path).map_err(|problem| refused(vec![problem]))?;
    }
    read(&layers).map_err(refused)
}

fn refused(problems: Vec<Problem>) -> Failure {
    let count = problems.len();
    let keys = if problems.iter().any(is_unknown) {
        let keys: Vec<&str> = entries().iter().map(|entry| entry.key).collect();
        format!(" Keys are {}.", keys.join(", "))
    } else {
        String::new()
    };
    let detail = |Problem { field, found, expected }| Detail {
        place: field,
        text: format!("found {found}; expected {expected}"),
    };
    Failure::Input {
        message: format!("the settings have {count} {}", if count == 1 { "problem" } else { "problems" }),
        details: problems.into_iter().map(detail).collect(),
        advice: format!("Nothing was started.{keys} See nextrung serve --help."),
    }
}

fn show(entries: &[Entry], output: &mut Output) -> Result<(), Failure> {
    if !output.is_json {
        return output.page(&listing(entries));
    }
    let one =
        |entry: &Entry| json!({ "key": entry.key, "value": entry.value, "origin": entry.origin.to_string() });
    output.json(&Value::from(entries.iter().map(one).collect::<Vec<_>>()))
}

/// The signals that ask the process to end.
pub(crate) struct StopSignals {
    #[cfg(unix)]
    terminate: tokio::signal::unix::Signal,
    /// Taken from the beginning too, so that one that comes while nobody waits is not lost.
    #[cfg(unix)]
    interrupt: tokio::signal::unix::Signal,
}

impl StopSignals {
    /// Takes the signals from now on.
    pub(crate) fn listen() -> Result<Self, Failure> {
        #[cfg(unix)]
        {
            use tokio::signal::unix::{SignalKind, signal};
            let taken =
                |kind| signal(kind).map_err(|error| Failure::internal(&format!("no signals: {error}")));
            Ok(Self {
                terminate: taken(SignalKind::terminate())?,
                interrupt: taken(SignalKind::interrupt())?,
            })
        }
        #[cfg(not(unix))]
        Ok(Self {})
    }

    /// Waits for the first of them.
    pub(crate) async fn wait(&mut self) {
        #[cfg(unix)]
        tokio::select! {
            _ = self.terminate.recv() => {}
            _ = self.interrupt.recv() => {}
        }
        #[cfg(not(unix))]
        drop(tokio::signal::ctrl_c().await);
    }
}
