//! Allowances: what one key may ask for, and how long an answer goes on.

use std::num::NonZeroU32;
use std::time::Duration;

use nextrung_api::v1;
use nextrung_server::access::Role;
use nextrung_server::access::keeper::revoke;
use nextrung_server::access::key_text::KeyText;
use prost::Message;
use tonic::metadata::{Ascii, MetadataValue};
use tonic::{Code, Request, Response, Status, Streaming};
use tonic_types::StatusExt;

use crate::access::guarded_with;
use crate::messages::date;
use crate::refusal::{Refusal, refused};
use crate::service::{ATHLETE, Service};
use crate::wire::{bare, begin, framed};

/// The request with a key.
fn with_key<T>(message: T, key: &str) -> Request<T> {
    let mut request = Request::new(message);
    let value: MetadataValue<Ascii> = format!("Bearer {key}").parse().unwrap();
    request.metadata_mut().insert("authorization", value);
    request
}

async fn get(service: &Service, key: &str) -> Result<Response<v1::GetAthleteResponse>, Status> {
    let request = v1::GetAthleteRequest { name: ATHLETE.to_owned() };
    service.athletes().get_athlete(with_key(request, key)).await
}

async fn watch(service: &Service, key: &str) -> Result<Streaming<v1::WatchPrescriptionsResponse>, Status> {
    let request =
        v1::WatchPrescriptionsRequest { names: vec![ATHLETE.to_owned()], date: Some(date(2026, 3, 10)) };
    service.prescriptions().watch_prescriptions(with_key(request, key)).await.map(Response::into_inner)
}

/// One point a second over time.
fn of_points(burst: u32) -> impl FnOnce(&mut nextrung_server::Settings) {
    move |settings| {
        settings.limits.key.points = NonZeroU32::MIN;
        settings.limits.key.burst = NonZeroU32::new(burst).unwrap();
    }
}

#[tokio::test]
async fn a_key_that_asks_too_fast_is_told_how_long_to_wait_and_others_go_on() {
    // A week costs 20 points, an athlete 1.
    let (service, keys) = guarded_with(of_points(40)).await;
    let (busy, other) = (keys.hall(Role::Coach), keys.hall(Role::Analyst));
    let week = v1::PlanWeekRequest {
        parent: ATHLETE.to_owned(),
        start_date: Some(date(2026, 3, 10)),
        from_date: None,
    };
    for _ in 0..2 {
        let told = service.prescriptions().plan_week(with_key(week.clone(), busy)).await;
        assert_ne!(told.map_err(|status| status.code()).err(), Some(Code::ResourceExhausted));
    }
    let status = service.prescriptions().plan_week(with_key(week, busy)).await.unwrap_err();
    let wait = status.get_details_retry_info().unwrap().retry_delay.unwrap();
    assert!(wait > Duration::from_secs(10), "{wait:?}");
    let refusal = Refusal::of(&status);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::ResourceExhausted, "KEY_TOO_BUSY"));
    assert!(get(&service, other).await.is_ok());
}

#[tokio::test]
async fn a_key_has_so_many_calls_at_a_time_and_those_that_go_on_count() {
    let (service, keys) = guarded_with(|settings| settings.limits.key.calls = 1).await;
    let (busy, other) = (keys.hall(Role::Coach), keys.hall(Role::Analyst));
    let mut stream = watch(&service, busy).await.unwrap();
    assert!(stream.message().await.unwrap().is_some());
    assert_eq!(refused(get(&service, busy).await).reason, "KEY_TOO_BUSY");
    assert!(get(&service, other).await.is_ok());
    drop(stream);
    // The service hears of it a little later.
    while let Err(status) = get(&service, busy).await {
        assert_eq!(Refusal::of(&status).reason, "KEY_TOO_BUSY");
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
}

/// Why a long message with a key is refused: it has a bad field if nothing else is wrong.
async fn long_refused(service: &Service, key: &str) -> String {
    let request_id = "x".repeat(300_000);
    let request = v1::RecordSetsRequest { parent: ATHLETE.to_owned(), request_id, ..Default::default() };
    refused(service.log().record_sets(with_key(request, key)).await).reason
}

#[tokio::test]
async fn a_key_has_so_many_long_messages_at_a_time() {
    let (service, keys) = guarded_with(|settings| {
        settings.limits.key.long_messages = 1;
        // A key without points is told the same.
        let many = NonZeroU32::new(1_000_000).unwrap();
        (settings.limits.key.points, settings.limits.key.burst) = (many, many);
    })
    .await;
    let (busy, other) = (keys.hall(Role::Coach), keys.hall(Role::Athlete));
    let mut sender = bare(service.address()).await;
    let (half, key) = (vec![0; 300_000], busy.to_owned());
    let half = [&framed(&vec![0; 400_000])[..5], &half].concat();
    let coming = tokio::spawn(async move {
        // It never comes whole. Told that there is no room, it begins again: the other message may have been there.
        loop {
            begin(&mut sender, "SetLogService/RecordSets", half.clone(), &key).await;
        }
    });
    let refused = async { while long_refused(&service, busy).await != "KEY_TOO_BUSY" {} };
    tokio::time::timeout(Duration::from_secs(20), refused)
        .await
        .expect("a refusal while a long message comes");
    assert!(get(&service, busy).await.is_ok(), "short messages have room");
    assert_eq!(long_refused(&service, other).await, "BAD_FIELDS");
    coming.abort();
    // The service hears of it a little later.
    while long_refused(&service, busy).await != "BAD_FIELDS" {
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
}

#[tokio::test]
async fn who_watches_is_told_when_the_key_is_revoked() {
    let (service, keys) = guarded_with(|_| ()).await;
    let key = keys.hall(Role::Coach);
    let mut stream = watch(&service, key).await.unwrap();
    let mut other = watch(&service, keys.hall(Role::Athlete)).await.unwrap();
    assert!(stream.message().await.unwrap().is_some() && other.message().await.unwrap().is_some());
    let id = KeyText::parse(key).unwrap().id().to_string();
    revoke(&service.database().as_path().into(), &id).await.unwrap();
    let status = stream.message().await.unwrap_err();
    assert_eq!((status.code(), Refusal::of(&status).reason.as_str()), (Code::Unauthenticated, "KEY_REVOKED"));
    let still = tokio::time::timeout(Duration::from_millis(100), other.message()).await;
    assert!(still.is_err(), "the other key's goes on: {still:?}");
}

#[tokio::test]
async fn a_message_that_does_not_come_is_not_waited_for() {
    let (service, keys) = guarded_with(|settings| settings.limits.arrival = Duration::from_millis(50)).await;
    let mut sender = bare(service.address()).await;
    let whole = framed(&v1::GetAthleteRequest { name: ATHLETE.to_owned() }.encode_to_vec());
    let half = begin(&mut sender, "AthleteService/GetAthlete", whole[..9].to_vec(), &keys.kite).await;
    let refusal = Refusal::of(&Status::from_header_map(half.headers()).unwrap());
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::DeadlineExceeded, "MESSAGE_LATE"));
}
