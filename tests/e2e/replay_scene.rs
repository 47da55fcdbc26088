//! Replay scene: a roster whose sets arrived over two months, late ones, a correction and a withdrawal among them. Invented.

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use nextrung_api::v1::replay_roster_response::Piece;
use nextrung_api::v1::replay_service_client::ReplayServiceClient;
use nextrung_domain::date::CivilDate;
use tempfile::TempDir;
use tonic::transport::{Channel, Endpoint};
use tonic::{Status, Streaming};

use crate::messages::{ONE_ARM, PULL_UP, date, pull_up};
use crate::service::{ATHLETE, ROSTER, Service};

pub(crate) const ROW: &str = "ladders/row/rungs/row-30";
/// Athletes with many sets; `finch` has one, `heron` none.
pub(crate) const MANY: [&str; 3] = ["lark", "owl", "wren"];
/// Sets that are recorded in [`recorded`], withdrawn ones too.
pub(crate) const SETS: i64 = 3 * 80 + 1;

pub(crate) fn athlete_name(id: &str) -> String {
    format!("{ROSTER}/athletes/{id}")
}

fn day(month: i64, day: i64) -> CivilDate {
    CivilDate::from_parts(2026, month, day).unwrap()
}

/// A working set of an athlete: pull-ups in one half of the day, rows in the other; how it went follows from its numbers.
fn set(of: i32, month: i32, day: i32, number: i32) -> v1::LoggedSet {
    let reps = 3 + (of * 3 + day * 5 + number * 2) % 5;
    let (stop, planned_target) = match (day + number) % 6 {
        0 => (v1::Stop::Target, Some(reps)),
        1 => (v1::Stop::Chosen, None),
        _ => (v1::Stop::Strength, Some(8)),
    };
    v1::LoggedSet {
        client_set_id: format!("s-{month}-{day}-{number}"),
        training_date: Some(date(2026, month, day)),
        rung: if number <= 2 { PULL_UP } else { ROW }.to_owned(),
        done: Some(Done::Reps(reps)),
        stop: stop.into(),
        planned_target,
        ..pull_up(number)
    }
}

/// Ten days of four sets.
fn month(of: i32, month: i32) -> Vec<v1::LoggedSet> {
    (0..40).map(|n| set(of, month, 1 + 2 * (n / 4), 1 + n % 4)).collect()
}

pub(crate) async fn record(service: &Service, id: &str, request_id: &str, sets: Vec<v1::LoggedSet>) {
    let request = v1::RecordSetsRequest {
        parent: athlete_name(id),
        sets,
        request_id: format!("{id}-{request_id}"),
        validate_only: false,
    };
    service.log().record_sets(request).await.unwrap();
}

async fn on(dir: TempDir, today: CivilDate) -> Service {
    Service::on(dir, |settings| settings.today = Some(today)).await
}

/// The roster on disk.
pub(crate) async fn recorded() -> TempDir {
    let service = on(tempfile::tempdir().unwrap(), day(1, 25)).await;
    service.new_roster().await;
    for id in MANY.into_iter().chain(["finch", "heron"]) {
        let goals = vec![v1::Goal { rung: ONE_ARM.to_owned(), by_date: None }];
        service.add_athlete(id, v1::Athlete { goals, ..crate::messages::athlete() }).await;
    }
    for (of, id) in (0..).zip(MANY) {
        // What was trained on the fifth day arrives a month late.
        let sets = month(of, 1).into_iter().filter(|set| set.training_date.unwrap().day != 9);
        record(&service, id, "january", sets.collect()).await;
    }
    let service = on(service.stop().await, day(2, 25)).await;
    for (of, id) in (0..).zip(MANY) {
        record(&service, id, "february", month(of, 2)).await;
        record(&service, id, "late", (1..=4).map(|number| set(of, 1, 9, number)).collect()).await;
    }
    record(&service, "finch", "only", vec![set(1, 2, 3, 1)]).await;
    let corrected = v1::CorrectSetRequest {
        name: format!("{ATHLETE}/sets/s-2-3-1"),
        replacement: Some(v1::LoggedSet { done: Some(Done::Reps(7)), ..set(2, 2, 3, 1) }),
        reason: "counted again".to_owned(),
        request_id: "correct".to_owned(),
    };
    service.log().correct_set(corrected).await.unwrap();
    let withdrawn = v1::WithdrawSetRequest {
        name: format!("{ATHLETE}/sets/s-2-5-3"),
        reason: "somebody else's".to_owned(),
        request_id: "withdraw".to_owned(),
    };
    service.log().withdraw_set(withdrawn).await.unwrap();
    service.stop().await
}

/// A service over the roster of [`recorded`].
pub(crate) async fn roster() -> Service {
    Service::on(recorded().await, |_| ()).await
}

pub(crate) fn request() -> v1::ReplayRosterRequest {
    v1::ReplayRosterRequest { name: ROSTER.to_owned(), ..v1::ReplayRosterRequest::default() }
}

pub(crate) fn selecting(selection: v1::ReplaySelection) -> v1::ReplayRosterRequest {
    v1::ReplayRosterRequest { selection: Some(selection), ..request() }
}

pub(crate) type Telling = Streaming<v1::ReplayRosterResponse>;

pub(crate) async fn begin(service: &Service, request: v1::ReplayRosterRequest) -> Result<Telling, Status> {
    Ok(ReplayServiceClient::new(service.channel.clone()).replay_roster(request).await?.into_inner())
}

/// As [`begin`], over a connection on which little is sent ahead of the reader.
pub(crate) async fn begin_narrow(
    service: &Service,
    request: v1::ReplayRosterRequest,
) -> Result<Telling, Status> {
    let endpoint = Endpoint::from_shared(format!("http://{}", service.address())).unwrap();
    let endpoint = endpoint.initial_stream_window_size(65_535).initial_connection_window_size(65_535);
    let channel: Channel = endpoint.connect().await.unwrap();
    Ok(ReplayServiceClient::new(channel).replay_roster(request).await?.into_inner())
}

/// The next piece, or nothing at the end.
pub(crate) async fn next(telling: &mut Telling) -> Result<Option<Piece>, Status> {
    Ok(telling.message().await?.map(|response| response.piece.unwrap()))
}

/// What a replay told.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Told {
    pub(crate) progress: Vec<v1::ReplayProgress>,
    pub(crate) rows: Vec<v1::ReplayRow>,
    pub(crate) summary: v1::ReplaySummary,
}

/// Reads a replay to its end; the summary must come once and last.
pub(crate) async fn read(mut telling: Telling) -> Result<Told, Status> {
    let mut told = Told::default();
    let mut ends = 0;
    while let Some(piece) = next(&mut telling).await? {
        assert_eq!(ends, 0, "nothing comes after the summary");
        match piece {
            Piece::Progress(progress) => told.progress.push(progress),
            Piece::Rows(rows) => told.rows.extend(rows.rows),
            Piece::Summary(summary) => {
                told.summary = *summary;
                ends += 1;
            }
        }
    }
    assert_eq!(ends, 1, "one summary");
    Ok(told)
}

/// The whole of a replay.
pub(crate) async fn replay(service: &Service, request: v1::ReplayRosterRequest) -> Result<Told, Status> {
    read(begin(service, request).await?).await
}

/// How many of something a summary counts.
pub(crate) fn count(counts: &[v1::ReplayCount], about: &str) -> i64 {
    counts.iter().find(|count| count.about.contains(about)).map_or(0, |count| count.count)
}
