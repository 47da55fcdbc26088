//! Healthy client: a coaching app that goes on with its work, and how long each answer takes it.

use std::net::SocketAddr;
use std::time::{Duration, Instant};

use nextrung_api::v1;
use nextrung_api::v1::athlete_service_client::AthleteServiceClient;
use nextrung_api::v1::prescription_service_client::PrescriptionServiceClient;
use nextrung_api::v1::roster_service_client::RosterServiceClient;
use nextrung_api::v1::set_log_service_client::SetLogServiceClient;
use tonic::metadata::{Ascii, MetadataValue};
use tonic::transport::{Channel, Endpoint};
use tonic::{Request, Status};

use crate::messages::{ONE_ARM, athlete, date, many, pull_up, roster};

/// The roster of everybody.
pub(crate) const ROSTER: &str = "rosters/hall";
/// The athlete of the healthy client.
pub(crate) const ATHLETE: &str = "rosters/hall/athletes/wren";
/// Time between an answer and the next call.
const PAUSE: Duration = Duration::from_millis(2);
/// Sets a day, and prescriptions.
const A_DAY: usize = 80;
/// Calls on a connection before the client also opens a new one.
const CALLS_TO_A_CONNECTION: usize = 25;

/// How long answers took, in the order of their asking.
#[derive(Debug, Default)]
pub(crate) struct Times {
    /// Of calls on a connection that was there.
    pub(crate) calls: Vec<Duration>,
    /// From nothing to the first answer on a new connection.
    pub(crate) connections: Vec<Duration>,
    /// What went wrong.
    pub(crate) failures: Vec<String>,
}

/// The client.
pub(crate) struct Healthy {
    service: SocketAddr,
    bearer: MetadataValue<Ascii>,
    channel: Channel,
    written: usize,
}

impl Healthy {
    /// A client with a coach's key.
    pub(crate) async fn new(service: SocketAddr, key: &str) -> Self {
        let bearer = format!("Bearer {key}").parse().expect("a header");
        Self { service, bearer, channel: connect(service).await.expect("a connection"), written: 0 }
    }

    /// The request with the key.
    fn with_key<T>(&self, message: T) -> Request<T> {
        let mut request = Request::new(message);
        request.metadata_mut().insert("authorization", self.bearer.clone());
        request
    }

    /// Creates the roster with an operator's key.
    pub(crate) async fn create_roster(&self) {
        let request = v1::CreateRosterRequest {
            roster_id: "hall".to_owned(),
            roster: Some(roster("Hall")),
            request_id: "roster".to_owned(),
        };
        RosterServiceClient::new(self.channel.clone())
            .create_roster(self.with_key(request))
            .await
            .expect("a roster");
    }

    /// Creates an athlete with a goal and a few hundred sets.
    pub(crate) async fn create_athlete(&self, id: &str) {
        let goals = vec![v1::Goal { rung: ONE_ARM.to_owned(), ..v1::Goal::default() }];
        let request = v1::CreateAthleteRequest {
            parent: ROSTER.to_owned(),
            athlete_id: id.to_owned(),
            athlete: Some(v1::Athlete { goals, ..athlete() }),
            request_id: format!("athlete-{id}"),
        };
        AthleteServiceClient::new(self.channel.clone())
            .create_athlete(self.with_key(request))
            .await
            .expect("an athlete");
        let request = v1::RecordSetsRequest {
            parent: format!("{ROSTER}/athletes/{id}"),
            sets: many(400),
            request_id: format!("sets-{id}"),
            validate_only: false,
        };
        SetLogServiceClient::new(self.channel.clone())
            .record_sets(self.with_key(request))
            .await
            .expect("sets");
    }

    /// Works for some time: records, asks what to do, looks at the log, and connects anew now and then.
    pub(crate) async fn work(&mut self, time: Duration) -> Times {
        let (mut times, begun) = (Times::default(), Instant::now());
        while begun.elapsed() < time {
            for _ in 0..CALLS_TO_A_CONNECTION {
                let (asked, told) = (Instant::now(), self.next(self.channel.clone()).await);
                times.calls.push(asked.elapsed());
                times.failures.extend(told.err().map(|status| status.to_string()));
                tokio::time::sleep(PAUSE).await;
            }
            let asked = Instant::now();
            let told = match connect(self.service).await {
                Ok(channel) => self.next(channel).await.map_err(|status| status.to_string()),
                Err(error) => Err(error.to_string()),
            };
            times.connections.push(asked.elapsed());
            times.failures.extend(told.err());
        }
        times
    }

    /// The next call of an app's day.
    async fn next(&mut self, channel: Channel) -> Result<(), Status> {
        self.written += 1;
        match self.written % 5 {
            0 => {
                let request = v1::RecordSetsRequest {
                    parent: ATHLETE.to_owned(),
                    sets: vec![worked(self.written)],
                    request_id: format!("work-{}", self.written),
                    validate_only: false,
                };
                SetLogServiceClient::new(channel).record_sets(self.with_key(request)).await.map(drop)
            }
            1 => {
                let request =
                    v1::ListSetsRequest { parent: ATHLETE.to_owned(), ..v1::ListSetsRequest::default() };
                SetLogServiceClient::new(channel).list_sets(self.with_key(request)).await.map(drop)
            }
            _ => {
                let request = v1::PrescribeRequest {
                    parent: ATHLETE.to_owned(),
                    date: Some(date(2026, 3 + at(self.written / 22_400), 1 + at(self.written / 800) % 28)),
                    request_id: format!("work-{}", self.written),
                    validate_only: false,
                };
                PrescriptionServiceClient::new(channel).prescribe(self.with_key(request)).await.map(drop)
            }
        }
    }
}

/// The set of a number, each later than those before it.
fn worked(number: usize) -> v1::LoggedSet {
    let day = at(number / A_DAY);
    let training_date = Some(date(2024 + (6 + day / 28) / 12, 1 + (6 + day / 28) % 12, 1 + day % 28));
    v1::LoggedSet { client_set_id: format!("w-{number}"), training_date, ..pull_up(1 + at(number % A_DAY)) }
}

fn at(number: usize) -> i32 {
    i32::try_from(number).unwrap_or(i32::MAX)
}

async fn connect(service: SocketAddr) -> Result<Channel, tonic::transport::Error> {
    let endpoint = Endpoint::from_shared(format!("http://{service}"))?;
    endpoint.connect_timeout(Duration::from_secs(10)).timeout(Duration::from_secs(10)).connect().await
}
