//! Databases: three services on one PostgreSQL database, and what they say when it is not there.

#![cfg(unix)]

use std::time::Duration;

use nextrung_api::v1;
use nextrung_server::page::List;
use nextrung_store::log::Place;
use nextrung_store::postgres::throwaway::{self, Throwaway};
use tonic::Code;

use crate::messages::{date, pull_up};
use crate::refusal::refused;
use crate::service::{ATHLETE, Service};

async fn on(address: &str) -> Service {
    Service::with(|settings| settings.database = Place::parse(address).unwrap()).await
}

async fn look(service: &Service) -> v1::Prescription {
    let request = v1::PrescribeRequest {
        parent: ATHLETE.to_owned(),
        date: Some(date(2026, 3, 11)),
        request_id: "look".to_owned(),
        validate_only: true,
    };
    let answer = service.prescriptions().prescribe(request).await.unwrap().into_inner();
    v1::Prescription { issue_time: None, ..answer.prescription.unwrap() }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn three_services_on_one_database_answer_as_one() {
    let address = throwaway::schema().await.unwrap();
    let services = [on(&address).await, on(&address).await, on(&address).await];
    let file = Service::start().await;
    services[0].new_athlete().await;
    file.new_athlete().await;
    let watch =
        v1::WatchPrescriptionsRequest { names: vec![ATHLETE.to_owned()], date: Some(date(2026, 3, 11)) };
    let mut watching = services[2].prescriptions().watch_prescriptions(watch).await.unwrap().into_inner();
    assert_eq!(watching.message().await.unwrap().unwrap().change, "");
    for day in 1..=9 {
        let set = v1::LoggedSet {
            client_set_id: format!("day-{day}"),
            training_date: Some(date(2026, 3, day)),
            ..pull_up(7)
        };
        let writer = &services[usize::try_from(day).unwrap() % 3];
        let mut first = writer.record(&format!("day-{day}"), vec![set.clone()]).await.unwrap();
        for service in &services {
            let again = service.record(&format!("day-{day}"), vec![set.clone()]).await.unwrap();
            assert_eq!(again, first, "a repeat through any of them");
        }
        let alone = file.record(&format!("day-{day}"), vec![set]).await.unwrap();
        for (one, other) in first.sets.iter_mut().zip(&alone.sets) {
            one.arrival_time = other.arrival_time;
        }
        assert_eq!(first, alone);
        let wanted = look(&file).await;
        for service in &services {
            assert_eq!(look(service).await, wanted, "day {day}");
        }
    }
    let told = tokio::time::timeout(Duration::from_secs(20), watching.message()).await.unwrap();
    assert_ne!(told.unwrap().unwrap().change, "");
    for service in services {
        drop(service.stop().await);
    }
}

fn another() -> Vec<v1::LoggedSet> {
    vec![v1::LoggedSet { client_set_id: "another".to_owned(), ..pull_up(2) }]
}

/// The server crashes and comes back: calls are refused with a code that says to try again, then they work, and what was
/// acknowledged is there.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_database_that_crashes_takes_no_service_with_it() {
    let mut server = Throwaway::start(&[]).unwrap();
    let service = on(&server.address()).await;
    service.new_athlete().await;
    service.record("before", vec![pull_up(1)]).await.unwrap();
    server.crash().unwrap();
    let down = refused(service.record("while", another()).await);
    assert_eq!((down.code, down.reason.as_str()), (Code::Unavailable, "DATABASE_UNREACHABLE"));
    let get = v1::GetAthleteRequest { name: ATHLETE.to_owned() };
    let down = refused(service.athletes().get_athlete(get).await);
    assert_eq!((down.code, down.reason.as_str()), (Code::Unavailable, "DATABASE_UNREACHABLE"));
    server.resume().unwrap();
    service.record("while", another()).await.unwrap();
    let listed = service.listed().await;
    let ids: Vec<&str> = listed.iter().map(|set| set.client_set_id.as_str()).collect();
    assert_eq!(ids, ["s-1", "another"]);
    drop(service.stop().await);
}

/// PostgreSQL takes no U+0000 in a text, which a made-up token could hand to it: a fault of the service, as it seemed.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn repro_a_token_that_postgresql_does_not_take_is_a_bad_token() {
    let service = on(&throwaway::schema().await.unwrap()).await;
    let page_token = List::new("ListRosters", "").token(Some("\0".to_owned()));
    let request = v1::ListRostersRequest { page_size: 5, page_token };
    let refusal = refused(service.rosters().list_rosters(request).await);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::InvalidArgument, "BAD_PAGE_TOKEN"));
    drop(service.stop().await);
}
