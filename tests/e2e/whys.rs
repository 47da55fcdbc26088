//! Whys: the same answer whatever came later, in words that agree with their figures, and of every kind of day.

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use tonic::Status;

use crate::messages::{date, pull_up};
use crate::prescriptions::{request, trained};
use crate::refusal::{bad_fields, refused};
use crate::service::{ATHLETE, Service};

async fn explain(service: &Service, name: &str) -> Result<v1::Explanation, Status> {
    let request = v1::ExplainPrescriptionRequest { name: name.to_owned() };
    let answer = service.prescriptions().explain_prescription(request).await?;
    Ok(answer.into_inner().explanation.unwrap())
}

async fn prescribed(service: &Service, id: &str, day: v1::Date) -> v1::Prescription {
    service.prescriptions().prescribe(request(id, day)).await.unwrap().into_inner().prescription.unwrap()
}

/// A thousand sets of the ten days after the prescription's.
fn thousand() -> Vec<v1::LoggedSet> {
    let one = |n: i32| v1::LoggedSet {
        client_set_id: format!("later-{n}"),
        training_date: Some(date(2026, 3, 11 + n / 100)),
        done: Some(Done::Reps(1 + n % 9)),
        ..pull_up(1 + n % 100)
    };
    (0..1000).map(one).collect()
}

#[tokio::test]
async fn a_thousand_later_sets_a_late_correction_and_a_restart_change_nothing() {
    let service = trained().await;
    let made = prescribed(&service, "first", date(2026, 3, 11)).await;
    let why = explain(&service, &made.name).await.unwrap();
    assert_eq!(why.prescription.as_ref(), Some(&made));
    let dir = service.stop().await;
    let today = nextrung_domain::date::CivilDate::from_parts(2026, 3, 25).unwrap();
    let service = Service::on(dir, |settings| settings.today = Some(today)).await;
    service.record("later", thousand()).await.unwrap();
    assert_eq!(explain(&service, &made.name).await.unwrap(), why, "after a thousand sets");
    let correction = v1::CorrectSetRequest {
        name: format!("{ATHLETE}/sets/h-7-1"),
        replacement: Some(v1::LoggedSet {
            client_set_id: "h-7-1".to_owned(),
            training_date: Some(date(2026, 3, 7)),
            done: Some(Done::Reps(11)),
            ..pull_up(1)
        }),
        reason: "misread".to_owned(),
        request_id: "correct".to_owned(),
    };
    service.log().correct_set(correction).await.unwrap();
    assert_eq!(explain(&service, &made.name).await.unwrap(), why, "after a late correction");
    let withdrawal = v1::WithdrawSetRequest {
        name: format!("{ATHLETE}/sets/h-4-2"),
        reason: "somebody else's".to_owned(),
        request_id: "withdraw".to_owned(),
    };
    service.log().withdraw_set(withdrawal).await.unwrap();
    let now = prescribed(&service, "again", date(2026, 3, 11)).await;
    assert_ne!(now.items, made.items, "a prescription made now differs");
    let service = Service::on(service.abandon(), |settings| settings.today = Some(today)).await;
    assert_eq!(explain(&service, &made.name).await.unwrap(), why, "after a restart");
    let told = explain(&service, &now.name).await.unwrap();
    assert!(told.influences.iter().all(|one| !one.set.ends_with("/h-4-2")), "a withdrawn set moves nothing");
}

#[tokio::test]
async fn sentences_and_figures_agree() {
    let service = trained().await;
    let made = prescribed(&service, "first", date(2026, 3, 11)).await;
    let why = explain(&service, &made.name).await.unwrap();
    for (item, told) in made.items.iter().zip(&why.items) {
        let chosen: Vec<_> = told.candidates.iter().filter(|c| c.chosen).collect();
        assert_eq!(chosen.len(), 1);
        let expected = item.expected.as_ref().unwrap();
        assert_eq!((chosen[0].p_band, chosen[0].p_easy), (expected.p_band, expected.p_easy));
        for candidate in &told.candidates {
            let all = candidate.p_band + candidate.p_easy + candidate.p_hard;
            assert!((all - 1.0).abs() < 1e-9, "{candidate:?}");
            let ends: f64 = candidate.stops.iter().map(|stop| stop.probability).sum();
            assert!((ends - 1.0).abs() < 1e-9 && candidate.stops.len() == 4, "{candidate:?}");
            assert_eq!(candidate.excluded_by.is_some(), !candidate.hold_backs.is_empty());
            for hold in &candidate.hold_backs {
                assert!(hold.kind != 0 && !hold.opened_by.is_empty() && hold.rung == candidate.rung);
            }
        }
        for reason in &item.reasons {
            assert!(told.sentences.contains(&reason.sentence) && why.sentences.contains(&reason.sentence));
        }
    }
    assert!(!why.turns.is_empty() && why.turns.len().is_multiple_of(2));
    for turn in &why.turns {
        let is_up = turn.direction() == v1::Direction::MoveUp;
        assert_eq!(
            turn.sets > 0,
            turn.sentence.starts_with(if is_up { "Up to " } else { "Back to " }),
            "{turn:?}"
        );
        if let Some(day) = turn.next_date {
            let day = format!("{:04}-{:02}-{:02}", day.year, day.month, day.day);
            assert!(
                turn.sentence.contains(&day) && turn.sentence.contains(&format!("{} clean", turn.done)),
                "{turn:?}"
            );
        }
    }
}

#[tokio::test]
async fn a_turn_is_what_recording_it_gives() {
    let service = Service::start().await;
    service.new_roster().await;
    let goals = vec![v1::Goal { rung: crate::messages::ONE_ARM.to_owned(), by_date: None }];
    service.add_athlete("wren", v1::Athlete { goals, ..crate::messages::athlete() }).await;
    // Pull-ups around three for five weeks, the last of each session to the limit.
    let session = |day: v1::Date, key: &str| {
        let done = [(3, v1::Stop::Target), (3, v1::Stop::Target), (3, v1::Stop::Strength)];
        (1..)
            .zip(done)
            .map(|(number, (reps, stop))| v1::LoggedSet {
                client_set_id: format!("{key}-{number}"),
                training_date: Some(day),
                done: Some(Done::Reps(reps)),
                planned_target: Some(if stop == v1::Stop::Target { 3 } else { 4 }),
                stop: stop.into(),
                ..pull_up(number)
            })
            .collect::<Vec<_>>()
    };
    for week in 0..8 {
        let day = if week < 4 { date(2026, 2, 1 + 6 * week) } else { date(2026, 3, 1 + 2 * (week - 4)) };
        service.record(&format!("week-{week}"), session(day, &format!("w{week}"))).await.unwrap();
    }
    let made = prescribed(&service, "now", date(2026, 3, 10)).await;
    let why = explain(&service, &made.name).await.unwrap();
    let turn = why.turns.iter().find(|turn| turn.sets > 0).expect("a turn");
    let item = made.items.iter().find(|i| i.block() == v1::Block::Working).unwrap();
    let set = |number: i32| v1::LoggedSet {
        client_set_id: format!("turn-{number}"),
        training_date: made.date,
        rung: item.rung.clone(),
        shadings: item.shadings.clone(),
        done: Some(Done::Reps(turn.done)),
        planned_target: Some(item.target_high.max(turn.done)),
        stop: turn.stop,
        reps_in_reserve: turn.reps_in_reserve,
        rest_seconds: (number > 1).then_some(item.rest_seconds),
        load_kg: item.load_kg,
        ..pull_up(number)
    };
    service.record("turn", (1..=turn.sets).map(set).collect()).await.unwrap();
    let next = prescribed(&service, "next", turn.next_date.unwrap()).await;
    let way = next.directions.iter().find(|d| d.ladder == turn.ladder).unwrap();
    assert_eq!((way.direction, &way.rung), (turn.direction, &turn.next_rung), "{turn:?}");
}

#[tokio::test]
async fn an_empty_log_and_one_of_pain_alone_are_explained() {
    let service = Service::start().await;
    service.new_athlete().await;
    let made = prescribed(&service, "empty", date(2026, 3, 11)).await;
    let why = explain(&service, &made.name).await.unwrap();
    assert_eq!((why.influences.len(), why.turns.len()), (0, 0));
    assert!(!why.sentences.is_empty());
    let hurt = |number: i32| v1::LoggedSet {
        training_date: Some(date(2026, 3, 9)),
        stop: v1::Stop::Pain.into(),
        pain: Some(6),
        ..pull_up(number)
    };
    service.record("hurt", (1..=3).map(hurt).collect()).await.unwrap();
    let made = prescribed(&service, "hurt", date(2026, 3, 11)).await;
    let why = explain(&service, &made.name).await.unwrap();
    assert!(why.sentences.iter().any(|sentence| sentence.contains("Pain 6 of 10")), "{:?}", why.sentences);
}

#[tokio::test]
async fn what_was_never_issued_cannot_be_explained() {
    let service = trained().await;
    let never = format!("{ATHLETE}/prescriptions/p-20260311-l10-9");
    assert_eq!(refused(explain(&service, &never).await).reason, "PRESCRIPTION_NOT_FOUND");
    let nobodys = "rosters/hall/athletes/nobody/prescriptions/p-20260311-l10-1";
    assert_eq!(refused(explain(&service, nobodys).await).reason, "PRESCRIPTION_NOT_FOUND");
    assert_eq!(bad_fields(explain(&service, "p-20260311-l10-1").await), ["name"]);
}
