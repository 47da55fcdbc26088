//! Capacity and failures over time (F-11).

use nextrung_capacity::done::Done;
use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_capacity::state::AthleteState;
use nextrung_capacity::task::Task;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::RungRef;
use nextrung_domain::stop::Stop;
use nextrung_prescribe::trend::slope::logistic_slope;
use nextrung_prescribe::trend::{RungTrend, Span, rungs_of_interest, trends};

use crate::gym::{Athlete, model};

pub(crate) fn rung(model: &Model, name: &str) -> RungIx {
    model.catalog.find(&RungRef::parse(name).expect("a rung")).expect("a known rung")
}

/// Three sets of a rung on a day: so many units each, the last one failing for want of strength.
pub(crate) fn session(model: &Model, name: &str, day: i32, units: u16) -> Vec<(Task, Done)> {
    let task = Task::new(&model.catalog, rung(model, name), &[], 1.0);
    let stops = [Stop::Target, Stop::Target, Stop::Strength];
    let done = |stop| Done {
        day,
        session: 1,
        units,
        target: Some(units + u16::from(stop == Stop::Strength)),
        stop,
        reserve: None,
        rest_seconds: Some(180),
    };
    stops.map(|stop| (task.clone(), done(stop))).to_vec()
}

/// Twelve weeks of pull-ups on Mondays and Thursdays, from four to seven.
fn growing(model: &Model) -> Vec<(Task, Done)> {
    let days = (0..84).filter(|day| matches!(day % 7, 0 | 3));
    days.flat_map(|day| session(model, "pull/pull-up", day, 4 + u16::try_from(day / 28).expect("small")))
        .collect()
}

const SPAN: Span = Span { first: 0, last: 83 };

fn of_pull_up(model: &Model, sets: &[(Task, Done)]) -> RungTrend {
    trends(model, sets, SPAN, &[rung(model, "pull/pull-up")]).remove(0)
}

#[test]
fn slopes_are_those_of_statsmodels() {
    let text = include_str!("../../../../tests/reference/r13_failure_slope.py.out");
    let told: serde_json::Value = serde_json::from_str(text).expect("JSON");
    let cases = told["cases"].as_object().expect("cases");
    assert_eq!(cases.len(), 6);
    let mut wider = 0;
    for (name, case) in cases {
        let list = |key: &str| case[key].as_array().expect("a list").clone();
        let days = list("days").into_iter().map(|d| d.as_f64().expect("a day") / 7.0);
        let sets: Vec<(f64, bool)> =
            days.zip(list("failed")).map(|(d, f)| (d, f.as_i64() == Some(1))).collect();
        let found = logistic_slope(&sets).unwrap_or_else(|| panic!("no slope for {name}"));
        let (low, high) = found.interval();
        let clustered = case["clustered_error"].as_f64().expect("a number");
        // Two days give no clustered error: their scores are zero up to rounding.
        assert!((found.clustered_error - clustered).abs() <= 1e-7 * clustered.max(1e-1), "{name}: {found:?}");
        let half = 0.5 * (high - low) / 1.959_963_984_540_054;
        assert!((half - found.error.max(found.clustered_error)).abs() < 1e-9, "{name}: {found:?}");
        wider += i32::from(found.clustered_error > found.error);
        let pairs = [
            ("intercept", found.intercept, case["intercept"].as_f64()),
            ("slope", found.slope, case["slope"].as_f64()),
            ("error", found.error, case["error"].as_f64()),
            ("slope of the other route", found.slope, case["glm_slope"].as_f64()),
        ];
        for (what, ours, theirs) in pairs {
            let theirs = theirs.expect("a number");
            assert!(
                (ours - theirs).abs() <= 1e-7 * theirs.abs().max(1e-3),
                "{name}, {what}: {ours} {theirs}"
            );
        }
    }
    assert_eq!(wider, 3, "cases in which days alike widen the interval");
}

#[test]
fn a_growing_athlete_has_a_rising_line_with_nested_bands() {
    let model = model();
    let found = of_pull_up(&model, &growing(&model));
    assert_eq!(found.points.len(), 24, "one point for each day of training");
    let (first, last) = (&found.points[0], &found.points[23]);
    assert!((3.6..5.5).contains(&first.median), "{first:?}");
    assert!((6.0..8.0).contains(&last.median), "{last:?}");
    for p in &found.points {
        let [fifty, eighty, most] = p.intervals;
        let inside = |a: (f64, f64), b: (f64, f64)| b.0 <= a.0 && a.1 <= b.1;
        assert!(
            inside((p.median, p.median), fifty) && inside(fifty, eighty) && inside(eighty, most),
            "{p:?}"
        );
    }
    assert!(found.sentences[0].starts_with("Over 24 days of training"), "{:?}", found.sentences);
    assert_eq!(found.failures.len(), 2, "any, and strength");
    assert_eq!((found.failures[0].sets, found.failures[0].failures), (72, 24));
    assert_eq!(found.failures[0].weeks.len(), 12);
}

/// On the last day nothing later can speak: there the smoothed belief is the filter's, up to the sweeps.
#[test]
fn the_last_point_is_the_estimate_of_that_day() {
    let model = Model { parameters: Parameters { repeated_bound: 1.0, ..Parameters::default() }, ..model() };
    let sets = growing(&model);
    let mut state = AthleteState::new(&model.parameters);
    for (task, done) in &sets {
        state.observe(&model, &mut Scratch::default(), (task, done));
    }
    let outlook = state.on(&model.parameters, 80).outlook(&model, &sets[0].0);
    let last = of_pull_up(&model, &sets).points.remove(23);
    let near = |a: f64, b: f64| (a / b - 1.0).abs() < 0.03;
    assert!(near(last.median, outlook.quantile(0.5)), "{last:?} {}", outlook.quantile(0.5));
    assert!(near(last.intervals[1].0, outlook.quantile(0.1)), "{last:?} {}", outlook.quantile(0.1));
    assert!(near(last.intervals[1].1, outlook.quantile(0.9)), "{last:?} {}", outlook.quantile(0.9));
}

#[test]
fn later_sets_speak_of_earlier_days_and_narrow_them() {
    let model = model();
    let sets = growing(&model);
    let half: Vec<(Task, Done)> = sets.iter().filter(|(_, done)| done.day < 30).cloned().collect();
    let width = |sets: &[(Task, Done)]| {
        let point = &of_pull_up(&model, sets).points[7];
        libm::log(point.intervals[2].1 / point.intervals[2].0)
    };
    assert!(width(&sets) < width(&half), "{} {}", width(&sets), width(&half));
}

#[test]
fn a_rung_of_which_a_part_was_trained_has_the_prior_of_the_rest() {
    let model = model();
    let sets = growing(&model);
    let found = trends(&model, &sets, SPAN, &[rung(&model, "pull/one-arm-pull-up")]).remove(0);
    assert_eq!(found.points.len(), 24);
    assert!(found.failures.is_empty());
    assert!(found.points[23].median < 3.0, "{:?}", found.points[23]);
    let other = trends(&model, &sets, SPAN, &[rung(&model, "one-leg-squat/one-leg-squat")]).remove(0);
    assert!(other.points.is_empty() && other.sentences[0].contains("was trained in these days"));
}

#[test]
fn goals_come_before_the_rungs_trained_most() {
    let athlete = Athlete::new(&["pull/one-arm-pull-up"]);
    let model = athlete.model.clone();
    let mut sets = growing(&model);
    sets.extend(session(&model, "push-up/push-up", 83, 9));
    let found = rungs_of_interest(&model, &athlete.profile, &sets, SPAN);
    let mut expected =
        ["pull/pull-up", "pull/one-arm-pull-up", "push-up/push-up"].map(|name| rung(&model, name));
    expected.sort_unstable();
    assert_eq!(found, expected);
    let none = rungs_of_interest(&model, &athlete.profile, &sets, Span { first: 200, last: 210 });
    assert_eq!(none, [rung(&model, "pull/one-arm-pull-up")]);
}
