//! The log of sets: record, list, correct, withdraw.

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;

use crate::messages::{date, many, pull_up, strings};
use crate::service::{ATHLETE, Service};

#[tokio::test]
async fn a_batch_is_kept_whole_and_listed_in_training_order() {
    let service = Service::start().await;
    service.new_athlete().await;
    let later = v1::LoggedSet { training_date: Some(date(2026, 3, 5)), ..pull_up(1) };
    let later = v1::LoggedSet { client_set_id: "later".to_owned(), ..later };
    let answer = service.record("1", vec![later, pull_up(2), pull_up(1)]).await.unwrap();
    let ids = |sets: &[v1::LoggedSet]| sets.iter().map(|s| s.client_set_id.clone()).collect::<Vec<_>>();
    assert_eq!(ids(&answer.sets), ["later", "s-2", "s-1"], "as asked");
    assert_eq!(answer.log_position, 4, "the profile and three sets");
    let listed = service.listed().await;
    assert_eq!(ids(&listed), ["s-1", "s-2", "later"], "as trained");
    assert!(listed.iter().all(|s| answer.sets.contains(s)));
    let first = &listed[0];
    assert_eq!(first.name, format!("{ATHLETE}/sets/s-1"));
    assert_eq!((first.session, first.sequence), (1, 4));
    assert!(first.arrival_time.is_some());
    assert_eq!(first.state(), v1::SetState::Active);
}

#[tokio::test]
async fn every_field_of_a_set_comes_back() {
    let service = Service::start().await;
    service.new_athlete().await;
    let set = v1::LoggedSet {
        session: 2,
        purpose: v1::Purpose::Test.into(),
        shadings: strings(&["light-band", "pause-top"]),
        planned_target: Some(7),
        stop: v1::Stop::Pain.into(),
        reps_in_reserve: Some(2),
        rest_seconds: Some(150),
        load_kg: 12.5,
        body_mass_kg: Some(71.25),
        tempo: "31X1".to_owned(),
        pain: Some(3),
        note: "Grüße ✓".to_owned(),
        ..pull_up(7)
    };
    let answer = service.record("1", vec![set.clone()]).await.unwrap();
    let stored = answer.sets[0].clone();
    assert_eq!(service.listed().await, answer.sets);
    let shown = v1::LoggedSet { name: String::new(), sequence: 0, arrival_time: None, state: 0, ..stored };
    assert_eq!(shown, set);
}

#[tokio::test]
async fn seconds_are_kept_in_the_unit_of_the_rung() {
    let service = Service::start().await;
    service.new_athlete().await;
    let hold = v1::LoggedSet {
        rung: "ladders/pull/rungs/hollow-hang".to_owned(),
        done: Some(Done::HoldSeconds(42)),
        ..pull_up(1)
    };
    let lowering = v1::LoggedSet {
        rung: "ladders/pull/rungs/pull-up-lowering".to_owned(),
        done: Some(Done::LoweringSeconds(9)),
        ..pull_up(2)
    };
    service.record("1", vec![hold, lowering]).await.unwrap();
    let done: Vec<_> = service.listed().await.into_iter().map(|s| s.done.unwrap()).collect();
    assert_eq!(done, [Done::HoldSeconds(42), Done::LoweringSeconds(9)]);
}

#[tokio::test]
async fn validate_only_answers_and_keeps_nothing() {
    let service = Service::start().await;
    service.new_athlete().await;
    let request = v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets: vec![pull_up(1)],
        request_id: "1".to_owned(),
        validate_only: true,
    };
    let answer = service.log().record_sets(request).await.unwrap().into_inner();
    assert_eq!(answer.log_position, 1, "the position before");
    let set = &answer.sets[0];
    assert_eq!((set.sequence, set.name.as_str(), &set.arrival_time), (0, "", &None));
    assert_eq!(service.listed().await, []);
    assert!(service.record("1", vec![pull_up(1)]).await.is_ok(), "its request id is still free");
}

#[tokio::test]
async fn a_set_recorded_again_changes_nothing() {
    let service = Service::start().await;
    service.new_athlete().await;
    let first = service.record("1", vec![pull_up(1)]).await.unwrap();
    let again = service.record("2", vec![pull_up(1)]).await.unwrap();
    assert_eq!(again, first);
    let mixed = service.record("3", vec![pull_up(1), pull_up(2)]).await.unwrap();
    assert_eq!((mixed.log_position, &mixed.sets[0]), (first.log_position + 1, &first.sets[0]));
    assert_eq!(service.listed().await.len(), 2);
}

#[tokio::test]
async fn a_thousand_sets_are_one_batch() {
    let service = Service::start().await;
    service.new_athlete().await;
    let answer = service.record("1", many(1000)).await.unwrap();
    assert_eq!((answer.sets.len(), answer.log_position), (1000, 1001));
    assert_eq!(service.listed().await.len(), 1000);
}

#[tokio::test]
async fn a_correction_replaces_the_content_and_keeps_name_and_sequence() {
    let service = Service::start().await;
    service.new_athlete().await;
    let recorded = service.record("1", vec![pull_up(1), pull_up(2)]).await.unwrap();
    let before = &recorded.sets[0];
    let replacement = v1::LoggedSet { client_set_id: String::new(), done: Some(Done::Reps(6)), ..pull_up(1) };
    let request = v1::CorrectSetRequest {
        name: before.name.clone(),
        replacement: Some(replacement),
        reason: "miscounted".to_owned(),
        request_id: "2".to_owned(),
    };
    let answer = service.log().correct_set(request).await.unwrap().into_inner();
    assert_eq!(answer.log_position, recorded.log_position + 1);
    let after = answer.set.unwrap();
    let wanted = v1::LoggedSet {
        done: Some(Done::Reps(6)),
        state: v1::SetState::Corrected.into(),
        change_reason: "miscounted".to_owned(),
        ..before.clone()
    };
    assert_eq!(after, wanted);
    assert_eq!(service.listed().await, [after, recorded.sets[1].clone()]);
}

#[tokio::test]
async fn a_withdrawn_set_no_longer_counts() {
    let service = Service::start().await;
    service.new_athlete().await;
    let recorded = service.record("1", vec![pull_up(1), pull_up(2)]).await.unwrap();
    let request = v1::WithdrawSetRequest {
        name: recorded.sets[0].name.clone(),
        reason: "somebody else's".to_owned(),
        request_id: "2".to_owned(),
    };
    let answer = service.log().withdraw_set(request).await.unwrap().into_inner();
    let set = answer.set.unwrap();
    assert_eq!(set.state(), v1::SetState::Withdrawn);
    assert_eq!(set.change_reason, "somebody else's");
    assert_eq!(service.listed().await, [set, recorded.sets[1].clone()]);
    let request = v1::ListSetsRequest { parent: ATHLETE.to_owned(), ..Default::default() };
    let counting = service.log().list_sets(request).await.unwrap().into_inner();
    assert_eq!((counting.sets, counting.log_position), (vec![recorded.sets[1].clone()], 4));
}
