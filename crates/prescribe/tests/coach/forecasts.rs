//! When the first clean unit is likely (F-12).

use nextrung_capacity::done::Done;
use nextrung_capacity::filter::Scratch;
use nextrung_capacity::linear::Sym;
use nextrung_capacity::model::Model;
use nextrung_capacity::outlook::Strain;
use nextrung_capacity::params::Parameters;
use nextrung_capacity::state::{AbilityState, AthleteState, LEVEL, OFFSETS, SLOPE};
use nextrung_capacity::task::{OffsetKey, Task};
use nextrung_domain::stop::Stop;
use nextrung_prescribe::dice::Dice;
use nextrung_prescribe::forecast::dose::{Growths, contrast};
use nextrung_prescribe::forecast::{Forecast, PATHS, forecast};
use nextrung_prescribe::history::History;
use nextrung_prescribe::situation::Situation;

use crate::gym::{Athlete, date, model};
use crate::trends::{rung, session};

const ARCHER: &str = "pull/archer";

/// A model in which nothing moves between the days.
fn still() -> Model {
    let mut parameters = Parameters::default();
    for kind in &mut parameters.kinds {
        (kind.slope_sd, kind.slope_mean, kind.level_sd, kind.familiar_sd) = (0.0, 0.0, 0.0, 0.0);
        (kind.idle_loss, kind.idle_sd) = (0.0, 0.0);
    }
    Model { parameters, ..model() }
}

/// Days of `session` are those of the log: days since 1970-01-01.
fn at_day(day: i32) -> i32 {
    date(day).day_number()
}

fn read(model: &Model, sets: &[(Task, Done)]) -> AthleteState {
    let mut state = AthleteState::new(&model.parameters);
    let mut scratch = Scratch::default();
    for (task, done) in sets {
        state.observe(model, &mut scratch, (task, done));
    }
    state
}

fn asked(model: &Model, state: &AthleteState, sets: &[(Task, Done)], (name, weeks): (&str, u16)) -> Forecast {
    let athlete = Athlete::on(model.clone(), &[name]);
    let state = state.on(&model.parameters, at_day(0));
    let situation = Situation {
        model,
        state: &state,
        history: &History::default(),
        profile: &athlete.profile,
        policy: &athlete.policy,
        date: date(0),
    };
    forecast(&situation, sets, rung(model, name), weeks)
}

fn of(model: &Model, sets: &[(Task, Done)], name: &str, weeks: u16) -> Forecast {
    asked(model, &read(model, sets), sets, (name, weeks))
}

/// Chance of a clean unit with one fresh set on a day.
fn chance_on(model: &Model, sets: &[(Task, Done)], name: &str, day: i32) -> f64 {
    let state = read(model, sets).on(&model.parameters, at_day(day));
    state.outlook(model, &Task::new(&model.catalog, rung(model, name), &[], 1.0)).at_least(1.0, Strain::NONE)
}

/// Pull-ups on some days before the forecast.
fn pulls(model: &Model, days: &[i32], units: u16) -> Vec<(Task, Done)> {
    days.iter().flat_map(|day| session(model, "pull/pull-up", at_day(*day), units)).collect()
}

/// Four standard errors of a share over the paths, at its widest.
fn slack() -> f64 {
    4.0 * (0.25 / f64::from(PATHS)).sqrt()
}

#[test]
fn one_try_with_nothing_moving_is_what_the_outlook_says() {
    let model = still();
    for units in [2, 3, 4] {
        let sets = pulls(&model, &[0], units);
        let week = of(&model, &sets, ARCHER, 1).lines[0].weeks[0];
        let exact = chance_on(&model, &sets, ARCHER, 7);
        assert!((0.01..0.9999).contains(&exact), "{exact}");
        assert!((week.chance_by_then - exact).abs() < slack(), "{} {exact}", week.chance_by_then);
    }
}

/// All that moves is in it: trend, time off, what is still strange.
#[test]
fn a_try_after_a_gap_is_what_the_moved_belief_says() {
    let model = model();
    let idle = pulls(&model, &[-75, -71, -68], 8);
    let found = of(&model, &idle, ARCHER, 1);
    let exact = chance_on(&model, &idle, ARCHER, 7);
    assert!((found.lines[0].weeks[0].chance_by_then - exact).abs() < slack(), "{found:?} {exact}");
    let rare = pulls(&model, &[-40, 0], 8);
    let line = &of(&model, &rare, ARCHER, 5).lines[0];
    let by_week: Vec<f64> = line.weeks.iter().map(|week| week.chance_by_then).collect();
    let exact = chance_on(&model, &rare, ARCHER, 28);
    assert!((line.sessions_per_week - 0.25).abs() < 1e-12, "one session in four weeks");
    assert!(by_week[..3].iter().all(|chance| chance.abs() < 1e-12), "no session before: {by_week:?}");
    assert!((by_week[3] - exact).abs() < slack(), "{by_week:?} {exact}");
}

/// Nothing in doubt and no form of the day: tries are independent, and the chances are those of coin tosses.
#[test]
fn tries_at_a_known_level_are_coin_tosses() {
    let mut model = still();
    model.parameters.kinds.iter_mut().for_each(|kind| kind.day_sd = 0.0);
    let goal = rung(&model, "pull/pull-up");
    let task = Task::new(&model.catalog, goal, &[], 1.0);
    let [demand] = task.demands() else { panic!("pull-ups ask for one strength") };
    let mut block = AbilityState::prior(&model, demand.ability, at_day(0));
    block.keys = vec![OffsetKey::rung(goal)];
    block.mean.push(0.0);
    block.covariance = Sym::zeros(OFFSETS + 1);
    (block.mean[LEVEL], block.mean[SLOPE]) = (-0.05, 0.0);
    let mut state = AthleteState::new(&model.parameters);
    state.blocks = vec![block];
    let sets = pulls(&model, &[-5, -3, 0], 1);
    let line = asked(&model, &state, &sets, ("pull/pull-up", 4)).lines.remove(0);
    let p = 1.0 / (1.0 + libm::exp(0.05 / model.parameters.kinds[0].scale));
    for (n, week) in (1..).zip(&line.weeks) {
        let expected = 1.0 - libm::pow(1.0 - p, 3.0 * f64::from(n));
        assert!((week.chance_by_then - expected).abs() < 1e-9, "{week:?} {expected}");
    }
}

#[test]
fn going_from_session_to_session_is_going_at_once() {
    let mut model = model();
    model.parameters.kinds.iter_mut().for_each(|kind| (kind.idle_loss, kind.idle_sd) = (0.0, 0.0));
    let sets = pulls(&model, &[-24, -20, -17, -13, -10, -6, -3], 6);
    let line = of(&model, &sets, "pull/pull-up", 8).lines.remove(0);
    let task = Task::new(&model.catalog, rung(&model, "pull/pull-up"), &[], 1.0);
    let mut known = read(&model, &sets);
    // Work goes on, so that none of the days is time off.
    known.blocks.iter_mut().for_each(|block| block.last_work = at_day(56));
    let at_once = known.on(&model.parameters, at_day(56)).outlook(&model, &task);
    for (found, p) in
        [(line.weeks[7].median, 0.5), (line.weeks[7].interval.0, 0.1), (line.weeks[7].interval.1, 0.9)]
    {
        assert!((found / at_once.quantile(p) - 1.0).abs() < 1e-6, "{found} {}", at_once.quantile(p));
    }
}

#[test]
fn chances_never_fall_and_add_up() {
    let model = model();
    let sets = pulls(&model, &[-24, -20, -17, -13, -10, -6, -3], 9);
    let found = of(&model, &sets, ARCHER, 52);
    let line = &found.lines[0];
    let mut before = 0.0;
    for week in &line.weeks {
        assert!((before..=1.0).contains(&week.chance_by_then), "{week:?} after {before}");
        assert!((before + week.chance_in_week - week.chance_by_then).abs() < 1e-12);
        before = week.chance_by_then;
    }
    let (low, high) = line.first_week;
    assert!(1 <= low && low <= high && high <= 53, "{low} {high}");
    assert_eq!(found, of(&model, &sets, ARCHER, 52), "the same question has the same answer");
    let short = of(&model, &sets, ARCHER, 4);
    let chances =
        |f: &Forecast| -> Vec<f64> { f.lines[0].weeks.iter().take(4).map(|w| w.chance_by_then).collect() };
    assert_eq!(chances(&short), chances(&found), "the first weeks do not hang on the last");
}

#[test]
fn without_training_time_off_is_reckoned_in_and_said() {
    let model = model();
    let sets = pulls(&model, &[-60, -57, -53, -50, -46, -43], 6);
    let found = of(&model, &sets, "pull/pull-up", 12);
    let line = &found.lines[0];
    assert!(line.sessions_per_week.abs() < 1e-12);
    assert!(line.assumption.contains("was trained in the last four weeks"), "{}", line.assumption);
    assert!(line.weeks[11].median < line.weeks[0].median, "{:?}", line.weeks);
    let width = |at: usize| line.weeks[at].interval.1 / line.weeks[at].interval.0;
    assert!(width(11) > width(0), "doubt grows");
}

#[test]
fn an_empty_log_is_forecast_from_the_prior() {
    let found = of(&model(), &[], "pull/one-arm-pull-up", 12);
    assert_eq!(found.lines.len(), 1);
    assert!(!found.no_second_line.is_empty() && !found.cautions.is_empty() && !found.is_done_before);
    assert!(
        found.lines[0].weeks.iter().all(|w| (0.0..1.0).contains(&w.chance_by_then) && w.median.is_finite())
    );
}

#[test]
fn what_is_unknown_is_said_first() {
    let model = model();
    let starting = "only starting values";
    let empty = of(&model, &[], "pull/one-arm-pull-up", 12);
    assert!(empty.sentences[0].contains(starting), "{:?}", empty.sentences);
    // Pulling is known, balance on the hands is not.
    let sets = pulls(&model, &[-12, -10, -5], 6);
    let part = of(&model, &sets, "press/free-press", 4);
    let first = &part.sentences[0];
    assert!(first.contains(starting) && first.contains("hand balance"), "{first}");
    let known = of(&model, &sets, ARCHER, 4);
    assert!(known.sentences.iter().all(|s| !s.contains(starting)), "{:?}", known.sentences);
}

#[test]
fn one_set_is_one_set() {
    let model = model();
    let sets: Vec<(Task, Done)> = pulls(&model, &[-5, -3, 0], 6).into_iter().step_by(3).collect();
    let assumption = |sets: &[(Task, Done)]| of(&model, sets, ARCHER, 2).lines.remove(0).assumption;
    assert!(assumption(&sets).contains("of about 1 set on"), "{}", assumption(&sets));
    let three = assumption(&pulls(&model, &[-5, -3, 0], 6));
    assert!(three.contains("of about 3 sets on"), "{three}");
}

#[test]
fn a_gain_is_told_only_where_its_interval_lies_above_zero() {
    let few = Growths { full: vec![0.02, 0.03], thin: vec![0.0, 0.0, 0.01] };
    assert!(contrast(&few).unwrap_err().contains("2 stretches"));
    let unclear = Growths { full: vec![0.02, 0.00, 0.01], thin: vec![0.0, 0.01, 0.015] };
    assert!(contrast(&unclear).unwrap_err().contains("not enough to tell"));
    let backwards = Growths { full: vec![-0.02, -0.021, -0.02], thin: vec![0.0, 0.001, 0.0] };
    assert!(contrast(&backwards).is_err());
    // By hand: means 0.020 and 0.001; variances of the means 1/3 and 1/3 of 1e-6.
    let clear = Growths { full: vec![0.019, 0.020, 0.021], thin: vec![0.000, 0.001, 0.002] };
    let (mean, error) = contrast(&clear).expect("a gain");
    assert!((mean - 0.019).abs() < 1e-12 && (error - libm::sqrt(2e-6 / 3.0)).abs() < 1e-12, "{mean} {error}");
}

/// A year and a half in blocks of four weeks, full and thin in turn. Units rise in the full ones only, or alike in all.
fn in_turn(model: &Model, only_full: bool) -> Vec<(Task, Done)> {
    let mut sets = Vec::new();
    let mut units = 4.0;
    for week in 0..72 {
        let is_full = (week / 4) % 2 == 0;
        units *= match (only_full, is_full) {
            (true, true) => 1.03,
            (true, false) => 1.0,
            (false, _) => 1.015,
        };
        let days: &[i32] = if is_full { &[1, 3, 5] } else { &[3] };
        let whole = (4..30).rev().find(|n| f64::from(*n) <= units).unwrap_or(4);
        for day in days {
            sets.extend(session(model, "pull/pull-up", at_day(7 * (week - 72) + day), whole));
        }
    }
    sets
}

#[test]
fn the_recommended_dose_has_a_line_only_where_the_log_shows_its_worth() {
    let model = model();
    let found = of(&model, &in_turn(&model, true), "pull/one-arm-pull-up", 12);
    assert_eq!(found.lines.len(), 2, "{}", found.no_second_line);
    assert!(found.no_second_line.is_empty());
    let last = |at: usize| found.lines[at].weeks[11];
    assert!(last(1).median > last(0).median && last(1).chance_by_then >= last(0).chance_by_then);
    assert!((found.lines[1].sessions_per_week - 3.0).abs() < 1e-12);
    let without = of(&model, &in_turn(&model, false), "pull/one-arm-pull-up", 12);
    assert_eq!(without.lines.len(), 1);
    assert!(without.no_second_line.contains("not enough to tell"), "{}", without.no_second_line);
}

/// An athlete of the model's own kind, whose growth has nothing to do with the sessions: sets to the limit in blocks of four
/// weeks, three sessions a week and one in turn.
fn wanderer(model: &Model, number: u64) -> Vec<(Task, Done)> {
    let p = model.parameters.kinds[0];
    let task = Task::new(&model.catalog, rung(model, "pull/pull-up"), &[], 1.0);
    let mut dice = Dice::new(77, number);
    let (mut level, mut slope) = (libm::log(6.0), p.slope_mean + p.slope_sd * dice.normal());
    let decay = libm::exp(-1.0 / p.slope_days);
    let mut sets = Vec::new();
    for day in -504..0 {
        level += slope + p.level_sd * dice.normal();
        slope = decay * slope + p.slope_sd * libm::sqrt(1.0 - decay * decay) * dice.normal();
        let week: i32 = (day + 504) / 7;
        let weekday = (day + 504) % 7;
        if !(weekday == 3 || (week / 4 % 2 == 0 && matches!(weekday, 1 | 5))) {
            continue;
        }
        let form = p.day_sd * dice.normal();
        for _ in 0..3 {
            let capacity = libm::exp(level + form + p.scale * dice.logistic());
            let units = (0..200).rev().find(|n| f64::from(*n) <= capacity).unwrap_or(0);
            let done = Done {
                day: at_day(day),
                session: 1,
                units,
                target: None,
                stop: Stop::Strength,
                reserve: None,
                rest_seconds: Some(3600),
            };
            sets.push((task.clone(), done));
        }
    }
    sets
}

/// A contrast at 95 % is above zero by chance in one of forty; smoothing and the few degrees of freedom make it rarer.
#[test]
fn a_dose_that_does_nothing_seldom_has_a_line() {
    let model = model();
    let (mut lines, athletes) = (0, 100);
    for number in 0..athletes {
        let found = of(&model, &wanderer(&model, number), "pull/one-arm-pull-up", 1);
        lines += u32::from(found.lines.len() == 2);
        let compared = found.lines.len() == 2 || found.no_second_line.contains("not enough to tell");
        assert!(compared, "{}", found.no_second_line);
    }
    assert!(lines <= 7, "{lines} of {athletes}");
}
