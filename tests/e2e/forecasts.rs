//! Forecasts: when the first clean unit on a goal rung is likely.

use nextrung_api::v1;
use tonic::Code;

use crate::messages::{ONE_ARM, PULL_UP, date, history, pull_up};
use crate::prescriptions::trained;
use crate::refusal::{bad_fields, refused};
use crate::service::{ATHLETE, Service};

fn request(rung: &str, weeks: i32) -> v1::EstimateForecastRequest {
    v1::EstimateForecastRequest {
        name: ATHLETE.to_owned(),
        date: Some(date(2026, 3, 10)),
        rung: rung.to_owned(),
        weeks,
    }
}

async fn forecast(service: &Service, asked: v1::EstimateForecastRequest) -> v1::GoalForecast {
    let answer = service.capacities().estimate_forecast(asked).await.unwrap();
    answer.into_inner().forecast.unwrap()
}

/// What every forecast must keep to.
fn assert_sound(found: &v1::GoalForecast, weeks: usize) {
    assert!(
        !found.lines.is_empty() && !found.sentences.is_empty() && !found.cautions.is_empty(),
        "{found:?}"
    );
    assert_eq!(found.lines.len() == 1, !found.no_second_line.is_empty(), "{found:?}");
    assert!(found.paths >= 1000);
    for line in &found.lines {
        assert_eq!(line.weeks.len(), weeks);
        assert!(!line.assumption.is_empty());
        let mut before = 0.0;
        for (number, week) in (1..).zip(&line.weeks) {
            assert_eq!(week.week, number);
            assert!((before..=1.0).contains(&week.chance_by_then), "{week:?}");
            assert!((before + week.chance_in_week - week.chance_by_then).abs() < 1e-9, "{week:?}");
            let interval = week.interval.unwrap();
            assert!(interval.low <= week.median_units && week.median_units <= interval.high, "{week:?}");
            before = week.chance_by_then;
        }
        let (first, last) = (line.first_week.unwrap(), 1.0 + f64::from(u32::try_from(weeks).unwrap()));
        assert!(1.0 <= first.low && first.low <= first.high && first.high <= last, "{first:?}");
        assert_eq!(line.median_week.is_some(), before >= 0.5, "{line:?}");
    }
}

#[tokio::test]
async fn the_first_goal_is_forecast_for_twelve_weeks() {
    let service = trained().await;
    let found = forecast(&service, request("", 0)).await;
    assert_sound(&found, 12);
    assert_eq!((found.rung.as_str(), found.unit), (ONE_ARM, i32::from(v1::Unit::Reps)));
    assert_eq!((found.date, found.log_position, found.is_done_before), (Some(date(2026, 3, 10)), 10, false));
    let line = &found.lines[0];
    assert_eq!(line.weeks[0].end_date, Some(date(2026, 3, 17)));
    assert_eq!(line.weeks[11].end_date, Some(date(2026, 6, 2)));
    assert!((line.sessions_per_week - 1.5).abs() < 1e-12, "three sessions in the two weeks since the first");
    assert!(line.assumption.contains("1.5 sessions a week of about 3 sets"), "{}", line.assumption);
    assert!(found.no_second_line.contains("recommended dose"), "{}", found.no_second_line);
    assert_eq!(forecast(&service, request("", 0)).await, found, "the same question has the same answer");
    let year = forecast(&service, request(ONE_ARM, 52)).await;
    assert_sound(&year, 52);
    let chances =
        |f: &v1::GoalForecast| f.lines[0].weeks.iter().take(12).map(|w| w.chance_by_then).collect::<Vec<_>>();
    assert_eq!(chances(&year), chances(&found));
}

#[tokio::test]
async fn what_was_done_before_is_said() {
    let service = trained().await;
    let found = forecast(&service, request(PULL_UP, 4)).await;
    assert_sound(&found, 4);
    assert!(found.is_done_before);
    assert!(found.sentences[0].contains("before"), "{:?}", found.sentences);
    assert!(found.lines[0].weeks[0].chance_by_then > 0.9 && found.lines[0].median_week == Some(1));
}

#[tokio::test]
async fn only_sets_up_to_the_day_count() {
    let service = trained().await;
    let asked = v1::EstimateForecastRequest { date: Some(date(2026, 3, 5)), ..request("", 8) };
    let before = forecast(&service, asked.clone()).await;
    let late = v1::LoggedSet { training_date: Some(date(2026, 3, 9)), ..pull_up(9) };
    service.record("late", vec![late]).await.unwrap();
    let after = forecast(&service, asked).await;
    assert_eq!(v1::GoalForecast { log_position: before.log_position, ..after }, before);
}

#[tokio::test]
async fn an_empty_log_and_one_of_pain_alone_have_clear_answers() {
    let service = Service::start().await;
    service.new_athlete().await;
    let empty = forecast(&service, request(ONE_ARM, 12)).await;
    assert_sound(&empty, 12);
    assert!(empty.lines[0].sessions_per_week.abs() < 1e-12 && !empty.is_done_before);
    assert!(empty.lines[0].assumption.contains("was trained in the last four weeks"), "{empty:?}");
    let pain = |set: v1::LoggedSet| v1::LoggedSet { stop: v1::Stop::Pain.into(), pain: Some(6), ..set };
    service.record("pain", history().into_iter().map(pain).collect()).await.unwrap();
    let hurt = forecast(&service, request(ONE_ARM, 12)).await;
    assert_sound(&hurt, 12);
    assert!(hurt.sentences[0].contains("held back now"), "{:?}", hurt.sentences);
}

#[tokio::test]
async fn long_without_training_time_off_is_said_and_reckoned_in() {
    let service = Service::start().await;
    service.new_athlete().await;
    let old = |set: v1::LoggedSet| {
        let day = set.training_date.unwrap().day;
        v1::LoggedSet { training_date: Some(date(2025, 11, day)), ..set }
    };
    service.record("autumn", history().into_iter().map(old).collect()).await.unwrap();
    let found = forecast(&service, request(PULL_UP, 12)).await;
    assert_sound(&found, 12);
    let weeks = &found.lines[0].weeks;
    assert!(found.lines[0].assumption.contains("time off"), "{found:?}");
    assert!(weeks[11].median_units < weeks[0].median_units, "{weeks:?}");
}

#[tokio::test]
async fn every_bad_field_of_a_forecast_is_named() {
    let service = trained().await;
    let spoilt = v1::EstimateForecastRequest { name: "wren".to_owned(), date: None, ..request("", 0) };
    assert_eq!(bad_fields(service.capacities().estimate_forecast(spoilt).await), ["name", "date"]);
    let spoilt = v1::EstimateForecastRequest {
        date: Some(date(2026, 3, 12)),
        ..request("ladders/pull/rungs/one-arm-pull-upp", 53)
    };
    let refusal = refused(service.capacities().estimate_forecast(spoilt).await);
    assert_eq!(refusal.fields(), ["date", "rung", "weeks"]);
    assert!(refusal.about("rung").contains("did you mean `pull/one-arm-pull-up`?"), "{refusal:?}");
    for weeks in [-1, 53, i32::MAX, i32::MIN] {
        assert_eq!(bad_fields(service.capacities().estimate_forecast(request("", weeks)).await), ["weeks"]);
    }
    let early = v1::EstimateForecastRequest { date: Some(date(1990, 6, 14)), ..request("", 0) };
    assert_eq!(bad_fields(service.capacities().estimate_forecast(early).await), ["date"]);
    let nobody =
        v1::EstimateForecastRequest { name: "rosters/hall/athletes/nobody".to_owned(), ..request("", 0) };
    let refusal = refused(service.capacities().estimate_forecast(nobody).await);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::NotFound, "ATHLETE_NOT_FOUND"));
}

#[tokio::test]
async fn without_a_rung_and_a_goal_there_is_nothing_to_forecast() {
    let service = Service::start().await;
    service.new_athlete().await;
    let refusal = refused(service.capacities().estimate_forecast(request("", 0)).await);
    assert_eq!((refusal.code, refusal.reason.as_str()), (Code::FailedPrecondition, "NO_GOAL"));
}
