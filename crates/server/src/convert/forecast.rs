//! Forecasts to their messages.

use nextrung_api::v1;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_engine::forecast::ForecastReport;
use nextrung_prescribe::forecast::{Line, PATHS};

use super::words;
use crate::names;

/// Level of the intervals.
const LEVEL: f64 = 0.8;
/// Days of a week.
const WEEK: i32 = 7;

/// A forecast's message.
pub fn of_report(catalog: &Catalog, found: &ForecastReport) -> v1::GoalForecast {
    let ForecastReport { date, position, forecast } = found;
    v1::GoalForecast {
        rung: names::of_rung(&catalog.name(forecast.rung)),
        unit: words::of_unit(catalog.rung(forecast.rung).unit),
        date: Some(words::of_date(*date)),
        log_position: words::of_position(*position),
        is_done_before: forecast.is_done_before,
        lines: forecast.lines.iter().map(|line| of_line(*date, line)).collect(),
        no_second_line: forecast.no_second_line.clone(),
        paths: i32::try_from(PATHS).unwrap_or(i32::MAX),
        sentences: forecast.sentences.clone(),
        cautions: forecast.cautions.clone(),
    }
}

fn of_line(date: CivilDate, line: &Line) -> v1::ForecastLine {
    let interval = |(low, high): (f64, f64)| Some(v1::Interval { level: LEVEL, low, high });
    let (low, high) = line.first_week;
    let week = |(number, week): (i32, &nextrung_prescribe::forecast::Week)| v1::ForecastWeek {
        week: number,
        end_date: Some(words::of_date(date.plus_days(WEEK * number))),
        chance_by_then: week.chance_by_then,
        chance_in_week: week.chance_in_week,
        median_units: week.median,
        interval: interval(week.interval),
    };
    v1::ForecastLine {
        assumption: line.assumption.clone(),
        sessions_per_week: line.sessions_per_week,
        weeks: (1..).zip(&line.weeks).map(week).collect(),
        first_week: interval((f64::from(low), f64::from(high))),
        median_week: line.median_week.map(i32::from),
    }
}
