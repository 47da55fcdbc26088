//! Pulse: asks the store again and again whether it answers, and tells the health of the service to whoever watches it.

use std::sync::Arc;
use std::time::Duration;

use nextrung_api::v1::athlete_service_server::AthleteServiceServer;
use nextrung_api::v1::capacity_service_server::CapacityServiceServer;
use nextrung_api::v1::ladder_service_server::LadderServiceServer;
use nextrung_api::v1::prescription_service_server::PrescriptionServiceServer;
use nextrung_api::v1::replay_service_server::ReplayServiceServer;
use nextrung_api::v1::review_service_server::ReviewServiceServer;
use nextrung_api::v1::roster_service_server::RosterServiceServer;
use nextrung_api::v1::set_log_service_server::SetLogServiceServer;
use nextrung_engine::engine::Engine;
use tokio_util::task::AbortOnDropHandle;
use tonic::server::NamedService;
use tonic_health::ServingStatus;
use tonic_health::server::HealthReporter;

use crate::readiness::Readiness;
use crate::service::{Api, WatchedLog};

/// The name under which health tells whether there is a reason to start the service anew.
pub const LIVENESS: &str = "nextrung.liveness";

/// What health knows by its readiness: the service as a whole, readiness by name, every service of the contract.
const BY_READINESS: [&str; 10] = [
    "",
    "nextrung.readiness",
    <RosterServiceServer<Api> as NamedService>::NAME,
    <AthleteServiceServer<Api> as NamedService>::NAME,
    <LadderServiceServer<Api> as NamedService>::NAME,
    <SetLogServiceServer<Api> as NamedService>::NAME,
    <PrescriptionServiceServer<Api> as NamedService>::NAME,
    <CapacityServiceServer<Api> as NamedService>::NAME,
    <ReviewServiceServer<Api> as NamedService>::NAME,
    <ReplayServiceServer<Api> as NamedService>::NAME,
];

/// Time between two beats.
const BEAT: Duration = Duration::from_secs(1);
/// Longest the store may take to answer.
const PATIENCE: Duration = Duration::from_secs(2);

/// Tells the health of the service.
#[derive(Clone)]
pub(crate) struct Pulse {
    pub(crate) health: HealthReporter,
    pub(crate) readiness: Arc<Readiness>,
}

impl Pulse {
    /// Tells how things stand.
    pub(crate) async fn tell(&self) {
        let status = |is_good| if is_good { ServingStatus::Serving } else { ServingStatus::NotServing };
        let is_ready = self.readiness.objection().is_none();
        for name in BY_READINESS {
            self.health.set_service_status(name, status(is_ready)).await;
        }
        self.health.set_service_status(LIVENESS, status(self.readiness.is_alive())).await;
    }

    /// Ends the streams of those who watch.
    pub(crate) async fn fall_silent(&self) {
        let mut health = self.health.clone();
        for name in BY_READINESS.into_iter().chain([LIVENESS]) {
            health.clear_service_status(name).await;
        }
    }

    /// Beats until it is dropped.
    pub(crate) fn beat(self, engine: Arc<Engine<WatchedLog>>) -> AbortOnDropHandle<()> {
        AbortOnDropHandle::new(tokio::spawn(async move {
            let mut told = None;
            loop {
                let answered = tokio::time::timeout(PATIENCE, engine.store().probe()).await;
                let answers = matches!(answered, Ok(Ok(())));
                self.readiness.store_answers(answers);
                let now = (self.readiness.objection(), self.readiness.is_alive());
                if told.is_some_and(|told| told != now) {
                    tracing::warn!(
                        objection = now.0.unwrap_or("none"),
                        is_alive = now.1,
                        "readiness changed"
                    );
                    self.tell().await;
                }
                told = Some(now);
                tokio::time::sleep(BEAT).await;
            }
        }))
    }
}
