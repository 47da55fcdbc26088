//! Readers: a few read-only connections, each read one snapshot.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use rusqlite::Connection;
use tokio::sync::Semaphore;
use tokio::task::spawn_blocking;

use super::file;
use super::query::failed;
use crate::error::StoreError;

pub(super) struct Readers {
    path: PathBuf,
    idle: Mutex<Vec<Connection>>,
    permits: Arc<Semaphore>,
}

impl Readers {
    /// At most `most` reads at a time. The connections are opened when first needed.
    pub(super) fn new(path: PathBuf, most: usize) -> Arc<Self> {
        Arc::new(Self { path, idle: Mutex::new(Vec::new()), permits: Arc::new(Semaphore::new(most.max(1))) })
    }

    /// Runs `read` off the caller's thread, in a transaction of its own.
    pub(super) async fn read<T, F>(self: &Arc<Self>, read: F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Connection) -> Result<T, StoreError> + Send + 'static,
    {
        let permit = Arc::clone(&self.permits).acquire_owned().await.map_err(|_| StoreError::Stopped)?;
        let readers = Arc::clone(self);
        let run = move || {
            let found = readers.run(read);
            drop(permit);
            found
        };
        spawn_blocking(run).await.map_err(|_| StoreError::Stopped)?
    }

    fn run<T>(&self, read: impl FnOnce(&Connection) -> Result<T, StoreError>) -> Result<T, StoreError> {
        let idle = self.idle.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let conn = idle.map_or_else(|| file::for_reading(&self.path), Ok)?;
        let snapshot = conn.unchecked_transaction().map_err(failed("starting to read"))?;
        let found = read(&snapshot);
        snapshot.rollback().map_err(failed("ending a read"))?;
        self.idle.lock().unwrap_or_else(PoisonError::into_inner).push(conn);
        found
    }
}
