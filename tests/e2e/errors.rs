//! Errors: every reason of the contract's table, with its code and metadata.

use std::collections::BTreeSet;
use std::path::Path;

use nextrung_api::v1;
use nextrung_server::LadderSource;
use tonic::{Code, Status};

use crate::messages::{athlete, date, pull_up, roster};
use crate::prescriptions::{prescribe, request as request_of, trained};
use crate::refusal::{Refusal, refused};
use crate::service::{ATHLETE, ROSTER, Service};

/// Reasons that tests of this file bring about over gRPC.
const HERE: [&str; 10] = [
    "ROSTER_NOT_FOUND",
    "ATHLETE_NOT_FOUND",
    "LADDER_NOT_FOUND",
    "SET_NOT_FOUND",
    "PRESCRIPTION_NOT_FOUND",
    "ROSTER_EXISTS",
    "ATHLETE_EXISTS",
    "SET_ID_REUSED",
    "SET_WITHDRAWN",
    "VERSION_NOT_AVAILABLE",
];
/// Reasons that other files here bring about: `bad_fields`, `pages`, `repeats`, `limits`, `reviews`, `replays`,
/// `databases`, `access`, `allowances`.
const ELSEWHERE: [&str; 18] = [
    "KEY_TOO_BUSY",
    "MESSAGE_LATE",
    "KEY_MISSING",
    "KEY_UNKNOWN",
    "KEY_EXPIRED",
    "KEY_REVOKED",
    "ROLE_MISSING",
    "OUT_OF_REACH",
    "METHOD_UNKNOWN",
    "NO_GOAL",
    "NOTHING_TO_SCORE",
    "BAD_FIELDS",
    "BAD_PAGE_TOKEN",
    "REQUEST_ID_REUSED",
    "MESSAGE_TOO_LARGE",
    "TOO_BUSY",
    "DATABASE_UNREACHABLE",
    "DEADLINE_EXCEEDED",
];
/// Reasons that only a failing disk, another writer or a fault brings about; `status.rs` of the server, `tests/faults` and the
/// store test them.
const NOT_FROM_OUTSIDE: [&str; 5] = ["LOG_MOVED", "STOPPING", "INTERNAL", "DISK_FULL", "NOT_SWEPT"];

#[test]
fn every_reason_of_the_table_is_tested() {
    let table = include_str!("../../proto/README.md");
    let rows = table
        .lines()
        .filter(|line| line.starts_with("| "))
        .map(|line| line.split('|').map(str::trim).skip(1).take(2).collect::<Vec<_>>());
    let of_errors = rows.filter(|row| row[0].bytes().all(|b| b.is_ascii_uppercase() || b == b'_'));
    let told: BTreeSet<&str> = of_errors.flat_map(|row| row[1].split(", ").collect::<Vec<_>>()).collect();
    let tested: BTreeSet<&str> = HERE.into_iter().chain(ELSEWHERE).chain(NOT_FROM_OUTSIDE).collect();
    assert_eq!(told, tested);
}

fn is_about(refusal: &Refusal, code: Code, reason: &str, metadata: &[(&str, &str)]) {
    assert_eq!((refusal.code, refusal.reason.as_str()), (code, reason), "{refusal:?}");
    let found: Vec<(&str, &str)> =
        refusal.metadata.iter().map(|(key, value)| (key.as_str(), value.as_str())).collect();
    assert_eq!(found, metadata);
    assert!(!refusal.message.is_empty());
}

fn not_found<T: std::fmt::Debug>(answer: Result<T, Status>, reason: &str, name: &str) {
    is_about(&refused(answer), Code::NotFound, reason, &[("name", name)]);
}

#[tokio::test]
async fn a_roster_that_is_not_there() {
    let service = Service::start().await;
    let name = ROSTER.to_owned();
    let get = service.rosters().get_roster(v1::GetRosterRequest { name: name.clone() }).await;
    not_found(get, "ROSTER_NOT_FOUND", ROSTER);
    let request = v1::UpdateRosterRequest {
        roster: Some(v1::Roster { name: name.clone(), ..roster("New") }),
        update_mask: None,
        request_id: "1".to_owned(),
    };
    not_found(service.rosters().update_roster(request).await, "ROSTER_NOT_FOUND", ROSTER);
    let list = v1::ListAthletesRequest { parent: name.clone(), ..Default::default() };
    not_found(service.athletes().list_athletes(list).await, "ROSTER_NOT_FOUND", ROSTER);
    let request = v1::CreateAthleteRequest {
        parent: name,
        athlete_id: "wren".to_owned(),
        athlete: Some(athlete()),
        request_id: "2".to_owned(),
    };
    not_found(service.athletes().create_athlete(request).await, "ROSTER_NOT_FOUND", ROSTER);
}

#[tokio::test]
async fn an_athlete_that_is_not_there() {
    let service = Service::start().await;
    service.new_roster().await;
    let reason = "ATHLETE_NOT_FOUND";
    let (name, parent) = (ATHLETE.to_owned(), ATHLETE.to_owned());
    let get = service.athletes().get_athlete(v1::GetAthleteRequest { name: name.clone() }).await;
    not_found(get, reason, ATHLETE);
    let request = v1::UpdateAthleteRequest {
        athlete: Some(v1::Athlete { name: name.clone(), ..athlete() }),
        update_mask: None,
        request_id: "1".to_owned(),
    };
    not_found(service.athletes().update_athlete(request).await, reason, ATHLETE);
    not_found(service.record("2", vec![pull_up(1)]).await, reason, ATHLETE);
    let list = v1::ListSetsRequest { parent: parent.clone(), ..Default::default() };
    not_found(service.log().list_sets(list).await, reason, ATHLETE);
    let day = date(2026, 3, 11);
    not_found(service.prescriptions().prescribe(request_of("3", day)).await, reason, ATHLETE);
    let list = v1::ListPrescriptionsRequest { parent, ..Default::default() };
    not_found(service.prescriptions().list_prescriptions(list).await, reason, ATHLETE);
    let request = v1::EstimateCapacityRequest { name, date: Some(day), ladders: Vec::new() };
    not_found(service.capacities().estimate_capacity(request).await, reason, ATHLETE);
}

#[tokio::test]
async fn a_ladder_a_set_or_a_prescription_that_is_not_there() {
    let service = Service::start().await;
    service.new_athlete().await;
    let get = v1::GetLadderRequest { name: "ladders/rope".to_owned() };
    not_found(service.ladders().get_ladder(get).await, "LADDER_NOT_FOUND", "ladders/rope");
    let name = format!("{ATHLETE}/sets/never");
    let request =
        v1::WithdrawSetRequest { name: name.clone(), reason: "why".to_owned(), request_id: "1".to_owned() };
    not_found(service.log().withdraw_set(request).await, "SET_NOT_FOUND", &name);
    let request = v1::CorrectSetRequest {
        name: name.clone(),
        replacement: Some(v1::LoggedSet { client_set_id: "never".to_owned(), ..pull_up(1) }),
        reason: "why".to_owned(),
        request_id: "2".to_owned(),
    };
    not_found(service.log().correct_set(request).await, "SET_NOT_FOUND", &name);
    let name = format!("{ATHLETE}/prescriptions/p-1");
    let get = v1::GetPrescriptionRequest { name: name.clone() };
    not_found(service.prescriptions().get_prescription(get).await, "PRESCRIPTION_NOT_FOUND", &name);
    let why = v1::ExplainPrescriptionRequest { name: name.clone() };
    not_found(service.prescriptions().explain_prescription(why).await, "PRESCRIPTION_NOT_FOUND", &name);
}

#[tokio::test]
async fn names_that_are_taken() {
    let service = Service::start().await;
    service.new_athlete().await;
    let request = v1::CreateRosterRequest {
        roster_id: "hall".to_owned(),
        roster: Some(roster("Other")),
        request_id: "1".to_owned(),
    };
    let refusal = refused(service.rosters().create_roster(request).await);
    is_about(&refusal, Code::AlreadyExists, "ROSTER_EXISTS", &[("name", ROSTER)]);
    let request = v1::CreateAthleteRequest {
        parent: ROSTER.to_owned(),
        athlete_id: "wren".to_owned(),
        athlete: Some(athlete()),
        request_id: "2".to_owned(),
    };
    let refusal = refused(service.athletes().create_athlete(request).await);
    is_about(&refusal, Code::AlreadyExists, "ATHLETE_EXISTS", &[("name", ATHLETE)]);
}

#[tokio::test]
async fn sets_recorded_before_with_other_content() {
    let service = Service::start().await;
    service.new_athlete().await;
    service.record("1", vec![pull_up(1), pull_up(2), pull_up(3)]).await.unwrap();
    let before = service.listed().await;
    let other = |number| v1::LoggedSet { note: "other".to_owned(), ..pull_up(number) };
    let answer = service.record("2", vec![other(3), pull_up(4), pull_up(2), other(1)]).await;
    is_about(&refused(answer), Code::AlreadyExists, "SET_ID_REUSED", &[("client_set_ids", "s-3,s-1")]);
    assert_eq!(service.listed().await, before);
}

#[tokio::test]
async fn a_withdrawn_set_stays_withdrawn() {
    let service = Service::start().await;
    service.new_athlete().await;
    let name = service.record("1", vec![pull_up(1)]).await.unwrap().sets[0].name.clone();
    let withdraw = |id: &str| v1::WithdrawSetRequest {
        name: name.clone(),
        reason: "why".to_owned(),
        request_id: id.to_owned(),
    };
    service.log().withdraw_set(withdraw("2")).await.unwrap();
    let before = service.listed().await;
    let again = refused(service.log().withdraw_set(withdraw("3")).await);
    is_about(&again, Code::FailedPrecondition, "SET_WITHDRAWN", &[("name", &name)]);
    let request = v1::CorrectSetRequest {
        name: name.clone(),
        replacement: Some(pull_up(1)),
        reason: "why".to_owned(),
        request_id: "4".to_owned(),
    };
    let corrected = refused(service.log().correct_set(request).await);
    is_about(&corrected, Code::FailedPrecondition, "SET_WITHDRAWN", &[("name", &name)]);
    let other = v1::LoggedSet { note: "other".to_owned(), ..pull_up(1) };
    assert_eq!(refused(service.record("5", vec![other]).await).reason, "SET_ID_REUSED");
    assert_eq!(service.listed().await, before);
}

#[tokio::test]
async fn a_prescription_made_with_another_version_of_a_ladder() {
    let service = trained().await;
    let made = prescribe(&service, "1").await;
    let dir = service.stop().await;
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../data");
    let copy = dir.path().join("data");
    std::fs::create_dir_all(copy.join("ladders")).unwrap();
    std::fs::copy(data.join("abilities.toml"), copy.join("abilities.toml")).unwrap();
    for entry in std::fs::read_dir(data.join("ladders")).unwrap() {
        let path = entry.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        let newer =
            if path.ends_with("pull.toml") { text.replacen("version = 1", "version = 2", 1) } else { text };
        std::fs::write(copy.join("ladders").join(path.file_name().unwrap()), newer).unwrap();
    }
    let service = Service::on(dir, |settings| settings.ladders = LadderSource::Folder(copy)).await;
    let get = v1::GetPrescriptionRequest { name: made.name.clone() };
    let got = service.prescriptions().get_prescription(get).await.unwrap().into_inner().prescription;
    assert_eq!(got.as_ref(), Some(&made), "as issued, whatever is loaded");
    let why = v1::ExplainPrescriptionRequest { name: made.name.clone() };
    let refusal = refused(service.prescriptions().explain_prescription(why).await);
    let metadata = [("name", made.name.as_str()), ("version", "ladder pull version 1")];
    is_about(&refusal, Code::FailedPrecondition, "VERSION_NOT_AVAILABLE", &metadata);
}
