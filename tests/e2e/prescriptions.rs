//! Prescriptions: made, kept as issued, listed, explained.

use nextrung_api::v1;
use tonic::Status;

use crate::messages::{ONE_ARM, date, history, pull_up};
use crate::refusal::bad_fields;
use crate::service::{ATHLETE, Service};

/// A service with an athlete that has a goal and a week of pull-ups.
pub(crate) async fn trained() -> Service {
    let service = Service::start().await;
    service.new_roster().await;
    let goals = vec![v1::Goal { rung: ONE_ARM.to_owned(), by_date: None }];
    service.add_athlete("wren", v1::Athlete { goals, ..crate::messages::athlete() }).await;
    service.record("history", history()).await.unwrap();
    service
}

pub(crate) fn request(id: &str, day: v1::Date) -> v1::PrescribeRequest {
    v1::PrescribeRequest {
        parent: ATHLETE.to_owned(),
        date: Some(day),
        request_id: id.to_owned(),
        validate_only: false,
    }
}

pub(crate) async fn prescribe(service: &Service, id: &str) -> v1::Prescription {
    let answer = service.prescriptions().prescribe(request(id, date(2026, 3, 11))).await.unwrap();
    answer.into_inner().prescription.unwrap()
}

async fn explain(service: &Service, name: &str) -> Result<v1::Explanation, Status> {
    let request = v1::ExplainPrescriptionRequest { name: name.to_owned() };
    let answer = service.prescriptions().explain_prescription(request).await?;
    Ok(answer.into_inner().explanation.unwrap())
}

#[tokio::test]
async fn a_prescription_is_whole_and_kept_as_issued() {
    let service = trained().await;
    let made = prescribe(&service, "1").await;
    assert!(made.name.starts_with(&format!("{ATHLETE}/prescriptions/")));
    assert_eq!((made.date, made.log_position), (Some(date(2026, 3, 11)), 10));
    assert!(made.kind != 0 && !made.items.is_empty() && !made.headline.is_empty());
    assert!(!made.cautions.is_empty() && made.issue_time.is_some() && !made.ladder_versions.is_empty());
    for item in &made.items {
        assert!(item.block != 0 && item.unit != 0 && item.sets >= 1, "{item:?}");
        assert!(1 <= item.target_low && item.target_low <= item.target_high, "{item:?}");
        assert!(item.reasons.iter().all(|r| r.code != 0 && !r.sentence.is_empty()), "{item:?}");
        let expected = item.expected.as_ref().unwrap();
        assert!((expected.p_band + expected.p_easy + expected.p_hard - 1.0).abs() < 1e-9);
        assert!((expected.stops.iter().map(|s| s.probability).sum::<f64>() - 1.0).abs() < 1e-9);
    }
    let get = v1::GetPrescriptionRequest { name: made.name.clone() };
    let got = service.prescriptions().get_prescription(get).await.unwrap().into_inner().prescription;
    assert_eq!(got, Some(made.clone()));
    let list = v1::ListPrescriptionsRequest { parent: ATHLETE.to_owned(), ..Default::default() };
    let listed = service.prescriptions().list_prescriptions(list).await.unwrap().into_inner();
    assert_eq!((listed.prescriptions, listed.next_page_token), (vec![made], String::new()));
}

#[tokio::test]
async fn validate_only_shows_the_same_and_keeps_nothing() {
    let service = trained().await;
    let look = v1::PrescribeRequest { validate_only: true, ..request("1", date(2026, 3, 11)) };
    let shown = service.prescriptions().prescribe(look).await.unwrap().into_inner().prescription.unwrap();
    assert_eq!(shown.name, "");
    let list = v1::ListPrescriptionsRequest { parent: ATHLETE.to_owned(), ..Default::default() };
    let listed = service.prescriptions().list_prescriptions(list).await.unwrap().into_inner();
    assert_eq!(listed.prescriptions, []);
    let made = prescribe(&service, "1").await;
    assert_eq!(v1::Prescription { name: String::new(), ..made }, shown);
}

#[tokio::test]
async fn why_answers_from_the_state_of_then() {
    let service = trained().await;
    let made = prescribe(&service, "1").await;
    let why = explain(&service, &made.name).await.unwrap();
    assert_eq!(why.prescription.as_ref(), Some(&made));
    assert_eq!(why.items.len(), made.items.len());
    for (item, prescribed) in why.items.iter().zip(&made.items) {
        let chosen: Vec<&str> =
            item.candidates.iter().filter(|c| c.chosen).map(|c| c.rung.as_str()).collect();
        assert_eq!(chosen, [prescribed.rung.as_str()]);
        assert!(item.candidates.iter().all(|c| c.excluded_by.as_ref().is_none_or(|r| r.code != 0)));
    }
    let state = why.state.as_ref().unwrap();
    assert!(state.abilities.is_sorted_by_key(|a| a.ability.clone()) && !state.capacities.is_empty());
    let late = v1::LoggedSet { training_date: Some(date(2026, 3, 9)), ..pull_up(9) };
    service.record("late", vec![late]).await.unwrap();
    assert!(!why.influences.is_empty());
    for one in &why.influences {
        assert!(
            one.set.starts_with("rosters/hall/athletes/") && one.sentence.starts_with("Without set "),
            "{one:?}"
        );
        assert!(one.sentence.contains(&one.otherwise) && one.median_with > 0.0, "{one:?}");
    }
    assert_eq!(explain(&service, &made.name).await.unwrap(), why, "to the last bit");
    assert_eq!((why.earlier.as_str(), why.since.as_str()), ("", ""), "nothing was issued before");
    let day = v1::Date { day: made.date.unwrap().day + 1, ..made.date.unwrap() };
    let next = service.prescriptions().prescribe(request("2", day)).await.unwrap().into_inner();
    let told = explain(&service, &next.prescription.unwrap().name).await.unwrap();
    assert_eq!(told.earlier, made.name);
    assert!(told.since.starts_with("Against the one for 2026-"), "{}", told.since);
}

#[tokio::test]
async fn prescriptions_of_one_day_have_names_of_their_own_and_the_last_comes_first() {
    let service = trained().await;
    let (first, second) = (prescribe(&service, "1").await, prescribe(&service, "2").await);
    assert_ne!(first.name, second.name);
    let earlier = service.prescriptions().prescribe(request("3", date(2026, 3, 10))).await.unwrap();
    let earlier = earlier.into_inner().prescription.unwrap();
    let list = v1::ListPrescriptionsRequest { parent: ATHLETE.to_owned(), ..Default::default() };
    let listed = service.prescriptions().list_prescriptions(list.clone()).await.unwrap().into_inner();
    let names: Vec<String> = listed.prescriptions.into_iter().map(|p| p.name).collect();
    assert_eq!(names, [&second.name, &first.name, &earlier.name].map(Clone::clone));
    let list = v1::ListPrescriptionsRequest { end_date: Some(date(2026, 3, 10)), ..list };
    let listed = service.prescriptions().list_prescriptions(list).await.unwrap().into_inner();
    assert_eq!(listed.prescriptions, [earlier]);
}

#[tokio::test]
async fn every_bad_field_of_a_request_is_named() {
    let service = trained().await;
    let spoilt = v1::PrescribeRequest {
        parent: "wren".to_owned(),
        date: Some(date(2026, 2, 30)),
        request_id: String::new(),
        validate_only: true,
    };
    let answer = service.prescriptions().prescribe(spoilt).await;
    assert_eq!(bad_fields(answer), ["parent", "date", "request_id"]);
    for day in [date(1990, 6, 14), date(2027, 3, 12)] {
        let answer = service.prescriptions().prescribe(request("1", day)).await;
        assert_eq!(bad_fields(answer), ["date"], "{day:?}");
    }
    let missing = v1::PrescribeRequest { date: None, ..request("1", date(1, 1, 1)) };
    assert_eq!(bad_fields(service.prescriptions().prescribe(missing).await), ["date"]);
    assert!(service.prescriptions().prescribe(request("1", date(2027, 3, 11))).await.is_ok());
}
