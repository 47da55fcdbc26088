//! Repeats: the same request id with the same content gets the first answer, with other content a refusal.

use std::fmt::Debug;

use nextrung_api::v1;
use prost_types::FieldMask;
use tonic::{Code, Status};

use crate::messages::{athlete, date, pull_up, roster, strings};
use crate::prescriptions;
use crate::refusal::refused;
use crate::service::{ATHLETE, ROSTER, Service};

/// The repeat got the first answer, the request with other content a refusal that names the id.
#[track_caller]
fn is_safe<T: Debug + PartialEq>(first: &T, repeat: &T, other: Result<T, Status>) {
    assert_eq!(first, repeat);
    let refusal = refused(other);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::AlreadyExists, "REQUEST_ID_REUSED"));
    assert_eq!(refusal.metadata.get("request_id").map(String::as_str), Some("the-id"));
}

/// Sends a request, something that changes the same resource, the request again, and one with other content.
macro_rules! repeated {
    ($service:expr, $client:ident.$method:ident, $request:expr, $between:expr, $other:expr) => {{
        let first = $service.$client().$method($request).await.unwrap().into_inner();
        $between.await;
        let repeat = $service.$client().$method($request).await.unwrap().into_inner();
        let other = $service.$client().$method($other).await.map(tonic::Response::into_inner);
        is_safe(&first, &repeat, other);
    }};
}

fn update_roster(id: &str, title: &str) -> v1::UpdateRosterRequest {
    v1::UpdateRosterRequest {
        roster: Some(v1::Roster { name: ROSTER.to_owned(), ..roster(title) }),
        update_mask: None,
        request_id: id.to_owned(),
    }
}

fn update_athlete(id: &str, name: &str) -> v1::UpdateAthleteRequest {
    v1::UpdateAthleteRequest {
        athlete: Some(v1::Athlete {
            name: ATHLETE.to_owned(),
            display_name: name.to_owned(),
            ..Default::default()
        }),
        update_mask: Some(FieldMask { paths: strings(&["display_name"]) }),
        request_id: id.to_owned(),
    }
}

fn correct(id: &str, note: &str) -> v1::CorrectSetRequest {
    v1::CorrectSetRequest {
        name: format!("{ATHLETE}/sets/s-1"),
        replacement: Some(v1::LoggedSet { note: note.to_owned(), ..pull_up(1) }),
        reason: "why".to_owned(),
        request_id: id.to_owned(),
    }
}

async fn later(service: &Service) {
    service.rosters().update_roster(update_roster("later", "Later")).await.unwrap();
    service.athletes().update_athlete(update_athlete("later", "Later")).await.unwrap();
}

#[tokio::test]
async fn creating_and_changing_a_roster() {
    let service = Service::start().await;
    let create = |title: &str| v1::CreateRosterRequest {
        roster_id: "hall".to_owned(),
        roster: Some(roster(title)),
        request_id: "the-id".to_owned(),
    };
    let between = async {
        service.add_athlete("wren", athlete()).await;
        later(&service).await;
    };
    repeated!(service, rosters.create_roster, create("Hall"), between, create("Other"));
    let between = async {
        service.rosters().update_roster(update_roster("after", "After")).await.unwrap();
    };
    repeated!(
        service,
        rosters.update_roster,
        update_roster("the-id", "New"),
        between,
        update_roster("the-id", "Other")
    );
    let get = v1::GetRosterRequest { name: ROSTER.to_owned() };
    let now = service.rosters().get_roster(get).await.unwrap().into_inner().roster.unwrap();
    assert_eq!(now.title, "After", "the repeat changed nothing");
}

#[tokio::test]
async fn creating_and_changing_an_athlete() {
    let service = Service::start().await;
    service.new_roster().await;
    let create = |name: &str| v1::CreateAthleteRequest {
        parent: ROSTER.to_owned(),
        athlete_id: "wren".to_owned(),
        athlete: Some(v1::Athlete { display_name: name.to_owned(), ..athlete() }),
        request_id: "the-id".to_owned(),
    };
    repeated!(service, athletes.create_athlete, create("Wren"), later(&service), create("Other"));
    let between = async {
        service.athletes().update_athlete(update_athlete("after", "After")).await.unwrap();
    };
    repeated!(
        service,
        athletes.update_athlete,
        update_athlete("the-id", "New"),
        between,
        update_athlete("the-id", "Other")
    );
    let get = v1::GetAthleteRequest { name: ATHLETE.to_owned() };
    let now = service.athletes().get_athlete(get).await.unwrap().into_inner().athlete.unwrap();
    assert_eq!(now.display_name, "After", "the repeat changed nothing");
}

#[tokio::test]
async fn recording_correcting_and_withdrawing() {
    let service = Service::start().await;
    service.new_athlete().await;
    let record = |sets: Vec<v1::LoggedSet>| v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets,
        request_id: "the-id".to_owned(),
        validate_only: false,
    };
    let between = async {
        service.record("more", vec![pull_up(7)]).await.unwrap();
        service.log().correct_set(correct("later", "later")).await.unwrap();
    };
    let first = record(vec![pull_up(2), pull_up(1)]);
    repeated!(service, log.record_sets, first.clone(), between, record(vec![pull_up(2)]));
    let between = async { drop(service.log().correct_set(correct("after", "after")).await.unwrap()) };
    repeated!(service, log.correct_set, correct("the-id", "new"), between, correct("the-id", "other"));
    let withdraw = |reason: &str| v1::WithdrawSetRequest {
        name: format!("{ATHLETE}/sets/s-2"),
        reason: reason.to_owned(),
        request_id: "the-id".to_owned(),
    };
    repeated!(service, log.withdraw_set, withdraw("why"), async {}, withdraw("other"));
    let listed = service.listed().await;
    assert_eq!(listed.iter().map(|s| s.note.as_str()).collect::<Vec<_>>(), ["after", "", ""]);
}

#[tokio::test]
async fn prescribing() {
    let service = prescriptions::trained().await;
    let request = |day| prescriptions::request("the-id", date(2026, 3, day));
    let between = async { drop(service.record("more", vec![pull_up(7)]).await.unwrap()) };
    repeated!(service, prescriptions.prescribe, request(11), between, request(12));
    let list = v1::ListPrescriptionsRequest { parent: ATHLETE.to_owned(), ..Default::default() };
    let listed = service.prescriptions().list_prescriptions(list).await.unwrap().into_inner();
    assert_eq!(listed.prescriptions.len(), 1);
}

#[tokio::test]
async fn a_repeat_after_a_restart_gets_the_first_answer() {
    let service = Service::start().await;
    service.new_athlete().await;
    let first = service.record("1", vec![pull_up(1)]).await.unwrap();
    let service = Service::on(service.stop().await, |_| ()).await;
    assert_eq!(service.record("1", vec![pull_up(1)]).await.unwrap(), first);
    assert_eq!(service.listed().await, first.sets);
}

#[tokio::test]
async fn the_same_id_serves_each_method_and_roster_once() {
    let service = Service::start().await;
    for roster_id in ["one", "two"] {
        let request = v1::CreateRosterRequest {
            roster_id: roster_id.to_owned(),
            roster: Some(roster("Title")),
            request_id: "same".to_owned(),
        };
        service.rosters().create_roster(request).await.unwrap();
    }
    let request = v1::CreateAthleteRequest {
        parent: "rosters/one".to_owned(),
        athlete_id: "wren".to_owned(),
        athlete: Some(athlete()),
        request_id: "same".to_owned(),
    };
    service.athletes().create_athlete(request).await.unwrap();
}

#[tokio::test]
async fn many_repeats_at_once_are_one_write() {
    let service = Service::start().await;
    service.new_athlete().await;
    let calls = (0..16).map(|_| {
        let (mut log, sets) = (service.log(), vec![pull_up(1), pull_up(2)]);
        let request = v1::RecordSetsRequest {
            parent: ATHLETE.to_owned(),
            sets,
            request_id: "same".to_owned(),
            validate_only: false,
        };
        tokio::spawn(async move { log.record_sets(request).await.unwrap().into_inner() })
    });
    let calls: Vec<_> = calls.collect();
    let mut answers = Vec::new();
    for call in calls {
        answers.push(call.await.unwrap());
    }
    assert!(answers.iter().all(|answer| *answer == answers[0]));
    assert_eq!((answers[0].log_position, service.listed().await.len()), (3, 2));
}
