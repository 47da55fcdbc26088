//! Service: the server run inside this process.

use std::error::Error;
use std::net::SocketAddr;
use std::path::Path;

use nextrung_server::{Running, Settings, StartError};
use nextrung_store::error::StoreError;
use nextrung_store::log::Place;

use crate::failure::Failure;

/// A service that runs in this process.
pub(crate) struct Service {
    running: Running,
}

impl Service {
    /// Starts it; it is ready when this returns.
    pub(crate) async fn start(settings: Settings) -> Result<Self, Failure> {
        if let Place::File(file) = &settings.database {
            make_folder(file)?;
        }
        let running = nextrung_server::start(settings).await.map_err(|error| not_started(&error))?;
        Ok(Self { running })
    }

    /// Where it listens.
    pub(crate) fn address(&self) -> SocketAddr {
        self.running.local_addr()
    }

    /// Where metrics and probes are served, if anywhere.
    pub(crate) fn metrics(&self) -> Option<SocketAddr> {
        self.running.metrics_addr()
    }

    /// Waits until its store has stopped for good, and only a new start helps.
    pub(crate) async fn store_stopped(&self) {
        self.running.store_stopped().await;
    }

    /// Ends it: open calls are finished, the database is closed.
    pub(crate) async fn stop(self) -> Result<(), Failure> {
        self.running.stop().await.map_err(|error| Failure::internal(&chain(&error)))
    }
}

pub(crate) fn make_folder(database: &Path) -> Result<(), Failure> {
    let Some(folder) = database.parent().filter(|folder| !folder.as_os_str().is_empty()) else {
        return Ok(());
    };
    std::fs::create_dir_all(folder).map_err(|error| {
        Failure::usage(format!("{} cannot be made: {error}", folder.display()), "Choose another place.")
    })
}

/// What the person at the terminal can change is wrong usage.
pub(crate) fn not_started(error: &StartError) -> Failure {
    let advice = match error {
        StartError::NotLoopback { .. } => {
            "Listen on 127.0.0.1 and put what should reach it on the same machine; or ask for keys over TLS (--keys true, \
             --tls-certificate, --tls-key); or say --trusted-network true where something else keeps others out."
        }
        StartError::Listen { .. } => "Choose another port with --listen; port 0 takes a free one.",
        StartError::Metrics { .. } => {
            "Choose another port with --metrics-listen; port 0 takes a free one, none leaves metrics and probes out."
        }
        StartError::InUse { .. } => "Or choose another file with --database.",
        StartError::Ladders(_) => {
            "Mend the files named above, or leave --data out to use the ladders of this program."
        }
        StartError::Shelf { .. } | StartError::Fit { .. } => {
            "See nextrung refit versions, or leave --shelf out to use the ladder files as they are."
        }
        StartError::Tls(_) => "Give a certificate and its key, both in PEM.",
        StartError::Store(StoreError::Unreachable { .. }) => {
            "See that the database runs and takes this user, or choose another one with --database."
        }
        StartError::Store(StoreError::NotDurable { .. }) => "Turn it on at the server and restart that.",
        StartError::Lock { .. } | StartError::Store(_) => "Choose another database with --database.",
        StartError::Reflection(_) => return Failure::internal(&chain(error)),
    };
    Failure::usage(chain(error), advice)
}

/// An error with everything that led to it.
pub(crate) fn chain(error: &dyn Error) -> String {
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

    fn settings(listen: &str, database: &Path) -> Settings {
        Settings::new(listen.parse().unwrap(), database)
    }

    #[tokio::test]
    async fn an_address_that_others_can_reach_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let started = Service::start(settings("0.0.0.0:0", &folder.path().join("a.db"))).await;
        let failure = started.err().unwrap();
        assert_eq!(failure.exit_code(), 2);
        assert!(failure.to_string().contains("loopback"), "{failure}");
    }

    #[tokio::test]
    async fn a_service_starts_in_a_new_folder_and_stops() {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("new/hall.db");
        let service = Service::start(settings("127.0.0.1:0", &database)).await.unwrap();
        assert_ne!(service.address().port(), 0);
        let second = Service::start(settings("127.0.0.1:0", &database)).await;
        assert_eq!(second.err().unwrap().exit_code(), 2, "one service a database");
        service.stop().await.unwrap();
        assert!(database.is_file());
    }
}
