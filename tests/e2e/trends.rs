//! Trends: capacity and failures over time.

use nextrung_api::v1;
use tonic::Code;

use crate::messages::{ONE_ARM, PULL_UP, athlete, date, history, pull_up, strings};
use crate::prescriptions::trained;
use crate::refusal::{bad_fields, refused};
use crate::service::{ATHLETE, Service};

fn request(rungs: &[&str]) -> v1::EstimateTrendRequest {
    v1::EstimateTrendRequest {
        name: ATHLETE.to_owned(),
        end_date: Some(date(2026, 3, 10)),
        start_date: None,
        rungs: strings(rungs),
    }
}

async fn trend(service: &Service, asked: v1::EstimateTrendRequest) -> v1::EstimateTrendResponse {
    service.capacities().estimate_trend(asked).await.unwrap().into_inner()
}

#[tokio::test]
async fn capacity_and_failures_are_told_day_by_day() {
    let service = trained().await;
    let found = trend(&service, request(&[])).await;
    assert_eq!(
        (found.start_date, found.end_date),
        (Some(date(2025, 12, 17)), Some(date(2026, 3, 10))),
        "84 days"
    );
    assert_eq!(found.log_position, 10);
    assert!(!found.model_version.is_empty());
    let rungs: Vec<&str> = found.rungs.iter().map(|r| r.rung.as_str()).collect();
    assert_eq!(rungs, [PULL_UP, ONE_ARM], "what was trained and the goal, in the order of the ladder");
    for rung in &found.rungs {
        let days: Vec<Option<v1::Date>> = rung.points.iter().map(|p| p.date).collect();
        assert_eq!(days, [1, 4, 7].map(|day| Some(date(2026, 3, day))));
        for point in &rung.points {
            let levels: Vec<f64> = point.intervals.iter().map(|i| i.level).collect();
            assert_eq!(levels, [0.5, 0.8, 0.95]);
            let holds = |i: &v1::Interval| i.low < point.median_units && point.median_units < i.high;
            assert!(point.intervals.iter().all(holds), "{point:?}");
        }
        assert!(!rung.sentences.is_empty() && rung.unit == i32::from(v1::Unit::Reps));
    }
    let pull_up = &found.rungs[0];
    assert!((4.0..8.0).contains(&pull_up.points[2].median_units), "{pull_up:?}");
    let [any, strength] = pull_up.failures.as_slice() else { panic!("{:?}", pull_up.failures) };
    assert_eq!((any.cause, strength.cause), (0, i32::from(v1::Stop::Strength)));
    assert_eq!((any.sets, any.failures), (9, 9));
    assert!((any.rate - 1.0).abs() < 1e-12);
    // All of three days: 3 / (3 + 1.96 x 1.96).
    assert!((any.rate_interval.unwrap().low - 0.4385).abs() < 1e-4, "{any:?}");
    assert!(any.slope_per_week.is_none() && any.slope_interval.is_none(), "all failed");
    assert_eq!(any.weeks.iter().map(|w| w.sets).sum::<i32>(), 9);
    assert!(found.rungs[1].failures.is_empty());
}

#[tokio::test]
async fn a_slope_comes_with_its_interval_and_the_weeks_with_the_line() {
    let service = trained().await;
    let target = |day: i32, number: i32| v1::LoggedSet {
        client_set_id: format!("t-{day}-{number}"),
        training_date: Some(date(2026, 2, day)),
        planned_target: Some(5),
        stop: v1::Stop::Target.into(),
        ..pull_up(number)
    };
    let failed = |day, number| v1::LoggedSet {
        stop: v1::Stop::Strength.into(),
        planned_target: Some(6),
        ..target(day, number)
    };
    let sets = vec![target(10, 1), failed(10, 2), target(17, 1), target(17, 2), failed(24, 1), target(24, 2)];
    service.record("february", sets).await.unwrap();
    let found = trend(&service, request(&[PULL_UP])).await;
    let any = &found.rungs[0].failures[0];
    assert_eq!((any.sets, any.failures), (15, 11));
    let (slope, interval) = (any.slope_per_week.unwrap(), any.slope_interval.unwrap());
    assert!(interval.low < slope && slope < interval.high && slope > 0.0, "{any:?}");
    assert!(any.weeks.iter().all(|w| 0.0 < w.fitted && w.fitted < 1.0), "{any:?}");
    assert!(any.weeks.windows(2).all(|w| w[0].fitted < w[1].fitted), "the line rises");
}

#[tokio::test]
async fn only_what_was_trained_by_the_last_day_counts() {
    let service = trained().await;
    let before =
        trend(&service, v1::EstimateTrendRequest { end_date: Some(date(2026, 3, 5)), ..request(&[PULL_UP]) })
            .await;
    let late = v1::LoggedSet { training_date: Some(date(2026, 3, 9)), ..pull_up(9) };
    service.record("late", vec![late]).await.unwrap();
    let after =
        trend(&service, v1::EstimateTrendRequest { end_date: Some(date(2026, 3, 5)), ..request(&[PULL_UP]) })
            .await;
    assert_eq!(before.rungs, after.rungs);
    assert_eq!(before.rungs[0].points.len(), 2);
}

#[tokio::test]
async fn an_empty_log_and_one_of_pain_alone_have_clear_answers() {
    let service = Service::start().await;
    service.new_athlete().await;
    let empty = trend(&service, request(&[])).await;
    assert_eq!(empty.rungs, [], "nothing trained, no goal");
    let asked = trend(&service, request(&[PULL_UP])).await;
    assert!(asked.rungs[0].points.is_empty() && asked.rungs[0].failures.is_empty());
    assert!(asked.rungs[0].sentences[0].contains("trained in these days"), "{asked:?}");
    let pain = |set: v1::LoggedSet| v1::LoggedSet { stop: v1::Stop::Pain.into(), pain: Some(6), ..set };
    service.record("pain", history().into_iter().map(pain).collect()).await.unwrap();
    let hurt = trend(&service, request(&[])).await;
    let [rung] = hurt.rungs.as_slice() else { panic!("{hurt:?}") };
    assert_eq!(
        (rung.points.len(), rung.failures.len()),
        (3, 0),
        "work was done, and none of it tells of failures"
    );
    assert!(rung.points.iter().all(|p| p.median_units.is_finite() && p.median_units > 0.0), "{rung:?}");
    assert!(rung.sentences.iter().any(|s| s.contains("No set on it told")), "{rung:?}");
}

#[tokio::test]
async fn every_bad_field_of_a_trend_is_named() {
    let service = trained().await;
    let spoilt = v1::EstimateTrendRequest { name: "wren".to_owned(), end_date: None, ..request(&[]) };
    assert_eq!(bad_fields(service.capacities().estimate_trend(spoilt).await), ["name", "end_date"]);
    let spoilt = v1::EstimateTrendRequest {
        start_date: Some(date(2026, 3, 11)),
        ..request(&["ladders/pull/rungs/pul-up", PULL_UP, PULL_UP, "pull-up"])
    };
    let refusal = refused(service.capacities().estimate_trend(spoilt).await);
    assert_eq!(refusal.fields(), ["start_date", "rungs[0]", "rungs[2]", "rungs[3]"]);
    assert!(refusal.about("rungs[0]").contains("did you mean `pull/pull-up`?"), "{refusal:?}");
    for day in [date(1990, 6, 14), date(2026, 3, 12)] {
        let spoilt = v1::EstimateTrendRequest { end_date: Some(day), ..request(&[]) };
        assert_eq!(bad_fields(service.capacities().estimate_trend(spoilt).await), ["end_date"]);
    }
    let many = [PULL_UP; 21];
    assert_eq!(bad_fields(service.capacities().estimate_trend(request(&many)).await), ["rungs"]);
    let nobody = v1::EstimateTrendRequest { name: "rosters/hall/athletes/nobody".to_owned(), ..request(&[]) };
    let refusal = refused(service.capacities().estimate_trend(nobody).await);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::NotFound, "ATHLETE_NOT_FOUND"));
    service.add_athlete("finch", athlete()).await;
    let one_day = v1::EstimateTrendRequest { start_date: Some(date(2026, 3, 10)), ..request(&[]) };
    assert_eq!(trend(&service, one_day).await.start_date, Some(date(2026, 3, 10)), "one day is a span");
}
