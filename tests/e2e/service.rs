//! Service: one in this process, with its clients and the few requests nearly every test needs.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

use nextrung_api::v1;
use nextrung_api::v1::athlete_service_client::AthleteServiceClient;
use nextrung_api::v1::capacity_service_client::CapacityServiceClient;
use nextrung_api::v1::ladder_service_client::LadderServiceClient;
use nextrung_api::v1::prescription_service_client::PrescriptionServiceClient;
use nextrung_api::v1::review_service_client::ReviewServiceClient;
use nextrung_api::v1::roster_service_client::RosterServiceClient;
use nextrung_api::v1::set_log_service_client::SetLogServiceClient;
use nextrung_domain::date::CivilDate;
use nextrung_server::{Running, Settings, start};
use tempfile::TempDir;
use tonic::Status;
use tonic::transport::{Channel, Endpoint};

use crate::messages::{athlete, roster};

/// The roster that [`Service::new_athlete`] makes.
pub(crate) const ROSTER: &str = "rosters/hall";
/// The athlete that [`Service::new_athlete`] makes.
pub(crate) const ATHLETE: &str = "rosters/hall/athletes/wren";

/// A free loopback port.
pub(crate) fn loopback() -> SocketAddr {
    ([127, 0, 0, 1], 0).into()
}

/// The date on which every service stands.
pub(crate) fn today() -> CivilDate {
    CivilDate::from_parts(2026, 3, 10).unwrap()
}

/// A running service with a database of its own.
pub(crate) struct Service {
    running: Running,
    pub(crate) channel: Channel,
    dir: TempDir,
}

impl Service {
    pub(crate) async fn start() -> Self {
        Self::with(|_| ()).await
    }

    /// A service with other settings than the usual ones.
    pub(crate) async fn with(change: impl FnOnce(&mut Settings)) -> Self {
        Self::on(tempfile::tempdir().unwrap(), change).await
    }

    /// A service on a database that may be there already.
    pub(crate) async fn on(dir: TempDir, change: impl FnOnce(&mut Settings)) -> Self {
        let mut settings = Settings::new(loopback(), dir.path().join("log.sqlite"));
        settings.today = Some(today());
        // So long that no stop that waits for it is taken for one that does not, however busy the machine is.
        settings.limits.drain = Duration::from_secs(60);
        change(&mut settings);
        let running = start(settings).await.unwrap();
        let channel = connect(running.local_addr()).await;
        Self { running, channel, dir }
    }

    pub(crate) fn address(&self) -> SocketAddr {
        self.running.local_addr()
    }

    pub(crate) fn database(&self) -> PathBuf {
        self.dir.path().join("log.sqlite")
    }

    /// Stops it; gives what it leaves on disk.
    pub(crate) async fn stop(self) -> TempDir {
        self.running.stop().await.unwrap();
        self.dir
    }

    /// Drops it without a stop; gives what it leaves on disk.
    pub(crate) fn abandon(self) -> TempDir {
        let Self { running, channel: _, dir } = self;
        drop(running);
        dir
    }

    pub(crate) fn rosters(&self) -> RosterServiceClient<Channel> {
        RosterServiceClient::new(self.channel.clone())
    }

    pub(crate) fn athletes(&self) -> AthleteServiceClient<Channel> {
        AthleteServiceClient::new(self.channel.clone())
    }

    pub(crate) fn ladders(&self) -> LadderServiceClient<Channel> {
        LadderServiceClient::new(self.channel.clone())
    }

    pub(crate) fn log(&self) -> SetLogServiceClient<Channel> {
        SetLogServiceClient::new(self.channel.clone())
    }

    pub(crate) fn prescriptions(&self) -> PrescriptionServiceClient<Channel> {
        PrescriptionServiceClient::new(self.channel.clone())
    }

    pub(crate) fn capacities(&self) -> CapacityServiceClient<Channel> {
        CapacityServiceClient::new(self.channel.clone())
    }

    pub(crate) fn reviews(&self) -> ReviewServiceClient<Channel> {
        ReviewServiceClient::new(self.channel.clone())
    }

    /// Creates the roster [`ROSTER`].
    pub(crate) async fn new_roster(&self) -> v1::Roster {
        let request = v1::CreateRosterRequest {
            roster_id: "hall".to_owned(),
            roster: Some(roster("Hall")),
            request_id: "create-hall".to_owned(),
        };
        self.rosters().create_roster(request).await.unwrap().into_inner().roster.unwrap()
    }

    /// Creates the athlete [`ATHLETE`] in a new roster [`ROSTER`].
    pub(crate) async fn new_athlete(&self) -> v1::Athlete {
        self.new_roster().await;
        self.add_athlete("wren", athlete()).await
    }

    /// Creates an athlete in [`ROSTER`].
    pub(crate) async fn add_athlete(&self, id: &str, athlete: v1::Athlete) -> v1::Athlete {
        let request = v1::CreateAthleteRequest {
            parent: ROSTER.to_owned(),
            athlete_id: id.to_owned(),
            athlete: Some(athlete),
            request_id: format!("create-{id}"),
        };
        self.athletes().create_athlete(request).await.unwrap().into_inner().athlete.unwrap()
    }

    /// Records sets of [`ATHLETE`].
    pub(crate) async fn record(
        &self,
        request_id: &str,
        sets: Vec<v1::LoggedSet>,
    ) -> Result<v1::RecordSetsResponse, Status> {
        let request = v1::RecordSetsRequest {
            parent: ATHLETE.to_owned(),
            sets,
            request_id: request_id.to_owned(),
            validate_only: false,
        };
        Ok(self.log().record_sets(request).await?.into_inner())
    }

    /// Every set of [`ATHLETE`], withdrawn ones too.
    pub(crate) async fn listed(&self) -> Vec<v1::LoggedSet> {
        let request = v1::ListSetsRequest {
            parent: ATHLETE.to_owned(),
            page_size: 1000,
            include_withdrawn: true,
            ..v1::ListSetsRequest::default()
        };
        self.log().list_sets(request).await.unwrap().into_inner().sets
    }
}

/// A connection to a service.
pub(crate) async fn connect(address: SocketAddr) -> Channel {
    Endpoint::from_shared(format!("http://{address}")).unwrap().connect().await.unwrap()
}
