//! Limits: deadlines and the number of calls at a time.

use std::time::Duration;

use nextrung_api::v1;
use prost::Message;
use tonic::{Code, Status};
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_client::HealthClient;

use crate::messages::many;
use crate::refusal::{Refusal, refused};
use crate::service::{ATHLETE, Service};
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
    let dir = {
        let service = Service::start().await;
        service.new_athlete().await;
        service.stop().await
    };
    let service = Service::on(dir, |s| s.limits.call = Duration::from_millis(1)).await;
    is_late(&refused(service.record("late", many(1000)).await));
    let dir = service.stop().await;
    let service = Service::on(dir, |_| ()).await;
    assert_eq!(service.listed().await.len(), 1000, "a write that has begun is finished");
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
