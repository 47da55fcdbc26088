//! Watching: whoever watches is told when something recorded changes what is to be trained, and not otherwise.

use std::time::Duration;

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use prost_types::FieldMask;
use tonic::{Status, Streaming};

use crate::messages::{ONE_ARM, date, pull_up, strings};
use crate::prescriptions::trained;
use crate::refusal::{Refusal, bad_fields, refused};
use crate::service::{ATHLETE, ROSTER, Service};

/// Long enough for anything that is going to come.
const SOON: Duration = Duration::from_secs(20);
/// Long enough to say that nothing comes.
const QUIET: Duration = Duration::from_millis(150);

type Telling = Streaming<v1::WatchPrescriptionsResponse>;

async fn watch(service: &Service, names: &[&str], day: Option<v1::Date>) -> Result<Telling, Status> {
    let request = v1::WatchPrescriptionsRequest { names: strings(names), date: day };
    Ok(service.prescriptions().watch_prescriptions(request).await?.into_inner())
}

async fn next(telling: &mut Telling) -> v1::WatchPrescriptionsResponse {
    tokio::time::timeout(SOON, telling.message()).await.expect("told in time").unwrap().unwrap()
}

async fn is_quiet(telling: &mut Telling) -> bool {
    tokio::time::timeout(QUIET, telling.message()).await.is_err()
}

fn set(id: &str, day: i32, reps: i32) -> v1::LoggedSet {
    v1::LoggedSet {
        client_set_id: id.to_owned(),
        training_date: Some(date(2026, 3, day)),
        done: Some(Done::Reps(reps)),
        ..pull_up(50)
    }
}

async fn look(service: &Service) -> v1::Prescription {
    let request = v1::PrescribeRequest {
        parent: ATHLETE.to_owned(),
        date: Some(date(2026, 3, 11)),
        request_id: "look".to_owned(),
        validate_only: true,
    };
    service.prescriptions().prescribe(request).await.unwrap().into_inner().prescription.unwrap()
}

fn timeless(made: Option<v1::Prescription>) -> v1::Prescription {
    v1::Prescription { issue_time: None, ..made.unwrap() }
}

#[tokio::test]
async fn a_watcher_is_told_first_and_when_a_set_changes_the_day() {
    let service = trained().await;
    let mut telling = watch(&service, &[ATHLETE], None).await.unwrap();
    let first = next(&mut telling).await;
    assert_eq!((first.athlete.as_str(), first.change.as_str()), (ATHLETE, ""));
    assert_eq!(timeless(first.prescription), timeless(Some(look(&service).await)), "tomorrow's");
    // Twelve where five or six were known.
    service.record("much", vec![set("much", 8, 12)]).await.unwrap();
    let told = next(&mut telling).await;
    assert!(told.change.starts_with("Now "), "{told:?}");
    assert_eq!(timeless(told.prescription), timeless(Some(look(&service).await)));
    // A set of tomorrow itself says nothing about tomorrow.
    service.record("later", vec![set("later", 11, 1)]).await.unwrap();
    assert!(is_quiet(&mut telling).await);
    // Pain is told at once.
    let hurt = v1::LoggedSet { stop: v1::Stop::Pain.into(), pain: Some(7), ..set("hurt", 9, 2) };
    service.record("hurt", vec![hurt]).await.unwrap();
    let told = next(&mut telling).await;
    assert_eq!(told.prescription.unwrap().kind, i32::from(v1::PrescriptionKind::HeldBack));
    // And a correction that takes it back.
    let request = v1::WithdrawSetRequest {
        name: format!("{ATHLETE}/sets/hurt"),
        reason: "the wrong athlete".to_owned(),
        request_id: "not-hurt".to_owned(),
    };
    service.log().withdraw_set(request).await.unwrap();
    let told = next(&mut telling).await;
    assert_eq!(timeless(told.prescription), timeless(Some(look(&service).await)));
}

#[tokio::test]
async fn only_those_watched_are_told_of_and_a_day_may_be_named() {
    let service = trained().await;
    let goals = vec![v1::Goal { rung: ONE_ARM.to_owned(), by_date: None }];
    service.add_athlete("lark", v1::Athlete { goals, ..crate::messages::athlete() }).await;
    let lark = format!("{ROSTER}/athletes/lark");
    let mut both = watch(&service, &[ATHLETE, &lark], Some(date(2026, 3, 12))).await.unwrap();
    let mut one = watch(&service, &[&lark], None).await.unwrap();
    let (first, second) = (next(&mut both).await, next(&mut both).await);
    assert_eq!((first.athlete.as_str(), second.athlete.as_str()), (lark.as_str(), ATHLETE));
    assert_eq!(first.prescription.unwrap().date, Some(date(2026, 3, 12)));
    next(&mut one).await;
    service.record("much", vec![set("much", 8, 12)]).await.unwrap();
    assert_eq!(next(&mut both).await.athlete, ATHLETE);
    assert!(is_quiet(&mut one).await);
}

#[tokio::test]
async fn profiles_and_bands_of_the_roster_change_it_too() {
    let service = trained().await;
    let mut telling = watch(&service, &[ATHLETE], None).await.unwrap();
    next(&mut telling).await;
    let pair = v1::BandPair {
        working: Some(v1::Band { low: 8, high: 12 }),
        attempt: Some(v1::Band { low: 3, high: 4 }),
    };
    let bands = Some(v1::Bands { reps: Some(pair), ..v1::Bands::default() });
    let request = v1::UpdateRosterRequest {
        roster: Some(v1::Roster { name: ROSTER.to_owned(), bands, ..v1::Roster::default() }),
        update_mask: Some(FieldMask { paths: strings(&["bands"]) }),
        request_id: "bands".to_owned(),
    };
    service.rosters().update_roster(request).await.unwrap();
    assert_eq!(timeless(next(&mut telling).await.prescription), timeless(Some(look(&service).await)));
    let limits = v1::AthleteLimits {
        pinned_rungs: vec![v1::PinnedRung {
            rung: "ladders/pull/rungs/shoulder-pull".to_owned(),
            reason: "quiet elbows".to_owned(),
        }],
        ..v1::AthleteLimits::default()
    };
    let request = v1::UpdateAthleteRequest {
        athlete: Some(v1::Athlete { name: ATHLETE.to_owned(), limits: Some(limits), ..Default::default() }),
        update_mask: Some(FieldMask { paths: strings(&["limits"]) }),
        request_id: "pin".to_owned(),
    };
    service.athletes().update_athlete(request).await.unwrap();
    assert!(next(&mut telling).await.change.contains("shoulder pull"));
}

#[tokio::test]
async fn who_reads_late_is_told_how_things_stand() {
    let service = trained().await;
    let mut telling = watch(&service, &[ATHLETE], None).await.unwrap();
    next(&mut telling).await;
    for number in 0..300 {
        let reps = 4 + 8 * (number % 2);
        let late = v1::LoggedSet { set_number: 51, ..set(&format!("n-{number}"), 9, reps) };
        service.record(&format!("n-{number}"), vec![late]).await.unwrap();
    }
    let wanted = timeless(Some(look(&service).await));
    let mut told = Vec::new();
    let begun = std::time::Instant::now();
    // What is told last is how things stand, and may be slow to come.
    let stands =
        |one: &v1::WatchPrescriptionsResponse| one.prescription.as_ref().unwrap().headline == wanted.headline;
    loop {
        match tokio::time::timeout(QUIET, telling.message()).await {
            Ok(one) => told.push(one.unwrap().unwrap()),
            Err(_) if told.last().is_some_and(stands) => break,
            Err(_) => assert!(begun.elapsed() < 6 * SOON, "{:?}", told.last()),
        }
    }
    assert!(told.len() < 300, "{} of 300 steps", told.len());
}

#[tokio::test]
async fn the_stop_of_the_service_ends_the_watching() {
    let service = trained().await;
    let mut telling = watch(&service, &[ATHLETE], None).await.unwrap();
    next(&mut telling).await;
    let start = std::time::Instant::now();
    service.stop().await;
    assert!(start.elapsed() < SOON, "{:?}", start.elapsed());
    let end = tokio::time::timeout(SOON, telling.message()).await.expect("ended in time");
    let refusal = Refusal::of(&end.expect_err("the service has gone"));
    assert_eq!(refusal.reason, "STOPPING", "{refusal:?}");
}

#[tokio::test]
async fn too_many_watchers_are_refused_and_one_that_goes_makes_room() {
    let service = {
        let dir = trained().await.stop().await;
        Service::on(dir, |settings| settings.limits.watchers = 1).await
    };
    let mut first = watch(&service, &[ATHLETE], None).await.unwrap();
    next(&mut first).await;
    assert_eq!(refused(watch(&service, &[ATHLETE], None).await).reason, "TOO_BUSY");
    drop(first);
    for _ in 0..50 {
        if let Ok(mut again) = watch(&service, &[ATHLETE], None).await {
            next(&mut again).await;
            return;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    panic!("the place was not given back");
}

#[tokio::test]
async fn every_bad_field_is_named() {
    let service = trained().await;
    let bad = Some(date(2026, 2, 30));
    assert_eq!(bad_fields(watch(&service, &[], bad).await), ["names", "date"]);
    let names = [ATHLETE, "wren", ATHLETE];
    assert_eq!(bad_fields(watch(&service, &names, None).await), ["names[1]", "names[2]"]);
    let many: Vec<String> = (0..101).map(|n| format!("{ROSTER}/athletes/a{n}")).collect();
    let many: Vec<&str> = many.iter().map(String::as_str).collect();
    assert_eq!(bad_fields(watch(&service, &many, None).await), ["names"]);
    assert_eq!(bad_fields(watch(&service, &[ATHLETE], Some(date(1980, 1, 1))).await), ["date"]);
    let nobody = format!("{ROSTER}/athletes/nobody");
    assert_eq!(refused(watch(&service, &[&nobody], None).await).reason, "ATHLETE_NOT_FOUND");
}
