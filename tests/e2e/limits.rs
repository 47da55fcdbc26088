//! Limits: deadlines and the number of calls at a time.

use std::net::SocketAddr;
use std::time::Duration;

use nextrung_api::v1;
use nextrung_api::v1::prescription_service_client::PrescriptionServiceClient;
use prost::Message;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpSocket, TcpStream};
use tonic::{Code, Status};
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_client::HealthClient;

use crate::messages::many;
use crate::refusal::{Refusal, refused};
use crate::service::{ATHLETE, Service, connect};
use crate::wire::{bare, framed, post};

fn is_late(refusal: &Refusal) {
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::DeadlineExceeded, "DEADLINE_EXCEEDED"));
    assert!(refusal.message.contains("same request id"), "{refusal:?}");
}

#[tokio::test]
async fn a_late_write_is_told_and_its_repeat_gets_the_answer() {
    let service = Service::start().await;
    service.new_athlete().await;
    let request = v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets: many(1000),
        request_id: "late".to_owned(),
        validate_only: false,
    };
    let mut sender = bare(service.address()).await;
    let body = framed(&request.encode_to_vec());
    let response = post(&mut sender, "SetLogService/RecordSets", body, Some("1m")).await;
    is_late(&Refusal::of(&Status::from_header_map(response.headers()).unwrap()));
    let answer = service.log().record_sets(request).await.unwrap().into_inner();
    assert_eq!((answer.sets.len(), answer.log_position), (1000, 1001));
    assert_eq!(service.listed().await, answer.sets, "recorded once, in order");
}

#[tokio::test]
async fn the_services_own_limit_is_told_alike() {
    let mut dir = {
        let service = Service::start().await;
        service.new_athlete().await;
        service.stop().await
    };
    // A call may be late before its message has come; then nothing has begun.
    for number in 0..20 {
        let service = Service::on(dir, |s| s.limits.call = Duration::from_millis(1)).await;
        is_late(&refused(service.record(&format!("late-{number}"), many(1000)).await));
        let service = Service::on(service.stop().await, |_| ()).await;
        match service.listed().await.len() {
            0 => dir = service.stop().await,
            kept => return assert_eq!(kept, 1000, "a write that has begun is finished"),
        }
    }
    panic!("no write has begun");
}

#[tokio::test]
async fn a_deadline_in_time_changes_nothing() {
    let service = Service::start().await;
    let mut sender = bare(service.address()).await;
    for timeout in ["1H", "30S", "20000m", "nonsense"] {
        let body = framed(&v1::ListRostersRequest::default().encode_to_vec());
        let response = post(&mut sender, "RosterService/ListRosters", body, Some(timeout)).await;
        assert!(response.headers().get("grpc-status").is_none(), "{timeout}: {response:?}");
    }
}

#[tokio::test]
async fn too_many_calls_are_refused_and_health_still_answers() {
    let service = Service::with(|settings| settings.limits.calls = 0).await;
    let refusal = refused(service.rosters().list_rosters(v1::ListRostersRequest::default()).await);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::ResourceExhausted, "TOO_BUSY"));
    let health = HealthClient::new(service.channel.clone()).check(HealthCheckRequest::default()).await;
    assert!(health.is_ok(), "{health:?}");
}

#[tokio::test]
async fn a_call_gives_its_place_back() {
    let service = Service::with(|settings| settings.limits.calls = 1).await;
    for _ in 0..20 {
        service.rosters().list_rosters(v1::ListRostersRequest::default()).await.unwrap();
    }
    service.new_athlete().await;
    let calls: Vec<_> = (0..20)
        .map(|n| {
            let mut log = service.log();
            let request = v1::RecordSetsRequest {
                parent: ATHLETE.to_owned(),
                sets: many(1),
                request_id: n.to_string(),
                validate_only: false,
            };
            tokio::spawn(async move { log.record_sets(request).await.map(tonic::Response::into_inner) })
        })
        .collect();
    let mut done = 0;
    for call in calls {
        match call.await.unwrap() {
            Ok(_) => done += 1,
            Err(status) => assert_eq!(Refusal::of(&status).reason, "TOO_BUSY"),
        }
    }
    assert!(done >= 1);
    assert_eq!(service.listed().await.len(), 1);
}

/// A connection from an address that says nothing.
async fn silent(from: [u8; 4], service: SocketAddr) -> TcpStream {
    let socket = TcpSocket::new_v4().unwrap();
    socket.bind((from, 0).into()).unwrap();
    socket.connect(service).await.unwrap()
}

#[tokio::test]
async fn one_address_has_so_many_connections_and_others_have_theirs() {
    let service = Service::with(|settings| settings.limits.connections_of_one = 3).await;
    let greedy = [127, 0, 0, 2];
    let mut kept = Vec::new();
    for _ in 0..3 {
        kept.push(silent(greedy, service.address()).await);
    }
    let mut fourth = silent(greedy, service.address()).await;
    assert_eq!(fourth.read(&mut [0]).await.ok().filter(|read| *read > 0), None, "closed at once");
    service.rosters().list_rosters(v1::ListRostersRequest::default()).await.unwrap();
    drop(kept);
    // The service hears of it a little later.
    loop {
        let mut again = silent(greedy, service.address()).await;
        let closed = tokio::time::timeout(Duration::from_millis(50), again.read(&mut [0])).await;
        if closed.is_err() {
            break;
        }
    }
}

#[tokio::test]
async fn an_idle_connection_is_asked_to_end_and_one_with_a_call_is_not() {
    let service = Service::with(|settings| {
        settings.limits.idle = Duration::from_millis(300);
        settings.limits.preface = Duration::from_millis(500);
    })
    .await;
    service.new_athlete().await;
    let watched = connect(service.address()).await;
    let request = v1::WatchPrescriptionsRequest { names: vec![ATHLETE.to_owned()], date: None };
    let mut stream =
        PrescriptionServiceClient::new(watched).watch_prescriptions(request).await.unwrap().into_inner();
    assert!(stream.message().await.unwrap().is_some());
    let mut idle = silent([127, 0, 0, 1], service.address()).await;
    // A preface and empty settings (RFC 9113, 3.4 and 6.5).
    idle.write_all(b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\0\0\0\x04\0\0\0\0\0").await.unwrap();
    let mut said = Vec::new();
    let ended = tokio::time::timeout(Duration::from_secs(20), idle.read_to_end(&mut said)).await;
    assert!(ended.is_ok() && goodbye(&said), "{said:?}");
    service.record("later", many(8)).await.unwrap();
    let told = tokio::time::timeout(Duration::from_millis(400), stream.message()).await;
    assert!(!matches!(told, Ok(Err(_) | Ok(None))), "{told:?}");
}

/// Whether the frames a service sent have GOAWAY (RFC 9113, 6.8) among them.
fn goodbye(mut frames: &[u8]) -> bool {
    while let [a, b, c, kind, ..] = *frames {
        if kind == 7 {
            return true;
        }
        let length = usize::try_from(u32::from_be_bytes([0, a, b, c])).unwrap();
        frames = frames.get(9 + length..).unwrap_or_default();
    }
    false
}
