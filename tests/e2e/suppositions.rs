//! Suppositions: what would be prescribed if things were otherwise is what is prescribed once they are.

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use prost_types::FieldMask;
use tonic::Status;

use crate::messages::{ONE_ARM, PULL_UP, date, pull_up, strings};
use crate::prescriptions::trained;
use crate::refusal::{bad_fields, refused};
use crate::service::{ATHLETE, Service};

const TOMORROW: v1::Date = v1::Date { year: 2026, month: 3, day: 11 };
const FREE_PRESS: &str = "ladders/press/rungs/free-press";

fn asked() -> v1::SupposePrescriptionRequest {
    v1::SupposePrescriptionRequest {
        parent: ATHLETE.to_owned(),
        date: Some(TOMORROW),
        ..v1::SupposePrescriptionRequest::default()
    }
}

async fn suppose(
    service: &Service,
    request: v1::SupposePrescriptionRequest,
) -> Result<v1::SupposePrescriptionResponse, Status> {
    Ok(service.prescriptions().suppose_prescription(request).await?.into_inner())
}

/// What is prescribed now, without the moment and the log position, which differ on purpose.
async fn now(service: &Service, day: v1::Date) -> v1::Prescription {
    let request = v1::PrescribeRequest {
        parent: ATHLETE.to_owned(),
        date: Some(day),
        request_id: "look".to_owned(),
        validate_only: true,
    };
    timeless(service.prescriptions().prescribe(request).await.unwrap().into_inner().prescription)
}

fn timeless(made: Option<v1::Prescription>) -> v1::Prescription {
    v1::Prescription { issue_time: None, log_position: 0, ..made.unwrap() }
}

/// A session of pull-ups on a day that reached its target.
fn session(day: i32, reps: i32) -> Vec<v1::LoggedSet> {
    let set = |number| v1::LoggedSet {
        client_set_id: format!("n-{day}-{number}"),
        training_date: Some(date(2026, 3, day)),
        done: Some(Done::Reps(reps)),
        planned_target: Some(reps),
        stop: v1::Stop::Target.into(),
        ..pull_up(number)
    };
    (1..=4).map(set).collect()
}

async fn update(service: &Service, athlete: v1::Athlete, path: &str) {
    let request = v1::UpdateAthleteRequest {
        athlete: Some(v1::Athlete { name: ATHLETE.to_owned(), ..athlete }),
        update_mask: Some(FieldMask { paths: strings(&[path]) }),
        request_id: format!("update-{path}"),
    };
    service.athletes().update_athlete(request).await.unwrap();
}

#[tokio::test]
async fn sets_supposed_are_sets_recorded() {
    // After all others, before some of them, and both.
    for days in [&[10][..], &[2], &[10, 2, 5]] {
        let service = trained().await;
        let before = now(&service, TOMORROW).await;
        let log = service.listed().await;
        let sets: Vec<v1::LoggedSet> = days.iter().flat_map(|day| session(*day, 9)).collect();
        let found = suppose(&service, v1::SupposePrescriptionRequest { sets: sets.clone(), ..asked() }).await;
        let found = found.unwrap();
        assert_eq!(timeless(found.as_is), before);
        assert_eq!(found.sentences.len(), sets.len());
        assert_eq!(service.listed().await, log, "nothing is written");
        assert_eq!(now(&service, TOMORROW).await, before);
        service.record("really", sets).await.unwrap();
        let supposed = timeless(found.supposed);
        assert_eq!(now(&service, TOMORROW).await, supposed);
        assert_ne!(supposed, before);
        assert!(found.change.starts_with("It would be: "), "{}", found.change);
    }
}

#[tokio::test]
async fn a_pause_is_a_later_day() {
    let service = trained().await;
    let found =
        suppose(&service, v1::SupposePrescriptionRequest { pause_days: 21, ..asked() }).await.unwrap();
    assert_eq!(timeless(found.supposed), now(&service, date(2026, 4, 1)).await);
    assert_eq!(found.sentences, ["A pause of 21 days: 2026-04-01 instead of 2026-03-11."]);
}

#[tokio::test]
async fn goals_bands_and_insisted_rungs_are_those_of_the_profile() {
    let service = trained().await;
    let goals = vec![v1::Goal { rung: "ladders/push-up/rungs/push-up".to_owned(), by_date: None }];
    let found = suppose(&service, v1::SupposePrescriptionRequest { goals: goals.clone(), ..asked() }).await;
    update(&service, v1::Athlete { goals, ..v1::Athlete::default() }, "goals").await;
    assert_eq!(timeless(found.unwrap().supposed), now(&service, TOMORROW).await);

    let pair = v1::BandPair {
        working: Some(v1::Band { low: 6, high: 9 }),
        attempt: Some(v1::Band { low: 2, high: 3 }),
    };
    let bands = Some(v1::Bands { reps: Some(pair), ..v1::Bands::default() });
    let found = suppose(&service, v1::SupposePrescriptionRequest { bands, ..asked() }).await.unwrap();
    update(&service, v1::Athlete { bands, ..v1::Athlete::default() }, "bands").await;
    assert_eq!(timeless(found.supposed), now(&service, TOMORROW).await);

    let insisted_rungs = strings(&["ladders/pull/rungs/shoulder-pull"]);
    let found =
        suppose(&service, v1::SupposePrescriptionRequest { insisted_rungs, ..asked() }).await.unwrap();
    let supposed = found.supposed.unwrap();
    let item = supposed.items.iter().find(|item| item.rung.ends_with("/shoulder-pull")).unwrap();
    let codes: Vec<i32> = item.reasons.iter().map(|reason| reason.code).collect();
    assert!(codes.contains(&v1::ReasonCode::PinnedByCoach.into()), "{item:?}");
    assert!(now(&service, TOMORROW).await.items.iter().all(|item| !item.rung.ends_with("/shoulder-pull")));
}

#[tokio::test]
async fn a_rung_insisted_on_stays_held_back() {
    let service = trained().await;
    let insisted_rungs = strings(&[FREE_PRESS]);
    let supposed = suppose(&service, v1::SupposePrescriptionRequest { insisted_rungs, ..asked() }).await;
    let supposed = supposed.unwrap().supposed.unwrap();
    assert!(supposed.items.iter().all(|item| item.rung != FREE_PRESS), "{supposed:?}");
}

#[tokio::test]
async fn nothing_supposed_is_the_same() {
    let service = trained().await;
    let found = suppose(&service, asked()).await.unwrap();
    assert_eq!(found.as_is, found.supposed);
    assert_eq!(found.change, "It would be: the same.");
    assert_eq!(found.sentences, ["Nothing is supposed to be otherwise."]);
}

#[tokio::test]
async fn an_empty_log_and_one_of_pain_alone_are_answered() {
    let service = Service::start().await;
    service.new_athlete().await;
    let hurt = v1::LoggedSet { stop: v1::Stop::Pain.into(), pain: Some(6), ..pull_up(1) };
    let first =
        suppose(&service, v1::SupposePrescriptionRequest { sets: vec![hurt.clone()], ..asked() }).await;
    assert_eq!(first.unwrap().sentences, ["A set on 2026-03-02: 5 reps of pull-up, stopped for pain."]);
    service.record("hurt", vec![hurt]).await.unwrap();
    let pause = v1::SupposePrescriptionRequest { pause_days: 30, ..asked() };
    assert_ne!(suppose(&service, pause).await.unwrap().change, "");
}

#[tokio::test]
async fn every_bad_field_is_named_and_nothing_is_kept() {
    let service = trained().await;
    let before = service.listed().await;
    let known = before[0].client_set_id.clone();
    let sets = vec![
        v1::LoggedSet { client_set_id: known, training_date: Some(date(2026, 3, 3)), ..pull_up(1) },
        v1::LoggedSet { training_date: Some(TOMORROW), ..pull_up(2) },
        v1::LoggedSet { done: Some(Done::Reps(-1)), ..pull_up(3) },
    ];
    let bad = v1::SupposePrescriptionRequest {
        sets: sets.clone(),
        pause_days: -1,
        goals: vec![v1::Goal { rung: "pull/nowhere".to_owned(), by_date: None }],
        bands: Some(v1::Bands { reps: Some(v1::BandPair::default()), ..v1::Bands::default() }),
        insisted_rungs: strings(&[PULL_UP, ONE_ARM]),
        ..asked()
    };
    let wanted = [
        "pause_days",
        "sets[1].training_date",
        "sets[2].reps",
        "goals[0].rung",
        "bands.reps",
        "insisted_rungs[1]",
    ];
    assert_eq!(sorted(bad_fields(suppose(&service, bad).await)), sorted(wanted.map(str::to_owned).to_vec()));
    let reused = v1::SupposePrescriptionRequest { sets: sets[..1].to_vec(), ..asked() };
    assert_eq!(bad_fields(suppose(&service, reused).await), ["sets[0].client_set_id"]);
    let early = v1::SupposePrescriptionRequest { date: Some(date(1980, 1, 1)), ..asked() };
    assert_eq!(bad_fields(suppose(&service, early).await), ["date"]);
    let far = v1::SupposePrescriptionRequest { pause_days: 366, ..asked() };
    assert_eq!(bad_fields(suppose(&service, far).await), ["pause_days"]);
    let many = v1::SupposePrescriptionRequest { sets: (1..=201).map(pull_up).collect(), ..asked() };
    assert_eq!(bad_fields(suppose(&service, many).await), ["sets"]);
    let nobody = v1::SupposePrescriptionRequest { parent: "wren".to_owned(), date: None, ..asked() };
    assert_eq!(bad_fields(suppose(&service, nobody).await), ["parent", "date"]);
    let unknown = v1::SupposePrescriptionRequest { parent: format!("{ATHLETE}-2"), ..asked() };
    assert_eq!(refused(suppose(&service, unknown).await).reason, "ATHLETE_NOT_FOUND");
    assert_eq!(service.listed().await, before);
}

fn sorted(mut fields: Vec<String>) -> Vec<String> {
    fields.sort_unstable();
    fields
}
