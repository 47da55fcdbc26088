//! Bad input of the log: each gets one answer that names every bad field, and nothing of it is kept.

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;

use crate::messages::{PULL_UP, date, many, pull_up, strings};
use crate::refusal::{Refusal, bad_fields, refused};
use crate::service::{ATHLETE, Service};

/// The refusal of a batch after which the log is as it was and the service goes on.
async fn refusal(service: &Service, sets: Vec<v1::LoggedSet>) -> Refusal {
    let before = service.listed().await;
    let refusal = refused(service.record("bad", sets).await);
    assert_eq!(refusal.reason, "BAD_FIELDS", "{refusal:?}");
    assert!(refusal.violations.iter().all(|(_, text)| text.len() > 10), "{refusal:?}");
    assert_eq!(service.listed().await, before);
    let sound = service.record("bad", vec![pull_up(50)]).await;
    assert!(sound.is_ok(), "the id of a refused request is free: {sound:?}");
    refusal
}

/// The bad fields of one spoilt set between two sound ones.
async fn spoilt(set: v1::LoggedSet) -> Refusal {
    let service = Service::start().await;
    service.new_athlete().await;
    refusal(&service, vec![pull_up(1), set, pull_up(3)]).await
}

macro_rules! spoilt_sets {
    ($($(#[$about:meta])* $name:ident: $set:expr => $fields:expr;)+) => {
        $($(#[$about])* #[tokio::test]
        async fn $name() {
            let wanted: Vec<String> = $fields.iter().map(|field| format!("sets[1].{field}")).collect();
            assert_eq!(spoilt($set).await.fields(), wanted);
        })+
    };
}

spoilt_sets! {
    negative_counts: v1::LoggedSet {
        done: Some(Done::Reps(-1)), set_number: -1, session: -1, planned_target: Some(-5),
        reps_in_reserve: Some(-1), rest_seconds: Some(-1), pain: Some(-1), ..pull_up(2)
    } => ["session", "set_number", "reps", "planned_target", "reps_in_reserve", "rest_seconds", "pain"];
    absurd_counts: v1::LoggedSet {
        done: Some(Done::Reps(301)), set_number: 201, session: 10, planned_target: Some(i32::MAX),
        reps_in_reserve: Some(11), rest_seconds: Some(3601), pain: Some(11), load_kg: 201.0,
        body_mass_kg: Some(301.0), ..pull_up(2)
    } => ["session", "set_number", "reps", "planned_target", "reps_in_reserve", "rest_seconds", "pain",
        "body_mass_kg", "load_kg"];
    seconds_on_a_rung_of_reps: v1::LoggedSet { done: Some(Done::HoldSeconds(20)), ..pull_up(2) } =>
        ["hold_seconds"];
    reps_on_a_rung_of_seconds: v1::LoggedSet {
        rung: "ladders/pull/rungs/hollow-hang".to_owned(), ..pull_up(2)
    } => ["reps"];
    no_units: v1::LoggedSet { done: None, ..pull_up(2) } => ["done"];
    unknown_rung: v1::LoggedSet { rung: "ladders/pull/rungs/pull-upp".to_owned(), ..pull_up(2) } => ["rung"];
    unknown_shadings: v1::LoggedSet {
        shadings: strings(&["light-bend", "light-band", "light-band"]), ..pull_up(2)
    } => ["shadings[0]", "shadings[2]"];
    shading_of_another_rung: v1::LoggedSet { shadings: strings(&["one-foot"]), ..pull_up(2) } =>
        ["shadings[0]"];
    tomorrow_is_allowed_but_no_later: v1::LoggedSet { training_date: Some(date(2026, 3, 12)), ..pull_up(2) } =>
        ["training_date"];
    before_birth: v1::LoggedSet { training_date: Some(date(1990, 6, 14)), ..pull_up(2) } => ["training_date"];
    no_such_day: v1::LoggedSet { training_date: Some(date(2026, 2, 29)), ..pull_up(2) } => ["training_date"];
    no_day: v1::LoggedSet { training_date: None, ..pull_up(2) } => ["training_date"];
    target_reached_below_the_target: v1::LoggedSet {
        stop: v1::Stop::Target.into(), planned_target: Some(8), ..pull_up(2)
    } => ["stop"];
    target_reached_without_one: v1::LoggedSet { stop: v1::Stop::Target.into(), ..pull_up(2) } =>
        ["planned_target"];
    chosen_at_the_target: v1::LoggedSet {
        stop: v1::Stop::Chosen.into(), planned_target: Some(5), ..pull_up(2)
    } => ["stop"];
    reserve_after_a_failure: v1::LoggedSet { reps_in_reserve: Some(2), ..pull_up(2) } => ["reps_in_reserve"];
    no_pain_when_pain_ended_it: v1::LoggedSet { stop: v1::Stop::Pain.into(), pain: Some(0), ..pull_up(2) } =>
        ["pain"];
    not_a_number: v1::LoggedSet { load_kg: f64::NAN, body_mass_kg: Some(f64::NAN), ..pull_up(2) } =>
        ["body_mass_kg", "load_kg"];
    infinite: v1::LoggedSet {
        load_kg: f64::NEG_INFINITY, body_mass_kg: Some(f64::INFINITY), ..pull_up(2)
    } => ["body_mass_kg", "load_kg"];
    wrong_enums: v1::LoggedSet { stop: 99, purpose: -7, ..pull_up(2) } => ["purpose", "stop"];
    enums_not_given: v1::LoggedSet { stop: 0, purpose: 0, ..pull_up(2) } => ["purpose", "stop"];
    bad_id: v1::LoggedSet { client_set_id: "a/b".to_owned(), ..pull_up(2) } => ["client_set_id"];
    bad_tempo_and_long_note: v1::LoggedSet {
        tempo: "3-1-1".to_owned(), note: "x".repeat(1001), ..pull_up(2)
    } => ["tempo", "note"];
    load_where_the_share_of_body_mass_is_not_known: v1::LoggedSet {
        rung: "ladders/pull/rungs/shoulder-pull".to_owned(), load_kg: 5.0, ..pull_up(2)
    } => ["load_kg"];
}

#[tokio::test]
async fn a_near_name_is_suggested() {
    let unknown = v1::LoggedSet { rung: "ladders/pull/rungs/pull-upp".to_owned(), ..pull_up(2) };
    let refusal = spoilt(unknown).await;
    assert!(refusal.about("sets[1].rung").contains("did you mean `pull/pull-up`?"), "{refusal:?}");
}

#[tokio::test]
async fn every_bad_field_of_every_set_is_named() {
    let service = Service::start().await;
    service.new_athlete().await;
    let nothing = v1::LoggedSet::default();
    let two = v1::LoggedSet { done: Some(Done::Reps(999)), pain: Some(12), ..pull_up(2) };
    let refusal = refusal(&service, vec![nothing, pull_up(1), two]).await;
    let of_first = ["client_set_id", "training_date", "set_number", "purpose", "stop", "rung", "done"];
    let mut wanted: Vec<String> = of_first.map(|field| format!("sets[0].{field}")).to_vec();
    wanted.extend(["sets[2].reps".to_owned(), "sets[2].pain".to_owned()]);
    assert_eq!(refusal.fields(), wanted);
}

#[tokio::test]
async fn empty_and_oversize_batches() {
    let service = Service::start().await;
    service.new_athlete().await;
    assert_eq!(refusal(&service, Vec::new()).await.fields(), ["sets"]);
    let service = Service::start().await;
    service.new_athlete().await;
    assert_eq!(refusal(&service, many(1001)).await.fields(), ["sets"]);
}

#[tokio::test]
async fn an_id_twice_in_a_batch() {
    let service = Service::start().await;
    service.new_athlete().await;
    let twice = v1::LoggedSet { client_set_id: "s-1".to_owned(), ..pull_up(2) };
    let refusal = refusal(&service, vec![pull_up(1), twice]).await;
    assert_eq!(refusal.fields(), ["sets[1].client_set_id"]);
    assert!(refusal.about("sets[1].client_set_id").contains("sets[0]"), "{refusal:?}");
}

#[tokio::test]
async fn a_bad_parent_and_request_id_are_named_with_the_bad_sets() {
    let service = Service::start().await;
    service.new_athlete().await;
    let loaded = v1::LoggedSet { load_kg: 10.0, done: Some(Done::Reps(-1)), ..pull_up(1) };
    let request = v1::RecordSetsRequest {
        parent: "wren".to_owned(),
        sets: vec![loaded],
        request_id: "not one word".to_owned(),
        validate_only: false,
    };
    let answer = service.log().record_sets(request.clone()).await;
    assert_eq!(bad_fields(answer), ["parent", "request_id", "sets[0].reps"]);
    let early = v1::LoggedSet { training_date: Some(date(1980, 1, 1)), ..pull_up(1) };
    let request = v1::RecordSetsRequest { parent: ATHLETE.to_owned(), sets: vec![early], ..request };
    let answer = service.log().record_sets(request).await;
    assert_eq!(bad_fields(answer), ["request_id", "sets[0].training_date"]);
    assert_eq!(service.listed().await, []);
}

#[tokio::test]
async fn corrections_and_withdrawals_name_every_bad_field() {
    let service = Service::start().await;
    service.new_athlete().await;
    service.record("1", vec![pull_up(1)]).await.unwrap();
    let before = service.listed().await;
    let spoilt = v1::LoggedSet { client_set_id: "other".to_owned(), set_number: 0, ..pull_up(1) };
    let request = v1::CorrectSetRequest {
        name: format!("{ATHLETE}/sets/s-1"),
        replacement: Some(spoilt.clone()),
        reason: " ".to_owned(),
        request_id: "2".to_owned(),
    };
    let fields = ["reason", "replacement.client_set_id", "replacement.set_number"];
    assert_eq!(bad_fields(service.log().correct_set(request.clone()).await), fields);
    let request = v1::CorrectSetRequest { request_id: String::new(), ..request };
    let named = bad_fields(service.log().correct_set(request.clone()).await);
    assert_eq!((named[0].as_str(), &named[1..]), ("request_id", &fields.map(str::to_owned)[..]));
    let request = v1::CorrectSetRequest { name: "s-1".to_owned(), replacement: None, ..request };
    let named = bad_fields(service.log().correct_set(request).await);
    assert_eq!(named[..3], ["name", "request_id", "reason"]);
    assert!(named[3..].iter().all(|field| field.starts_with("replacement.")), "{named:?}");
    let request = v1::WithdrawSetRequest {
        name: format!("{ATHLETE}/sets/s-1"),
        reason: "x".repeat(1001),
        request_id: "3".to_owned(),
    };
    assert_eq!(bad_fields(service.log().withdraw_set(request).await), ["reason"]);
    let empty = service.log().withdraw_set(v1::WithdrawSetRequest::default()).await;
    assert_eq!(bad_fields(empty), ["name", "request_id", "reason"]);
    assert_eq!(service.listed().await, before);
}

#[tokio::test]
async fn filters_of_lists_name_every_bad_field() {
    let service = Service::start().await;
    service.new_athlete().await;
    let request = v1::ListSetsRequest {
        parent: PULL_UP.to_owned(),
        page_size: -1,
        start_date: Some(date(2026, 13, 1)),
        end_date: Some(date(0, 0, 0)),
        ..Default::default()
    };
    let named = bad_fields(service.log().list_sets(request.clone()).await);
    assert_eq!(named, ["parent", "start_date", "end_date", "page_size"]);
    let swapped = v1::ListSetsRequest {
        parent: ATHLETE.to_owned(),
        page_size: 0,
        start_date: Some(date(2026, 3, 2)),
        end_date: Some(date(2026, 3, 1)),
        ..request
    };
    assert_eq!(bad_fields(service.log().list_sets(swapped).await), ["end_date"]);
    let swapped = v1::ListPrescriptionsRequest {
        parent: ATHLETE.to_owned(),
        start_date: Some(date(2026, 3, 2)),
        end_date: Some(date(2026, 3, 1)),
        ..Default::default()
    };
    assert_eq!(bad_fields(service.prescriptions().list_prescriptions(swapped).await), ["end_date"]);
}
