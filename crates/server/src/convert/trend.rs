//! Trends to their messages.

use nextrung_api::v1;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::stop::Stop;
use nextrung_prescribe::trend::failures::{FailureTrend, FailureWeek};
use nextrung_prescribe::trend::{LEVELS, Point, RungTrend};

use super::words;
use crate::names;

/// Level of the intervals of rates and slopes.
const SURE: f64 = 0.95;

/// A rung's trend.
pub fn of_rung(catalog: &Catalog, found: &RungTrend) -> v1::RungTrend {
    v1::RungTrend {
        rung: names::of_rung(&catalog.name(found.rung)),
        unit: words::of_unit(catalog.rung(found.rung).unit),
        points: found.points.iter().map(of_point).collect(),
        failures: found.failures.iter().map(of_failures).collect(),
        sentences: found.sentences.clone(),
    }
}

fn of_point(point: &Point) -> v1::TrendPoint {
    let intervals = LEVELS.iter().zip(point.intervals);
    v1::TrendPoint {
        date: of_day(point.day),
        median_units: point.median,
        intervals: intervals.map(|(level, (low, high))| v1::Interval { level: *level, low, high }).collect(),
    }
}

fn of_failures(found: &FailureTrend) -> v1::FailureTrend {
    let interval = |(low, high): (f64, f64)| v1::Interval { level: SURE, low, high };
    v1::FailureTrend {
        cause: found.cause.map_or(0, |cause| words::number(&Stop::ALL, &cause)),
        sets: count(found.sets),
        failures: count(found.failures),
        rate: found.rate(),
        rate_interval: Some(interval(found.interval)),
        slope_per_week: found.slope.map(|slope| slope.slope),
        slope_interval: found.slope.map(|slope| interval(slope.interval())),
        weeks: found.weeks.iter().map(of_week).collect(),
    }
}

fn of_week(week: &FailureWeek) -> v1::FailureWeek {
    v1::FailureWeek {
        start_date: of_day(week.first_day),
        sets: count(week.sets),
        failures: count(week.failures),
        fitted: week.fitted.unwrap_or(0.0),
    }
}

/// A day's message; every day of a log is one.
fn of_day(day: i32) -> Option<v1::Date> {
    CivilDate::from_day_number(day).ok().map(words::of_date)
}

fn count(n: u32) -> i32 {
    i32::try_from(n).unwrap_or(i32::MAX)
}
