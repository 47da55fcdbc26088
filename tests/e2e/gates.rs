//! Gates: the way to a free rung gone step by step, with who confirmed what and when, and everything that can be wrong.

use std::collections::BTreeMap;

use nextrung_api::v1;
use nextrung_api::v1::gate_status::Need;
use nextrung_api::v1::logged_set::Done;
use prost_types::FieldMask;
use tonic::{Code, Status};

use crate::messages::{athlete, date, strings};
use crate::refusal::{bad_fields, refused};
use crate::service::{ATHLETE, ROSTER, Service};

/// The rung at the end of the way: it asks for all three clearances and for free balance.
const FREE_LOWERING: &str = "ladders/press/rungs/free-lowering";
const FREE_HOLD: &str = "ladders/hand-balance/rungs/free-straight";

fn request(rung: &str) -> v1::ReviewGatesRequest {
    v1::ReviewGatesRequest { name: ATHLETE.to_owned(), date: Some(date(2026, 3, 10)), rung: rung.to_owned() }
}

async fn ask(service: &Service, request: v1::ReviewGatesRequest) -> Result<v1::GateReview, Status> {
    let answer = service.reviews().review_gates(request).await?.into_inner();
    Ok(answer.review.expect("an answer has a review"))
}

async fn gates(service: &Service, rung: &str) -> v1::GateReview {
    let found = ask(service, request(rung)).await.unwrap();
    assert!(!found.sentences.is_empty() && !found.cautions.is_empty());
    for gate in &found.gates {
        assert!(!gate.why.is_empty() && !gate.sentence.is_empty() && gate.need.is_some(), "{gate:?}");
        if let Some(Need::Units(need)) = &gate.need {
            assert!((0.0..=1.0).contains(&need.probability_now), "{need:?}");
            assert_eq!(need.shown_by.is_empty(), need.shown_date.is_none());
            assert!(gate.is_met || need.best < need.at_least, "{gate:?}");
        }
    }
    found
}

/// A service with an athlete who has everything at hand and a goal, and nothing logged or confirmed.
async fn newcomer() -> Service {
    let service = Service::start().await;
    service.new_roster().await;
    let goals = vec![v1::Goal { rung: FREE_LOWERING.to_owned(), by_date: None }];
    let equipment = strings(&["bar", "box", "parallettes", "rings", "wall"]);
    service.add_athlete("wren", v1::Athlete { goals, equipment, ..athlete() }).await;
    service
}

/// What each rung is counted in.
async fn units(service: &Service) -> BTreeMap<String, v1::Unit> {
    let list = v1::ListLaddersRequest { page_size: 1000, ..Default::default() };
    let ladders = service.ladders().list_ladders(list).await.unwrap().into_inner().ladders;
    ladders.into_iter().flat_map(|l| l.rungs).map(|r| (r.name.clone(), r.unit())).collect()
}

fn confirmed(clearances: &[v1::Clearance], by: &str) -> Vec<v1::Confirmation> {
    let one = |clearance: &v1::Clearance| v1::Confirmation {
        clearance: i32::from(*clearance),
        confirmed_date: Some(date(2026, 3, 9)),
        confirmed_by: by.to_owned(),
    };
    clearances.iter().map(one).collect()
}

async fn confirm(service: &Service, id: &str, clearances: Vec<v1::Confirmation>) {
    let request = v1::UpdateAthleteRequest {
        athlete: Some(v1::Athlete { name: ATHLETE.to_owned(), clearances, ..v1::Athlete::default() }),
        update_mask: Some(FieldMask { paths: strings(&["clearances"]) }),
        request_id: id.to_owned(),
    };
    service.athletes().update_athlete(request).await.unwrap();
}

/// A set that shows what a gate asks for.
fn showing(need: &v1::UnitsNeed, unit: v1::Unit, number: i32) -> v1::LoggedSet {
    v1::LoggedSet {
        client_set_id: format!("g-{number}"),
        training_date: Some(date(2026, 3, 9)),
        set_number: number,
        rung: need.rung.clone(),
        purpose: v1::Purpose::Test.into(),
        planned_target: Some(need.at_least),
        stop: v1::Stop::Target.into(),
        done: Some(match unit {
            v1::Unit::HoldSeconds => Done::HoldSeconds(need.at_least),
            v1::Unit::LoweringSeconds => Done::LoweringSeconds(need.at_least),
            v1::Unit::Reps | v1::Unit::Unspecified => Done::Reps(need.at_least),
        }),
        ..v1::LoggedSet::default()
    }
}

/// Whether the rung is excluded, and by what, when a prescription is asked for it by name.
async fn held_by(service: &Service, id: &str) -> Vec<String> {
    let request = v1::PrescribeRequest {
        parent: ATHLETE.to_owned(),
        date: Some(date(2026, 3, 10)),
        request_id: id.to_owned(),
        validate_only: true,
    };
    let made = service.prescriptions().prescribe(request).await.unwrap().into_inner().prescription.unwrap();
    assert!(
        made.items.iter().all(|i| i.rung != FREE_LOWERING)
            || made.hold_backs.iter().all(|h| h.rung != FREE_LOWERING)
    );
    let goal = made.goal_statuses.iter().find(|g| g.rung == FREE_LOWERING).expect("the goal");
    let is_held = goal.state == i32::from(v1::GoalState::HeldBack);
    is_held.then(|| goal.sentence.clone()).into_iter().collect()
}

#[tokio::test]
async fn the_whole_way_is_gone_step_by_step() {
    let service = newcomer().await;
    let units = units(&service).await;
    let start = gates(&service, "").await;
    assert_eq!((start.rung.as_str(), start.log_position), (FREE_LOWERING, 1));
    assert!(start.gates.iter().all(|gate| !gate.is_met), "{:?}", start.sentences);
    assert_eq!(start.confirmations, []);
    let mut given: Vec<v1::Clearance> = Vec::new();
    let mut steps: Vec<String> = Vec::new();
    for number in 1..=40 {
        let found = gates(&service, "").await;
        let Some(first) = found.gates.iter().find(|gate| !gate.is_met) else { break };
        assert!(found.sentences[1].contains(&first.sentence), "{:?}", found.sentences);
        assert!(
            !held_by(&service, &format!("p-{number}")).await.is_empty(),
            "held back by {}",
            first.sentence
        );
        match first.need.as_ref().unwrap() {
            Need::Units(need) => {
                let set = showing(need, units[&need.rung], number);
                service.record(&format!("r-{number}"), vec![set]).await.unwrap();
                let after = gates(&service, "").await;
                let same = |g: &&v1::GateStatus| {
                    let is_same = |n: &Need| matches!(n, Need::Units(n) if (&n.rung, n.at_least) == (&need.rung, need.at_least));
                    g.gated_rung == first.gated_rung && g.need.as_ref().is_some_and(is_same)
                };
                let shown = after.gates.iter().find(same).unwrap();
                assert!(shown.is_met, "{}", shown.sentence);
                let Some(Need::Units(by)) = &shown.need else { panic!("units") };
                assert_eq!(by.shown_by, format!("{ATHLETE}/sets/g-{number}"));
                assert_eq!((by.shown_date, by.best), (Some(date(2026, 3, 9)), need.at_least));
                steps.push(format!("{} {}", need.rung, need.at_least));
            }
            Need::Clearance(clearance) => {
                given.push(v1::Clearance::try_from(*clearance).unwrap());
                confirm(&service, &format!("c-{number}"), confirmed(&given, "coach")).await;
                let after = gates(&service, "").await;
                let same = after.gates.iter().find(|g| g.need == first.need).unwrap();
                let by = same.confirmation.as_ref().unwrap();
                assert_eq!((by.confirmed_by.as_str(), by.confirmed_date), ("coach", Some(date(2026, 3, 9))));
                assert!(same.is_met && same.sentence.contains("confirmed by coach on 2026-03-09"));
                steps.push(format!("clearance {clearance}"));
            }
        }
    }
    let end = gates(&service, "").await;
    assert!(end.gates.iter().all(|gate| gate.is_met), "{:?}", end.sentences);
    assert!(end.sentences[0].starts_with("All "), "{:?}", end.sentences);
    assert_eq!(held_by(&service, "end").await, Vec::<String>::new());
    // Suitable head-down work first, then the wall, the way out, free balance; nothing free before the wall.
    let place = |what: &str| {
        steps.iter().position(|s| s.starts_with(what)).unwrap_or_else(|| panic!("{what}: {steps:?}"))
    };
    assert_eq!(place("clearance 1"), 0, "{steps:?}");
    let wall = place("ladders/hand-balance/rungs/chest-to-wall-hold");
    assert!(place("clearance 2") < wall && wall < place(FREE_HOLD), "{steps:?}");
    assert!(place("clearance 3") > place("ladders/press/rungs/wall-lowering"), "{steps:?}");
}

#[tokio::test]
async fn who_confirmed_what_and_when_stays_in_the_log() {
    let service = newcomer().await;
    let both = [v1::Clearance::InvertedWork, v1::Clearance::ExitPractised];
    confirm(&service, "1", confirmed(&both[..1], "physician")).await;
    confirm(&service, "2", [confirmed(&both[..1], "physician"), confirmed(&both[1..], "coach")].concat())
        .await;
    confirm(&service, "3", confirmed(&both[1..], "coach")).await;
    confirm(&service, "4", confirmed(&both, "coach")).await;
    let found = gates(&service, "").await;
    let told: Vec<(i32, String, i64, i64)> = found
        .confirmations
        .iter()
        .map(|r| {
            let c = r.confirmation.as_ref().unwrap();
            (c.clearance, c.confirmed_by.clone(), r.sequence, r.ended_sequence)
        })
        .collect();
    let expected = [(1, "physician", 2, 4), (2, "coach", 3, 0), (1, "coach", 5, 0)];
    assert_eq!(told, expected.map(|(clearance, by, at, ended)| (clearance, by.to_owned(), at, ended)));
    let met = |found: &v1::GateReview, clearance: i32| {
        found.gates.iter().find(|g| g.need == Some(Need::Clearance(clearance))).unwrap().is_met
    };
    assert!(met(&found, 1) && met(&found, 2) && !met(&found, 3));
    confirm(&service, "5", Vec::new()).await;
    let found = gates(&service, "").await;
    assert!(!met(&found, 1) && !met(&found, 2), "taken back");
    assert!(found.confirmations.iter().all(|r| r.ended_sequence > 0), "{:?}", found.confirmations);
    // On the days before, a confirmation does not hold.
    confirm(&service, "6", confirmed(&both, "coach")).await;
    let early = v1::ReviewGatesRequest { date: Some(date(2026, 3, 8)), ..request("") };
    assert!(!met(&ask(&service, early).await.unwrap(), 1));
}

#[tokio::test]
async fn a_set_that_is_withdrawn_shows_nothing() {
    let service = newcomer().await;
    confirm(&service, "1", confirmed(&[v1::Clearance::InvertedWork], "coach")).await;
    let need = v1::UnitsNeed {
        rung: "ladders/hand-balance/rungs/box-pike-hold".to_owned(),
        at_least: 20,
        ..v1::UnitsNeed::default()
    };
    service.record("r", vec![showing(&need, v1::Unit::HoldSeconds, 1)]).await.unwrap();
    let shown = |found: &v1::GateReview| {
        let needs = found.gates.iter().filter_map(|g| match &g.need {
            Some(Need::Units(n)) if n.rung == need.rung => Some((n.shown_by.clone(), n.best)),
            _ => None,
        });
        needs.collect::<Vec<_>>()
    };
    assert_eq!(shown(&gates(&service, FREE_HOLD).await), [(format!("{ATHLETE}/sets/g-1"), 20)]);
    let yesterday = v1::ReviewGatesRequest { date: Some(date(2026, 3, 8)), ..request(FREE_HOLD) };
    assert_eq!(shown(&ask(&service, yesterday).await.unwrap()), [(String::new(), 0)]);
    let withdraw = v1::WithdrawSetRequest {
        name: format!("{ATHLETE}/sets/g-1"),
        reason: "another athlete's".to_owned(),
        request_id: "w".to_owned(),
    };
    service.log().withdraw_set(withdraw).await.unwrap();
    assert_eq!(shown(&gates(&service, FREE_HOLD).await), [(String::new(), 0)]);
}

#[tokio::test]
async fn a_rung_without_gates_says_so_and_the_first_goal_is_meant_when_none_is_named() {
    let service = newcomer().await;
    let found = gates(&service, "ladders/push-up/rungs/push-up").await;
    assert_eq!(found.gates, []);
    assert_eq!(found.sentences, ["Push-up asks for nothing first."]);
    assert_eq!(gates(&service, "").await, gates(&service, FREE_LOWERING).await);
}

#[tokio::test]
async fn what_holds_back_whatever_the_gates_say_comes_first() {
    let service = newcomer().await;
    service.add_athlete("bare", v1::Athlete { equipment: Vec::new(), ..athlete() }).await;
    let bare = v1::ReviewGatesRequest {
        name: format!("{ROSTER}/athletes/bare"),
        ..request("ladders/pull/rungs/chest-to-bar")
    };
    let told = ask(&service, bare).await.unwrap().sentences;
    assert!(told[0].starts_with("Held back: It needs bar"), "{told:?}");
    assert!(told[1].starts_with("None of the ") && told[2].starts_with("First: "), "{told:?}");
}

#[tokio::test]
async fn every_bad_field_of_a_request_is_named() {
    let service = newcomer().await;
    let spoilt = v1::ReviewGatesRequest { name: "wren".to_owned(), date: None, rung: String::new() };
    assert_eq!(bad_fields(ask(&service, spoilt).await), ["name", "date"]);
    for day in [date(1990, 6, 14), date(2027, 3, 12)] {
        let spoilt = v1::ReviewGatesRequest { date: Some(day), ..request("ladders/press/rungs/free-pres") };
        let refusal = refused(ask(&service, spoilt).await);
        assert_eq!(refusal.fields(), ["date", "rung"]);
        assert!(refusal.about("rung").contains("press/free-press"), "{refusal:?}");
    }
    let nobody = v1::ReviewGatesRequest { name: format!("{ROSTER}/athletes/nobody"), ..request("") };
    assert_eq!(refused(ask(&service, nobody).await).reason, "ATHLETE_NOT_FOUND");
    service.add_athlete("aimless", athlete()).await;
    let aimless = v1::ReviewGatesRequest { name: format!("{ROSTER}/athletes/aimless"), ..request("") };
    let refusal = refused(ask(&service, aimless).await);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::FailedPrecondition, "NO_GOAL"));
}
