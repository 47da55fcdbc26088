//! Stopping: within the time to drain, whoever is still connected, and with every write that had begun.

use std::time::{Duration, Instant};

use nextrung_api::v1;
use tempfile::TempDir;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio_stream::StreamExt;
use tonic_reflection::pb::v1::ServerReflectionRequest;
use tonic_reflection::pb::v1::server_reflection_client::ServerReflectionClient;

use crate::messages::{many, pull_up};
use crate::service::{ATHLETE, ROSTER, Service, connect};

/// Well below the time to drain of a minute.
const AT_ONCE: Duration = Duration::from_secs(20);

/// Stops a service; gives what it leaves on disk and how long it took.
async fn timed_stop(service: Service) -> (TempDir, Duration) {
    let start = Instant::now();
    let dir = service.stop().await;
    (dir, start.elapsed())
}

#[tokio::test]
async fn silent_idle_and_half_spoken_connections_do_not_hold_up_the_stop() {
    let service = Service::start().await;
    let silent = TcpStream::connect(service.address()).await.unwrap();
    let mut half = TcpStream::connect(service.address()).await.unwrap();
    half.write_all(b"PRI * HTTP/2.0\r\n").await.unwrap();
    let idle = connect(service.address()).await;
    let mut rosters = v1::roster_service_client::RosterServiceClient::new(idle);
    rosters.list_rosters(v1::ListRostersRequest::default()).await.unwrap();
    let (_dir, took) = timed_stop(service).await;
    assert!(took < AT_ONCE, "{took:?}");
    drop((silent, half));
    assert!(rosters.list_rosters(v1::ListRostersRequest::default()).await.is_err());
}

#[tokio::test]
async fn connections_that_do_not_greet_in_time_are_closed() {
    let service = Service::with(|s| s.limits.preface = Duration::from_millis(500)).await;
    for greeting in ["", "PRI * HTTP/2.0\r\n", "GET / HTTP/1.1\r\nhost: a\r\n\r\n"] {
        let mut stream = TcpStream::connect(service.address()).await.unwrap();
        stream.write_all(greeting.as_bytes()).await.unwrap();
        let mut rest = Vec::new();
        let closed = tokio::time::timeout(AT_ONCE, stream.read_to_end(&mut rest)).await;
        assert!(closed.is_ok(), "{greeting:?}");
    }
    service.new_athlete().await;
}

#[tokio::test]
async fn only_so_many_connections_are_taken_and_a_closed_one_makes_room() {
    let service = Service::with(|s| s.limits.connections = 2).await;
    let silent = TcpStream::connect(service.address()).await.unwrap();
    let (address, wait) = (service.address(), Duration::from_millis(100));
    let third = tokio::spawn(async move {
        let mut rosters = v1::roster_service_client::RosterServiceClient::new(connect(address).await);
        rosters.list_rosters(v1::ListRostersRequest::default()).await
    });
    tokio::time::sleep(wait).await;
    assert!(!third.is_finished(), "it waits for a place");
    drop(silent);
    third.await.unwrap().unwrap();
}

#[tokio::test]
async fn a_call_that_does_not_end_is_cut_off_after_the_time_to_drain() {
    let drain = Duration::from_millis(300);
    let service = Service::with(|s| s.limits.drain = drain).await;
    let mut client = ServerReflectionClient::new(service.channel.clone());
    let never = tokio_stream::pending::<ServerReflectionRequest>();
    let mut answers = client.server_reflection_info(never).await.unwrap().into_inner();
    let (_dir, took) = timed_stop(service).await;
    assert!(drain <= took && took < AT_ONCE, "{took:?}");
    let end = answers.next().await;
    assert!(end.is_none_or(|answer| answer.is_err()));
}

#[tokio::test]
async fn an_open_call_is_finished() {
    let service = Service::start().await;
    service.new_athlete().await;
    let mut log = service.log();
    let request = v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets: many(1000),
        request_id: "1".to_owned(),
        validate_only: false,
    };
    let call = tokio::spawn(async move { log.record_sets(request).await });
    tokio::time::sleep(Duration::from_millis(20)).await;
    let (dir, _) = timed_stop(service).await;
    let answer = call.await.unwrap();
    let service = Service::on(dir, |_| ()).await;
    let kept = service.listed().await;
    match answer {
        Ok(answer) => assert_eq!(kept, answer.into_inner().sets),
        Err(_) => assert!(kept.is_empty() || kept.len() == 1000),
    }
}

/// Stops a service while many writes are in flight. Every acknowledged one must be there after a restart, and the repeat
/// of every other one must work.
#[tokio::test]
async fn writes_in_flight_at_the_stop_are_kept_or_can_be_repeated() {
    let mut dir = None;
    for (round, drain) in [0, 1, 50, 2000].into_iter().enumerate() {
        let limit = |s: &mut nextrung_server::Settings| s.limits.drain = Duration::from_millis(drain);
        let service = match dir.take() {
            Some(dir) => Service::on(dir, limit).await,
            None => Service::with(limit).await,
        };
        if round == 0 {
            service.new_athlete().await;
        }
        let requests: Vec<_> = (0..60_i32).map(|n| write(round, n)).collect();
        let calls: Vec<_> = requests
            .iter()
            .map(|request| {
                let (mut log, request) = (service.log(), request.clone());
                tokio::spawn(async move { log.record_sets(request).await })
            })
            .collect();
        tokio::time::sleep(Duration::from_millis(5)).await;
        let stopped = service.stop().await;
        let again = Service::on(stopped, |_| ()).await;
        for (call, request) in calls.into_iter().zip(requests) {
            let answer = call.await.unwrap();
            let repeat = again.log().record_sets(request.clone()).await.unwrap().into_inner();
            if let Ok(answer) = answer {
                assert_eq!(answer.into_inner(), repeat);
            }
        }
        let prefix = format!("r{round}-");
        let kept = again.listed().await.into_iter().filter(|s| s.client_set_id.starts_with(&prefix)).count();
        assert_eq!(kept, 60, "each once");
        dir = Some(again.stop().await);
    }
}

fn write(round: usize, number: i32) -> v1::RecordSetsRequest {
    let set = v1::LoggedSet {
        client_set_id: format!("r{round}-{number}"),
        session: i32::try_from(round).unwrap() + 1,
        ..pull_up(number + 1)
    };
    v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets: vec![set],
        request_id: format!("{round}-{number}"),
        validate_only: false,
    }
}

#[tokio::test]
async fn what_was_acknowledged_is_there_after_a_restart() {
    let service = Service::start().await;
    let athlete = service.new_athlete().await;
    let recorded = service.record("1", many(7)).await.unwrap();
    let service = Service::on(service.stop().await, |_| ()).await;
    assert_eq!(service.listed().await, recorded.sets);
    let list = v1::ListAthletesRequest { parent: ROSTER.to_owned(), ..Default::default() };
    let athletes = service.athletes().list_athletes(list).await.unwrap().into_inner().athletes;
    assert_eq!(athletes, [v1::Athlete { log_position: recorded.log_position, ..athlete }]);
}
