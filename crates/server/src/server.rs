//! Server: wires the store, the ladders and the services to a port, and drains them at the end.

use std::fs::{File, TryLockError};
use std::io;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use nextrung_api::v1;
use nextrung_api::v1::athlete_service_server::AthleteServiceServer;
use nextrung_api::v1::capacity_service_server::CapacityServiceServer;
use nextrung_api::v1::ladder_service_server::LadderServiceServer;
use nextrung_api::v1::prescription_service_server::PrescriptionServiceServer;
use nextrung_api::v1::roster_service_server::RosterServiceServer;
use nextrung_api::v1::set_log_service_server::SetLogServiceServer;
use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_engine::clock::{Clock, FixedClock, SystemClock};
use nextrung_engine::engine::Engine;
use nextrung_prescribe::policy::Policy;
use nextrung_store::error::StoreError;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use tokio::net::TcpListener;
use tokio::task::JoinHandle;
use tokio_stream::wrappers::ReceiverStream;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;
use tonic::transport::Server;
use tonic_health::ServingStatus;
use tonic_health::server::HealthReporter;

use crate::ladders::{LaddersError, embedded, from_folder};
use crate::limits::LimitLayer;
use crate::listen::accept;
use crate::service::Api;
use crate::settings::{LadderSource, Limits, Settings};

/// Interval and patience of keep-alive pings.
const PING: (Duration, Duration) = (Duration::from_secs(60), Duration::from_secs(20));

/// Why the service did not start.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The address can be reached from other machines.
    #[error(
        "refused to listen on {listen}: without access control the service takes loopback addresses only, such as 127.0.0.1:7878 or [::1]:7878"
    )]
    NotLoopback {
        /// The address.
        listen: SocketAddr,
    },
    /// The address is not free.
    #[error("cannot listen on {listen}")]
    Listen {
        /// The address.
        listen: SocketAddr,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// Another service has the database.
    #[error("the database {} is in use by another service; stop that one first", path.display())]
    InUse {
        /// The database.
        path: PathBuf,
    },
    /// The lock beside the database cannot be taken.
    #[error("cannot lock {}", path.display())]
    Lock {
        /// The lock file.
        path: PathBuf,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// The ladders cannot be loaded.
    #[error(transparent)]
    Ladders(#[from] LaddersError),
    /// The database cannot be opened.
    #[error("cannot open the database")]
    Store(#[source] StoreError),
    /// The description of the contract cannot be served.
    #[error("cannot serve the contract's description")]
    Reflection(#[source] tonic_reflection::server::Error),
}

/// Why the service did not stop as it should.
#[derive(Debug, thiserror::Error)]
pub enum StopError {
    /// The transport failed.
    #[error("the service ended with an error")]
    Transport(#[source] tonic::transport::Error),
    /// The database was not closed well; what was acknowledged is kept all the same.
    #[error("the database was not closed well")]
    Store(#[source] StoreError),
}

/// A running service.
pub struct Running {
    local_addr: SocketAddr,
    stop: CancellationToken,
    serving: JoinHandle<Result<(), tonic::transport::Error>>,
    api: Api,
    health: HealthReporter,
    drain: Duration,
    _lock: File,
}

/// Starts the service; it is ready when this returns. Must be called within a tokio runtime.
pub async fn start(settings: Settings) -> Result<Running, StartError> {
    let Settings { listen, database, ladders, today, limits } = settings;
    if !listen.ip().is_loopback() {
        return Err(StartError::NotLoopback { listen });
    }
    let catalog = match ladders {
        LadderSource::Embedded => embedded()?,
        LadderSource::Folder(folder) => from_folder(&folder)?,
    };
    let lock = lock(&database)?;
    let store = SqliteStore::open(&database, SqliteOptions::default()).await.map_err(StartError::Store)?;
    let clock: Arc<dyn Clock> = match today {
        Some(today) => Arc::new(FixedClock { today }),
        None => Arc::new(SystemClock),
    };
    let model = Model::new(Arc::new(catalog), Parameters::default());
    let engine = Arc::new(Engine::new(store, model, Policy::default(), clock));
    let api = Api { engine, tasks: TaskTracker::new() };
    let failed = |source| StartError::Listen { listen, source };
    let listener = TcpListener::bind(listen).await.map_err(failed)?;
    let local_addr = listener.local_addr().map_err(failed)?;
    let stop = CancellationToken::new();
    let (health, serving) = serve(listener, &api, limits, stop.clone()).await?;
    Ok(Running { local_addr, stop, serving, api, health, drain: limits.drain, _lock: lock })
}

/// Takes the lock beside a database: the cache is right only while nobody else writes to the log.
fn lock(database: &Path) -> Result<File, StartError> {
    let mut path = database.as_os_str().to_owned();
    path.push(".lock");
    let path = PathBuf::from(path);
    let failed = |source| StartError::Lock { path: path.clone(), source };
    let file = File::options().create(true).truncate(false).write(true).open(&path).map_err(failed)?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(StartError::InUse { path: database.to_path_buf() }),
        Err(TryLockError::Error(source)) => Err(failed(source)),
    }
}

type Serving = JoinHandle<Result<(), tonic::transport::Error>>;

async fn serve(
    listener: TcpListener,
    api: &Api,
    limits: Limits,
    stop: CancellationToken,
) -> Result<(HealthReporter, Serving), StartError> {
    let most = limits.message_bytes;
    let (health, health_service) = tonic_health::server::health_reporter();
    macro_rules! service {
        ($server:ident) => {{
            health.set_serving::<$server<Api>>().await;
            $server::new(api.clone()).max_decoding_message_size(most)
        }};
    }
    let reflection = tonic_reflection::server::Builder::configure()
        .register_encoded_file_descriptor_set(v1::FILE_DESCRIPTOR_SET)
        .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET)
        .build_v1()
        .map_err(StartError::Reflection)?;
    let router = Server::builder()
        .layer(LimitLayer { call: limits.call })
        .max_concurrent_streams(limits.streams)
        .http2_keepalive_interval(Some(PING.0))
        .http2_keepalive_timeout(Some(PING.1))
        .add_service(health_service)
        .add_service(reflection)
        .add_service(service!(RosterServiceServer))
        .add_service(service!(AthleteServiceServer))
        .add_service(service!(LadderServiceServer))
        .add_service(service!(SetLogServiceServer))
        .add_service(service!(PrescriptionServiceServer))
        .add_service(service!(CapacityServiceServer));
    let connections = ReceiverStream::new(accept(listener, limits, stop.clone()));
    let until = async move { stop.cancelled().await };
    Ok((health, tokio::spawn(router.serve_with_incoming_shutdown(connections, until))))
}

impl Running {
    /// Where the service listens.
    pub fn local_addr(&self) -> SocketAddr {
        self.local_addr
    }

    /// How many athletes' states are cached, and the bytes they take, about.
    pub fn cache_size(&self) -> (usize, usize) {
        self.api.engine.cache_size()
    }

    /// Stops in order: not serving any more to those who ask, no new connections, open calls finished within the drain
    /// time and cut off after it, writes that have begun finished, the database closed.
    pub async fn stop(self) -> Result<(), StopError> {
        let Self { stop, mut serving, api, health, drain, .. } = self;
        health.set_service_status("", ServingStatus::NotServing).await;
        stop.cancel();
        let ended = match tokio::time::timeout(drain, &mut serving).await {
            Ok(ended) => ended.unwrap_or(Ok(())).map_err(StopError::Transport),
            Err(_) => {
                // Some connection is still open: its calls had their time.
                serving.abort();
                Ok(())
            }
        };
        api.tasks.close();
        api.tasks.wait().await;
        api.engine.store().close().await.map_err(StopError::Store)?;
        ended
    }
}
