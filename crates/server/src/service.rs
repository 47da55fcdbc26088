//! Services: one file each; they read names and fields, call the engine and write messages.

use std::sync::Arc;

use nextrung_engine::engine::Engine;
use nextrung_engine::error::EngineError;
use nextrung_store::log::Log;
use tokio::sync::Semaphore;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;
use tonic::Status;
use tracing::Instrument;

use crate::status::{internal, of_engine};
use crate::watched_store::WatchedStore;

mod accesses;
mod athlete;
mod capacity;
mod export;
mod forecast;
mod gates;
mod ladder;
mod limiters;
mod prescription;
mod replay;
mod review;
mod roster;
mod set_log;
mod suppose;
mod trend;
mod watch;
mod week;

/// The log as the services have it.
pub(crate) type WatchedLog = WatchedStore<Log>;

/// What every service works with.
#[derive(Clone)]
pub struct Api {
    pub(crate) engine: Arc<Engine<WatchedLog>>,
    pub(crate) tasks: TaskTracker,
    /// Places of those who watch.
    pub(crate) watchers: Arc<Semaphore>,
    /// Places of replays.
    pub(crate) replays: Arc<Semaphore>,
    /// Ends what would go on by itself.
    pub(crate) stop: CancellationToken,
}

impl Api {
    /// Runs a write to its end, even when the caller goes away: transports drop handlers of cancelled calls, and a
    /// dropped write would leave the cached state behind the log.
    pub(crate) async fn finish<T: Send + 'static>(
        &self,
        work: impl Future<Output = Result<T, EngineError>> + Send + 'static,
    ) -> Result<T, Status> {
        match self.tasks.spawn(work.in_current_span()).await {
            Ok(done) => done.map_err(of_engine),
            Err(_) => Err(internal("a write did not run to its end")),
        }
    }
}
