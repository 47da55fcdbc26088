//! Turns: writers to the same log pass one after another, each to its end.

use std::sync::Arc;

use nextrung_store::error::StoreError;
use tokio::sync::{Mutex, OwnedMutexGuard};
use tracing::Instrument;

/// Locks that all names share.
const STRIPES: usize = 64;

/// The turns of every athlete and roster.
pub(crate) struct Turns {
    stripes: Vec<Arc<Mutex<()>>>,
}

impl Turns {
    pub(crate) fn new() -> Self {
        Self { stripes: (0..STRIPES).map(|_| Arc::default()).collect() }
    }

    /// Waits for the turn of a name. Whoever has one must not wait for another: names may share a lock.
    pub(crate) async fn of(&self, name: &[&str]) -> Turn {
        let bytes = name.iter().flat_map(|part| part.bytes());
        let hash = bytes.fold(0_usize, |h, b| h.wrapping_mul(31).wrapping_add(usize::from(b)));
        Turn { _lock: self.stripes[hash % STRIPES].clone().lock_owned().await }
    }
}

/// The right to write under a name. While it is held, what is stored under the name moves by its holder alone.
pub(crate) struct Turn {
    _lock: OwnedMutexGuard<()>,
}

impl Turn {
    /// Runs a write to its end and keeps the turn until then, even when the caller goes away: given up earlier, the next
    /// reader could remember what the write is about to change.
    pub(crate) async fn finish<T, F>(self, write: F) -> Result<(Result<T, StoreError>, Self), StoreError>
    where
        T: Send + 'static,
        F: Future<Output = Result<T, StoreError>> + Send + 'static,
    {
        let running = tokio::spawn(async move { (write.await, self) }.in_current_span());
        running.await.map_err(|_| StoreError::Stopped)
    }
}
