//! Erasures over gRPC: who may, what is refused, and what is left of a key.

use nextrung_api::v1;
use nextrung_server::access::Role;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use tonic::{Code, Request};

use crate::access::made;
use crate::messages::{athlete, history};
use crate::refusal::{bad_fields, refused};
use crate::service::{ATHLETE, Service};

fn erase(confirmation: &str, request_id: &str) -> v1::EraseAthleteRequest {
    v1::EraseAthleteRequest {
        name: ATHLETE.to_owned(),
        confirmation: confirmation.to_owned(),
        request_id: request_id.to_owned(),
    }
}

#[tokio::test]
async fn a_slip_erases_nobody() {
    let service = Service::start().await;
    service.new_athlete().await;
    for confirmation in ["", "yes", "rosters/hall/athletes/kite"] {
        let bad = bad_fields(service.athletes().erase_athlete(erase(confirmation, "e")).await);
        assert_eq!(bad, ["confirmation"], "{confirmation}");
    }
    let bad = bad_fields(service.athletes().erase_athlete(erase("", "")).await);
    assert_eq!(bad, ["confirmation", "request_id"]);
    assert_eq!(service.listed().await.len(), 0, "she is still there");
    let ghost = "rosters/hall/athletes/ghost".to_owned();
    let request =
        v1::EraseAthleteRequest { name: ghost.clone(), confirmation: ghost, request_id: "e".to_owned() };
    let never = refused(service.athletes().erase_athlete(request).await);
    assert_eq!((never.code, never.reason.as_str()), (Code::NotFound, "ATHLETE_NOT_FOUND"));
    drop(service.stop().await);
}

/// A repeat gets the first answer although another athlete has the name by then, and that one stays.
#[tokio::test]
async fn a_repeat_does_not_erase_the_next_of_that_name() {
    let service = Service::start().await;
    service.new_athlete().await;
    service.record("before", history()).await.unwrap();
    let done = service.athletes().erase_athlete(erase(ATHLETE, "e")).await.unwrap().into_inner();
    assert!(!done.was_erased_before);
    assert_eq!((done.event_count, done.request_count), (10, 2));
    service.add_athlete("wren", athlete()).await;
    service.record("before", history()).await.unwrap();
    assert_eq!(service.athletes().erase_athlete(erase(ATHLETE, "e")).await.unwrap().into_inner(), done);
    let listed = service.listed().await;
    assert_eq!(listed.len(), 9, "the next one's sets");
    assert!(listed.iter().all(|set| set.sequence > 10 + 1), "no position is given twice");
    let other = v1::EraseAthleteRequest { name: "rosters/hall/athletes/kite".to_owned(), ..erase("", "e") };
    let other = v1::EraseAthleteRequest { confirmation: other.name.clone(), ..other };
    let reused = refused(service.athletes().erase_athlete(other).await);
    assert_eq!((reused.reason.as_str(), reused.metadata["request_id"].as_str()), ("REQUEST_ID_REUSED", "e"));
    drop(service.stop().await);
}

#[tokio::test]
async fn an_operator_may_erase_and_the_key_of_the_erased_is_unknown_from_then_on() {
    let service = Service::start().await;
    service.new_athlete().await;
    let dir = service.stop().await;
    let store = SqliteStore::open(dir.path().join("log.sqlite"), SqliteOptions::default()).await.unwrap();
    let operator = made(&store, Role::Operator, &[], None).await;
    let own = made(&store, Role::Athlete, &[("hall", Some("wren"))], None).await;
    nextrung_store::store::Store::close(&store).await.unwrap();
    let service = Service::on(dir, |settings| settings.keys = true).await;
    let shown = |key: &str, message| {
        let mut request = Request::new(message);
        request.metadata_mut().insert("authorization", format!("Bearer {key}").parse().unwrap());
        request
    };
    let closed = refused(service.athletes().erase_athlete(shown(&own, erase(ATHLETE, "e"))).await);
    assert_eq!(closed.reason, "ROLE_MISSING");
    let done = service.athletes().erase_athlete(shown(&operator, erase(ATHLETE, "e"))).await.unwrap();
    assert_eq!(done.into_inner().key_count, 1);
    let get = || {
        let mut request = Request::new(v1::GetAthleteRequest { name: ATHLETE.to_owned() });
        request.metadata_mut().insert("authorization", format!("Bearer {own}").parse().unwrap());
        request
    };
    let unknown = refused(service.athletes().get_athlete(get()).await);
    assert_eq!(unknown.reason, "KEY_UNKNOWN");
    drop(service.stop().await);
}
