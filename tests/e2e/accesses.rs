//! Accesses: every call about an athlete is on record soon after its end, without anything of what was said.

use std::time::{Duration, Instant};

use nextrung_api::v1;
use nextrung_server::access::Role;
use nextrung_server::access::key_text::KeyText;
use nextrung_store::page::Page;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use sha2::{Digest, Sha256};
use tonic::Request;

use crate::access::made;
use crate::messages::pull_up;
use crate::refusal::refused;
use crate::service::{ATHLETE, ROSTER, Service};

fn shown<T>(key: &str, message: T) -> Request<T> {
    let mut request = Request::new(message);
    request.metadata_mut().insert("authorization", format!("Bearer {key}").parse().unwrap());
    request
}

fn id(key: &str) -> String {
    KeyText::parse(key).unwrap().id().to_string()
}

async fn listed(service: &Service, key: &str, parent: &str) -> Vec<v1::Access> {
    let request =
        v1::ListAccessesRequest { parent: parent.to_owned(), page_size: 100, page_token: String::new() };
    service.athletes().list_accesses(shown(key, request)).await.unwrap().into_inner().accesses
}

/// The record once it has so many calls, which it must have within a second and the time to write them.
async fn record(service: &Service, key: &str, (parent, count): (&str, usize)) -> Vec<v1::Access> {
    let begun = Instant::now();
    loop {
        let found: Vec<v1::Access> = listed(service, key, parent)
            .await
            .into_iter()
            .filter(|access| !access.method.ends_with("/ListAccesses"))
            .collect();
        if found.len() >= count {
            assert_eq!(found.len(), count, "{found:#?}");
            return found;
        }
        assert!(begun.elapsed() < Duration::from_secs(10), "{found:#?}");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

async fn guarded() -> (Service, [String; 4]) {
    let service = Service::start().await;
    service.new_athlete().await;
    service.add_athlete("kite", crate::messages::athlete()).await;
    let dir = service.stop().await;
    let store = SqliteStore::open(dir.path().join("log.sqlite"), SqliteOptions::default()).await.unwrap();
    let keys = [
        made(&store, Role::Coach, &[("hall", None)], None).await,
        made(&store, Role::Athlete, &[("hall", Some("wren"))], None).await,
        made(&store, Role::Athlete, &[("hall", Some("kite"))], None).await,
        made(&store, Role::Operator, &[], None).await,
    ];
    store.close().await.unwrap();
    (Service::on(dir, |settings| settings.keys = true).await, keys)
}

fn one_set(note: &str) -> v1::RecordSetsRequest {
    v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets: vec![v1::LoggedSet { note: note.to_owned(), pain: Some(7), ..pull_up(1) }],
        request_id: "my-request".to_owned(),
        validate_only: false,
    }
}

#[tokio::test]
async fn who_asked_what_and_how_it_ended() {
    let (service, [coach, wren, kite, operator]) = guarded().await;
    let before = record(&service, &operator, (ATHLETE, 0)).await.len();
    assert_eq!(before, 0, "her creation was about the roster");
    service.log().record_sets(shown(&coach, one_set("elbow"))).await.unwrap();
    let get = || v1::GetAthleteRequest { name: ATHLETE.to_owned() };
    service.athletes().get_athlete(shown(&wren, get())).await.unwrap();
    let closed = refused(service.athletes().get_athlete(shown(&kite, get())).await);
    assert_eq!(closed.reason, "OUT_OF_REACH");
    let bad = v1::PrescribeRequest { parent: ATHLETE.to_owned(), ..v1::PrescribeRequest::default() };
    refused(service.prescriptions().prescribe(shown(&coach, bad)).await);
    let watch = v1::WatchPrescriptionsRequest { names: vec![ATHLETE.to_owned()], date: None };
    let mut watching =
        service.prescriptions().watch_prescriptions(shown(&wren, watch)).await.unwrap().into_inner();
    watching.message().await.unwrap().unwrap();
    drop(watching);
    let found = record(&service, &operator, (ATHLETE, 5)).await;
    let mut told: Vec<(String, &str, &str)> = found
        .iter()
        .map(|access| {
            assert_eq!(access.athlete, ATHLETE);
            assert!(access.end_time.is_some());
            (access.key.clone(), access.method.as_str(), access.code.as_str())
        })
        .collect();
    told.sort();
    let mut wanted = vec![
        (id(&coach), "nextrung.v1.SetLogService/RecordSets", "OK"),
        (id(&wren), "nextrung.v1.AthleteService/GetAthlete", "OK"),
        (id(&kite), "nextrung.v1.AthleteService/GetAthlete", "PERMISSION_DENIED"),
        (id(&coach), "nextrung.v1.PrescriptionService/Prescribe", "INVALID_ARGUMENT"),
        (id(&wren), "nextrung.v1.PrescriptionService/WatchPrescriptions", "CANCELLED"),
    ];
    wanted.sort();
    assert_eq!(told, wanted);
    let digest: String = Sha256::digest("my-request").iter().map(|byte| format!("{byte:02x}")).collect();
    let digests: Vec<&str> =
        found.iter().map(|one| one.request_digest.as_str()).filter(|one| !one.is_empty()).collect();
    assert_eq!(digests, [digest.as_str()]);
    let whole = listed(&service, &coach, ROSTER).await;
    assert!(whole.iter().any(|one| one.athlete.is_empty()), "calls about the roster, this list among them");
    let closed = refused(
        service
            .athletes()
            .list_accesses(shown(
                &wren,
                v1::ListAccessesRequest { parent: ATHLETE.to_owned(), ..Default::default() },
            ))
            .await,
    );
    assert_eq!(closed.reason, "ROLE_MISSING");
    drop(service.stop().await);
}

#[tokio::test]
async fn what_ended_last_is_kept_when_the_service_stops() {
    let service = Service::start().await;
    service.new_athlete().await;
    service.log().record_sets(one_set("elbow")).await.unwrap();
    let dir = service.stop().await;
    let store = SqliteStore::open(dir.path().join("log.sqlite"), SqliteOptions::default()).await.unwrap();
    let roster = nextrung_domain::ids::RosterId::new("hall").unwrap();
    let athlete = nextrung_domain::ids::AthleteId::new("wren").unwrap();
    let found = store.accesses(&roster, Some(&athlete), &Page::first(9)).await.unwrap().items;
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!((found[0].method.as_str(), &found[0].key), ("nextrung.v1.SetLogService/RecordSets", &None));
    store.close().await.unwrap();
}
