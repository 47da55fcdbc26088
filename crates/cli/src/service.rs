//! Service: the server run inside this process.

use std::error::Error;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use nextrung_domain::date::CivilDate;
use nextrung_server::{LadderSource, Running, Settings, StartError, TlsFiles};

use crate::failure::Failure;

/// What a service is started with.
pub(crate) struct ServiceOptions {
    /// Where to listen.
    pub(crate) listen: SocketAddr,
    /// The database file.
    pub(crate) database: PathBuf,
    /// A folder with `abilities.toml` and `ladders/`; the ladders of this binary when there is none.
    pub(crate) data: Option<PathBuf>,
    /// A shelf of refitted versions, of which the one in force is used.
    pub(crate) shelf: Option<PathBuf>,
    /// Certificates to be reached by TLS with.
    pub(crate) tls: Option<TlsFiles>,
    /// Whether every caller must show a key.
    pub(crate) keys: bool,
    /// A fixed date instead of the machine's.
    pub(crate) today: Option<CivilDate>,
}

/// A service that runs in this process.
pub(crate) struct Service {
    running: Running,
}

impl Service {
    /// Starts it; it is ready when this returns.
    pub(crate) async fn start(options: ServiceOptions) -> Result<Self, Failure> {
        make_folder(&options.database)?;
        let mut settings = Settings::new(options.listen, options.database);
        settings.today = options.today;
        settings.shelf = options.shelf;
        settings.keys = options.keys;
        settings.tls = options.tls;
        if let Some(folder) = options.data {
            settings.ladders = LadderSource::Folder(folder);
        }
        let running = nextrung_server::start(settings).await.map_err(|error| not_started(&error))?;
        Ok(Self { running })
    }

    /// Where it listens.
    pub(crate) fn address(&self) -> SocketAddr {
        self.running.local_addr()
    }

    /// Ends it: open calls are finished, the database is closed.
    pub(crate) async fn stop(self) -> Result<(), Failure> {
        self.running.stop().await.map_err(|error| Failure::internal(&chain(&error)))
    }
}

fn make_folder(database: &Path) -> Result<(), Failure> {
    let Some(folder) = database.parent().filter(|folder| !folder.as_os_str().is_empty()) else {
        return Ok(());
    };
    std::fs::create_dir_all(folder).map_err(|error| {
        Failure::usage(format!("{} cannot be made: {error}", folder.display()), "Choose another place.")
    })
}

/// What the person at the terminal can change is wrong usage.
fn not_started(error: &StartError) -> Failure {
    let advice = match error {
        StartError::NotLoopback { .. } => {
            "Listen on 127.0.0.1, or ask for keys (--keys) over TLS (--tls-certificate, --tls-key)."
        }
        StartError::Listen { .. } => "Choose another port with --listen; port 0 takes a free one.",
        StartError::InUse { .. } => "Or choose another file with --database.",
        StartError::Ladders(_) => {
            "Mend the files named above, or leave --data out to use the ladders of this program."
        }
        StartError::Shelf { .. } | StartError::Fit { .. } => {
            "See nextrung refit versions, or leave --shelf out to use the ladder files as they are."
        }
        StartError::Tls(_) => "Give a certificate and its key, both in PEM.",
        StartError::Lock { .. } | StartError::Store(_) => "Choose another file with --database.",
        StartError::Reflection(_) => return Failure::internal(&chain(error)),
    };
    Failure::usage(chain(error), advice)
}

/// An error with everything that led to it.
fn chain(error: &dyn Error) -> String {
    let mut text = error.to_string();
    let mut next = error.source();
    while let Some(source) = next {
        let cause = source.to_string();
        if !text.contains(&cause) {
            text = format!("{text}: {cause}");
        }
        next = source.source();
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn options(listen: &str, database: PathBuf) -> ServiceOptions {
        ServiceOptions { listen: listen.parse().unwrap(), database, data: None, shelf: None, today: None }
    }

    #[tokio::test]
    async fn an_address_that_others_can_reach_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let started = Service::start(options("0.0.0.0:0", folder.path().join("a.db"))).await;
        let failure = started.err().unwrap();
        assert_eq!(failure.exit_code(), 2);
        assert!(failure.to_string().contains("loopback"), "{failure}");
    }

    #[tokio::test]
    async fn a_service_starts_in_a_new_folder_and_stops() {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("new/hall.db");
        let service = Service::start(options("127.0.0.1:0", database.clone())).await.unwrap();
        assert_ne!(service.address().port(), 0);
        let second = Service::start(options("127.0.0.1:0", database.clone())).await;
        assert_eq!(second.err().unwrap().exit_code(), 2, "one service a database");
        service.stop().await.unwrap();
        assert!(database.is_file());
    }
}
