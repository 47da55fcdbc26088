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
use nextrung_api::v1::replay_service_server::ReplayServiceServer;
use nextrung_api::v1::review_service_server::ReviewServiceServer;
use nextrung_api::v1::roster_service_server::RosterServiceServer;
use nextrung_api::v1::set_log_service_server::SetLogServiceServer;
use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_domain::catalog::Catalog;
use nextrung_engine::clock::{Clock, FixedClock, SystemClock};
use nextrung_engine::engine::Engine;
use nextrung_prescribe::policy::Policy;
use nextrung_replay::refit::fit::{FitError, Version};
use nextrung_replay::refit::shelf::{Shelf, ShelfError};
use nextrung_store::error::StoreError;
use nextrung_store::log::{Log, Place};
use nextrung_store::store::Store;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio_util::sync::CancellationToken;
use tokio_util::task::{AbortOnDropHandle, TaskTracker};
use tonic::service::Routes;
use tonic_health::server::HealthReporter;

use crate::access::Access;
use crate::access::register::Register;
use crate::door::Door;
use crate::front::Front;
use crate::ladders::{LaddersError, embedded, from_folder};
use crate::listen::Listening;
use crate::listen::tls::{Tls, TlsError};
use crate::meter::Meter;
use crate::pulse::Pulse;
use crate::readiness::Readiness;
use crate::service::{Api, WatchedLog};
use crate::settings::{LadderSource, Limits, Settings};
use crate::side_port::{Desk, SidePort};
use crate::watched_store::WatchedStore;
use crate::witness::Witness;

/// Longest that writes which have begun and the closing of the database are waited for, once no call runs any more.
const LAST_WRITES: Duration = Duration::from_secs(15);

/// Why the service did not start.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The address can be reached from other machines.
    #[error(
        "refused to listen on {listen}: without keys and TLS the service takes loopback addresses only, such as 127.0.0.1:7878 or [::1]:7878"
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
    /// The address for metrics and probes is not free.
    #[error("cannot serve metrics and probes on {listen}")]
    Metrics {
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
    /// The shelf of refitted versions has none in force that can be read.
    #[error("the shelf {} cannot be used", folder.display())]
    Shelf {
        /// The folder.
        folder: PathBuf,
        /// Why.
        #[source]
        source: ShelfError,
    },
    /// The version in force cannot be used on these ladders.
    #[error("the version {version}, which is in force, cannot be used")]
    Fit {
        /// The version.
        version: Version,
        /// Why.
        #[source]
        source: FitError,
    },
    /// The certificates cannot be used.
    #[error("TLS cannot be used")]
    Tls(#[source] TlsError),
    /// The description of the contract cannot be served.
    #[error("cannot serve the contract's description")]
    Reflection(#[source] tonic_reflection::server::Error),
}

/// Why the service did not stop as it should.
#[derive(Debug, thiserror::Error)]
pub enum StopError {
    /// The database was not closed well; what was acknowledged is kept all the same.
    #[error("the database was not closed well")]
    Store(#[source] StoreError),
    /// Writes that had begun, or the closing of the database, did not end in time; none of them was acknowledged.
    #[error("writes that had begun or the closing of the database did not end within {} s", LAST_WRITES.as_secs())]
    Stuck,
}

/// A running service. Dropping it ends it at once; [`stop`](Self::stop) lets open calls finish.
pub struct Running {
    local_addr: SocketAddr,
    listening: Listening,
    api: Api,
    register: Arc<Register>,
    pulse: Pulse,
    beat: AbortOnDropHandle<()>,
    side: Option<SidePort>,
    limits: Limits,
    _lock: Option<File>,
}

/// Starts the service; it is ready when this returns. Metrics and probes are served from the beginning on, and say that it is
/// not ready. Must be called within a tokio runtime.
pub async fn start(settings: Settings) -> Result<Running, StartError> {
    let (listen, limits, keys) = (settings.listen, settings.limits, settings.keys);
    let is_guarded = settings.trusted_network || (keys && settings.tls.is_some());
    if !listen.ip().is_loopback() && !is_guarded {
        return Err(StartError::NotLoopback { listen });
    }
    let origins = settings.origins.clone();
    let desk = Desk { meter: Arc::new(Meter::new()), readiness: Arc::new(Readiness::starting()) };
    let tls = settings.tls.clone().map(|files| Tls::load(files, desk.meter.clone()));
    let tls = tls.transpose().map_err(StartError::Tls)?;
    let side = match settings.metrics {
        None => None,
        Some(listen) => {
            let opened = SidePort::open(listen, desk.clone()).await;
            Some(opened.map_err(|source| StartError::Metrics { listen, source })?)
        }
    };
    // A file is one service's own. Services that share a database compare what they remember with it.
    let lock = match &settings.database {
        Place::File(path) => Some(lock(path)?),
        Place::Postgres(_) => None,
    };
    let engine = Arc::new(engine(settings, &desk).await?);
    let watchers = Arc::new(Semaphore::new(limits.watchers));
    let replays = Arc::new(Semaphore::new(limits.replays));
    let api = Api { engine, tasks: TaskTracker::new(), watchers, replays, stop: CancellationToken::new() };
    let failed = |source| StartError::Listen { listen, source };
    let listener = TcpListener::bind(listen).await.map_err(failed)?;
    let local_addr = listener.local_addr().map_err(failed)?;
    let (health, routes) = routes(&api, limits.message_bytes)?;
    let Desk { meter, readiness } = desk;
    let pulse = Pulse { health, readiness };
    let access = keys.then(|| Access::new(&api.engine, &limits));
    let register = Register::begin(api.engine.shared_store(), api.engine.shared_clock());
    let door = Door::new(routes, access, (limits, Witness::new(meter.clone(), register.clone())));
    let front = Front::new(door, origins, keys);
    let listening = Listening::begin(listener, tls, front, limits, meter);
    pulse.readiness.serve();
    pulse.tell().await;
    let beat = pulse.clone().beat(api.engine.clone());
    tracing::info!(%local_addr, "ready");
    Ok(Running { local_addr, listening, api, register, pulse, beat, side, limits, _lock: lock })
}

/// The engine over the database of the settings.
pub(crate) async fn engine(settings: Settings, desk: &Desk) -> Result<Engine<WatchedLog>, StartError> {
    let catalog = match settings.ladders {
        LadderSource::Embedded => embedded()?,
        LadderSource::Folder(folder) => from_folder(&folder)?,
    };
    let model = match settings.shelf {
        None => Model::new(Arc::new(catalog), Parameters::default()),
        Some(folder) => in_force(&folder, &catalog)?,
    };
    let store = Log::open(&settings.database, settings.store).await.map_err(StartError::Store)?;
    let store = WatchedStore::new(store, desk.meter.clone(), desk.readiness.clone());
    let clock: Arc<dyn Clock> = match settings.today {
        Some(today) => Arc::new(FixedClock { today }),
        None => Arc::new(SystemClock),
    };
    let engine = Engine::new(store, model, Policy::default(), clock);
    Ok(engine.caching(settings.cached_athletes).observed_by(desk.meter.clone()))
}

/// The model of the version in force on a shelf of refitted versions.
fn in_force(folder: &Path, catalog: &Catalog) -> Result<Model, StartError> {
    let on_shelf = |source| StartError::Shelf { folder: folder.to_owned(), source };
    let shelf = Shelf::open(folder).map_err(on_shelf)?;
    let version = shelf.current().map_err(on_shelf)?;
    let fit = shelf.get(&version).map_err(on_shelf)?;
    fit.model(catalog).map_err(|source| StartError::Fit { version, source })
}

/// Takes the lock beside a database's file, held until what is given is dropped: what a service remembers is right only while
/// nobody else writes to the log. Fails with [`StartError::InUse`] and [`StartError::Lock`].
pub fn lock(database: &Path) -> Result<File, StartError> {
    let mut path = database.as_os_str().to_owned();
    path.push(".lock");
    let path = PathBuf::from(path);
    let failed = |source| StartError::Lock { path: path.clone(), source };
    let mut options = File::options();
    options.create(true).truncate(false).write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let file = options.open(&path).map_err(failed)?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(StartError::InUse { path: database.to_path_buf() }),
        Err(TryLockError::Error(source)) => Err(failed(source)),
    }
}

/// Every service; `most` is the largest message in bytes.
pub(crate) fn routes(api: &Api, most: usize) -> Result<(HealthReporter, Routes), StartError> {
    let (health, health_service) = tonic_health::server::health_reporter();
    let reflection = tonic_reflection::server::Builder::configure()
        .register_encoded_file_descriptor_set(v1::FILE_DESCRIPTOR_SET)
        .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET)
        .build_v1()
        .map_err(StartError::Reflection)?;
    let routes = Routes::new(health_service)
        .add_service(reflection)
        .add_service(RosterServiceServer::new(api.clone()).max_decoding_message_size(most))
        .add_service(AthleteServiceServer::new(api.clone()).max_decoding_message_size(most))
        .add_service(LadderServiceServer::new(api.clone()).max_decoding_message_size(most))
        .add_service(SetLogServiceServer::new(api.clone()).max_decoding_message_size(most))
        .add_service(PrescriptionServiceServer::new(api.clone()).max_decoding_message_size(most))
        .add_service(CapacityServiceServer::new(api.clone()).max_decoding_message_size(most))
        .add_service(ReviewServiceServer::new(api.clone()).max_decoding_message_size(most))
        .add_service(ReplayServiceServer::new(api.clone()).max_decoding_message_size(most));
    Ok((health, routes))
}

impl Running {
    /// Where the service listens.
    pub fn local_addr(&self) -> SocketAddr {
        self.local_addr
    }

    /// Where metrics and probes are served, if anywhere.
    pub fn metrics_addr(&self) -> Option<SocketAddr> {
        self.side.as_ref().map(|side| side.local_addr)
    }

    /// How many athletes' states are cached, and the bytes they take, about.
    pub fn cache_size(&self) -> (usize, usize) {
        self.api.engine.cache_size()
    }

    /// Waits until the store has stopped for good, as after a failed sync of its file: reads go on, nothing is written any more,
    /// and only a new start helps.
    pub async fn store_stopped(&self) {
        self.pulse.readiness.broken().await;
    }

    /// Stops in order: not ready any more, for as long as those who ask need to notice; no new connections, streams that would
    /// go on closed, open calls finished within the drain time and cut off after it; writes that have begun finished, the
    /// database closed. Metrics and probes are served to the end.
    pub async fn stop(self) -> Result<(), StopError> {
        let Self { listening, api, register, pulse, beat, limits, .. } = &self;
        beat.abort();
        pulse.readiness.drain();
        pulse.tell().await;
        tokio::time::sleep(limits.notice).await;
        listening.close();
        api.stop.cancel();
        // Ends the streams of those who watch; they have been told.
        pulse.fall_silent().await;
        listening.ended(limits.drain).await;
        api.tasks.close();
        let last = async {
            api.tasks.wait().await;
            register.close().await;
            api.engine.store().close().await.map_err(StopError::Store)
        };
        tokio::time::timeout(LAST_WRITES, last).await.unwrap_or(Err(StopError::Stuck))
    }
}
