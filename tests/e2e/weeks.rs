//! Weeks: planned, planned again after a missed day, and everything that can stand in the way.

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use tonic::Status;

use crate::messages::{ONE_ARM, PULL_UP, athlete, date, pull_up, strings};
use crate::refusal::{bad_fields, refused};
use crate::service::{ATHLETE, ROSTER, Service};

const LEVER: &str = "ladders/front-lever/rungs/full";
const LEVER_TUCK: &str = "ladders/front-lever/rungs/tuck";
const SQUAT: &str = "ladders/one-leg-squat/rungs/one-leg-squat";

/// The week from Monday 9 March 2026.
fn request() -> v1::PlanWeekRequest {
    v1::PlanWeekRequest { parent: ATHLETE.to_owned(), start_date: Some(date(2026, 3, 9)), from_date: None }
}

async fn ask(service: &Service, request: v1::PlanWeekRequest) -> Result<v1::WeekPlan, Status> {
    let answer = service.prescriptions().plan_week(request).await?.into_inner();
    Ok(answer.plan.expect("an answer has a plan"))
}

/// A plan, with everything that holds for every plan.
async fn planned(service: &Service, request: v1::PlanWeekRequest) -> v1::WeekPlan {
    let plan = ask(service, request).await.unwrap();
    assert_eq!(plan.days.len(), 7);
    let days: Vec<_> = plan.days.iter().map(|d| d.date.unwrap().day).collect();
    assert_eq!(days, [9, 10, 11, 12, 13, 14, 15]);
    assert!(plan.plans_weighed >= 1 && !plan.sentences.is_empty() && !plan.cautions.is_empty());
    assert!(plan.policy_version.starts_with("policy-"));
    for day in &plan.days {
        assert!(day.kind != 0 && !day.sentence.is_empty(), "{day:?}");
        let is_training = day.kind == i32::from(v1::PrescriptionKind::Training);
        assert_eq!(is_training, !day.parts.is_empty(), "{day:?}");
        let first_hard = day.parts.iter().position(|p| p.block != i32::from(v1::Block::BalancePractice));
        let last_balance = day.parts.iter().rposition(|p| p.block == i32::from(v1::Block::BalancePractice));
        if let (Some(hard), Some(balance), false) = (first_hard, last_balance, day.is_past) {
            assert!(balance < hard, "balance comes first: {day:?}");
        }
    }
    for wish in &plan.wishes {
        assert_eq!(wish.is_met, wish.missed == 0.0, "{wish:?}");
        assert!(!wish.sentence.is_empty() && !wish.figures.is_empty(), "{wish:?}");
    }
    assert_eq!(plan.cost == 0.0, plan.wishes.iter().all(|w| w.is_met), "{:?}", plan.sentences);
    plan
}

/// A service with an athlete who has goals on both arm sides and for the legs.
async fn with(change: impl FnOnce(&mut v1::Athlete)) -> Service {
    let service = Service::start().await;
    service.new_roster().await;
    let goals = [ONE_ARM, LEVER, SQUAT].map(|rung| v1::Goal { rung: rung.to_owned(), by_date: None });
    let mut wren = v1::Athlete { goals: goals.to_vec(), ..athlete() };
    change(&mut wren);
    service.add_athlete("wren", wren).await;
    service
}

/// Four sets of pull-ups or tuck levers on days of March 2026, ended by strength.
fn sets(day: i32, rung: &str) -> Vec<v1::LoggedSet> {
    let one = |number: i32| v1::LoggedSet {
        client_set_id: format!("{day}-{number}"),
        training_date: Some(date(2026, 3, day)),
        rung: rung.to_owned(),
        done: Some(if rung == PULL_UP { Done::Reps(5) } else { Done::HoldSeconds(12) }),
        ..pull_up(number)
    };
    (1..=4).map(one).collect()
}

async fn log(service: &Service, day: i32, rung: &str) {
    service.record(&format!("log-{day}"), sets(day, rung)).await.unwrap();
}

/// A week before the one planned, so that no session of the arms is a test.
async fn trained(service: &Service) {
    for (day, rung) in
        [(1, PULL_UP), (2, LEVER_TUCK), (4, PULL_UP), (5, LEVER_TUCK), (6, PULL_UP), (7, LEVER_TUCK)]
    {
        log(service, day, rung).await;
    }
}

fn with_side(plan: &v1::WeekPlan, side: v1::Side) -> Vec<usize> {
    let days = plan.days.iter().enumerate();
    days.filter(|(_, d)| d.sides.contains(&i32::from(side))).map(|(at, _)| at).collect()
}

fn wish<'p>(plan: &'p v1::WeekPlan, wish: &str, subject: &str) -> &'p v1::WeekWish {
    let found = plan.wishes.iter().find(|w| w.wish == wish && w.subject == subject);
    found.unwrap_or_else(|| panic!("no wish {wish} about {subject}: {:#?}", plan.wishes))
}

#[tokio::test]
async fn a_week_for_several_goals_meets_every_wish() {
    let service = with(|_| ()).await;
    trained(&service).await;
    let plan = planned(&service, request()).await;
    assert_eq!((plan.cost, plan.log_position), (0.0, 25), "{:?}", plan.sentences);
    let (bent, straight) = (with_side(&plan, v1::Side::BentArm), with_side(&plan, v1::Side::StraightArm));
    assert_eq!((bent.len(), straight.len()), (3, 3), "{:?}", plan.sentences);
    assert!(plan.sentences.contains(&"Every wish of the week is met.".to_owned()), "{:?}", plan.sentences);
    for (yesterday, today) in plan.days.iter().zip(&plan.days[1..]) {
        let hard =
            |d: &v1::PlannedDay| d.parts.iter().flat_map(|p| p.hard_abilities.clone()).collect::<Vec<_>>();
        assert!(hard(today).iter().all(|a| !hard(yesterday).contains(a)), "{yesterday:?} {today:?}");
    }
    let rest = plan.days.iter().filter(|d| d.kind == i32::from(v1::PrescriptionKind::Rest)).count();
    assert!(rest >= 1);
    assert_eq!(planned(&service, request()).await, plan, "asked again");
    let same = v1::PlanWeekRequest { from_date: Some(date(2026, 3, 9)), ..request() };
    assert_eq!(planned(&service, same).await, plan, "from the first day");
}

#[tokio::test]
async fn a_missed_day_is_named_and_the_week_is_planned_again() {
    let service = with(|_| ()).await;
    trained(&service).await;
    let first = planned(&service, request()).await;
    assert_ne!(first.days[0].parts, []);
    let from = |day: i32| v1::PlanWeekRequest { from_date: Some(date(2026, 3, day)), ..request() };
    let again = planned(&service, from(10)).await;
    assert!(again.days[0].is_past && again.days[0].is_missed, "{:?}", again.days[0]);
    assert!(again.sentences.iter().any(|s| s.starts_with("Monday was missed")), "{:?}", again.sentences);
    let later = |plan: &v1::WeekPlan| plan.days[1..].iter().filter(|d| !d.parts.is_empty()).count();
    assert!(later(&again) >= later(&first), "{:?}", again.sentences);
    // With half of the week gone the wishes say why they cannot be met any more.
    let late = planned(&service, from(13)).await;
    let lever = wish(&late, "exposures", "ladders/front-lever");
    assert!(!lever.is_met && lever.sentence.contains("Nothing was trained on"), "{}", lever.sentence);
    // What was trained on the day after all counts.
    log(&service, 9, LEVER_TUCK).await;
    let after = planned(&service, from(10)).await;
    assert!(after.days[0].is_past && !after.days[0].is_missed, "{:?}", after.days[0]);
    assert_eq!(after.days[0].parts[0].ladder, "ladders/front-lever");
    assert!(!with_side(&after, v1::Side::StraightArm).contains(&1), "{:?}", after.sentences);
}

#[tokio::test]
async fn too_few_days_are_said() {
    let days = vec![i32::from(v1::Weekday::Monday), i32::from(v1::Weekday::Thursday)];
    let service = with(|a| a.available_weekdays = days).await;
    trained(&service).await;
    let plan = planned(&service, request()).await;
    let training: Vec<usize> = (0..7).filter(|at| !plan.days[*at].parts.is_empty()).collect();
    assert_eq!(training, [0, 3]);
    let pull = wish(&plan, "exposures", "ladders/pull");
    assert!(!pull.is_met && pull.sentence.contains("Monday and Thursday only"), "{}", pull.sentence);
    assert!(plan.days[1].sentence.contains("does not train on Tuesdays"), "{}", plan.days[1].sentence);
}

#[tokio::test]
async fn pain_holds_a_side_back_on_the_days_on_which_it_stands() {
    let service = with(|_| ()).await;
    trained(&service).await;
    let hurt = v1::LoggedSet {
        client_set_id: "hurt".to_owned(),
        training_date: Some(date(2026, 3, 8)),
        stop: v1::Stop::Pain.into(),
        pain: Some(5),
        done: Some(Done::Reps(2)),
        ..pull_up(9)
    };
    service.record("hurt", vec![hurt]).await.unwrap();
    let plan = planned(&service, request()).await;
    // Seven days from Sunday the 8th: the hold is over on Sunday the 15th.
    assert_eq!(with_side(&plan, v1::Side::BentArm), [6], "{:?}", plan.sentences);
    let pull = wish(&plan, "exposures", "ladders/pull");
    assert!(pull.missed == 2.0 && pull.sentence.contains("Pain 5 of 10"), "{}", pull.sentence);
    let turns = wish(&plan, "alternation", "");
    assert!(turns.sentence.contains("One of them is held back on Monday"), "{}", turns.sentence);
    assert_ne!(with_side(&plan, v1::Side::StraightArm), Vec::<usize>::new());
}

#[tokio::test]
async fn caps_bans_and_limits_are_kept() {
    let service = with(|a| {
        a.limits = Some(v1::AthleteLimits {
            max_sets_per_session: Some(6),
            capped_rungs: vec![v1::CappedRung { rung: PULL_UP.to_owned(), reason: "Elbow.".to_owned() }],
            ..v1::AthleteLimits::default()
        });
    })
    .await;
    trained(&service).await;
    let plan = planned(&service, request()).await;
    for day in &plan.days {
        assert!(day.parts.iter().map(|p| p.sets).sum::<i32>() <= 6, "{day:?}");
    }
    assert_ne!(with_side(&plan, v1::Side::BentArm), Vec::<usize>::new(), "below the cap it is trained");
    let get = v1::GetLadderRequest { name: "ladders/pull".to_owned() };
    let ladder = service.ladders().get_ladder(get).await.unwrap().into_inner().ladder.unwrap();
    let banned =
        ladder.rungs.iter().map(|r| v1::BannedRung { rung: r.name.clone(), reason: "Rest it.".to_owned() });
    let limits = v1::AthleteLimits { banned_rungs: banned.collect(), ..v1::AthleteLimits::default() };
    let goals = vec![v1::Goal { rung: ONE_ARM.to_owned(), by_date: None }];
    service.add_athlete("held", v1::Athlete { goals, limits: Some(limits), ..athlete() }).await;
    let held = v1::PlanWeekRequest { parent: format!("{ROSTER}/athletes/held"), ..request() };
    let plan = planned(&service, held).await;
    assert!(plan.days.iter().all(|d| d.kind == i32::from(v1::PrescriptionKind::HeldBack)), "{:?}", plan.days);
    assert!(wish(&plan, "exposures", "ladders/pull").sentence.contains("Rest it."), "{:?}", plan.wishes);
}

#[tokio::test]
async fn an_empty_log_without_goals_or_equipment_gets_a_week() {
    let service = Service::start().await;
    service.new_roster().await;
    service.add_athlete("wren", v1::Athlete { equipment: strings(&[]), ..athlete() }).await;
    let plan = planned(&service, request()).await;
    assert_eq!(plan.log_position, 1);
    let pull = wish(&plan, "exposures", "ladders/pull");
    assert!(!pull.is_met && pull.sentence.contains("bar"), "{}", pull.sentence);
    assert!(
        plan.days.iter().any(|d| d.parts.iter().any(|p| p.ladder == "ladders/push-up")),
        "{:?}",
        plan.days
    );
}

#[tokio::test]
async fn every_bad_field_of_a_request_is_named() {
    let service = with(|_| ()).await;
    let spoilt = v1::PlanWeekRequest {
        parent: "wren".to_owned(),
        start_date: None,
        from_date: Some(date(2026, 2, 30)),
    };
    assert_eq!(bad_fields(ask(&service, spoilt).await), ["parent", "start_date", "from_date"]);
    for start in [date(1990, 6, 14), date(2027, 3, 12)] {
        let spoilt =
            v1::PlanWeekRequest { start_date: Some(start), from_date: Some(date(2026, 3, 9)), ..request() };
        assert_eq!(bad_fields(ask(&service, spoilt).await), ["start_date", "from_date"]);
    }
    for day in [8, 16] {
        let spoilt = v1::PlanWeekRequest { from_date: Some(date(2026, 3, day)), ..request() };
        let refusal = refused(ask(&service, spoilt).await);
        assert_eq!(refusal.fields(), ["from_date"]);
        assert!(refusal.about("from_date").contains("2026-03-09 to 2026-03-15"), "{refusal:?}");
    }
    let nobody = v1::PlanWeekRequest { parent: format!("{ROSTER}/athletes/nobody"), ..request() };
    assert_eq!(refused(ask(&service, nobody).await).reason, "ATHLETE_NOT_FOUND");
    let last = v1::PlanWeekRequest { start_date: Some(date(2027, 3, 11)), ..request() };
    assert!(ask(&service, last).await.is_ok());
}
