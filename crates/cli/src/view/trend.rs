//! Trend as a page: for each rung what a coach would say, week by week, and the failures by cause.

use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

use crate::calendar::{iso, long};
use crate::lexicon::Lexicon;
use crate::output::Layout;
use crate::paragraph::{list as bullets, paragraph};
use crate::table::Columns;
use crate::view::figure::{chance, units};
use crate::words;

/// Cells of the bars.
const CELLS: f64 = 28.0;
/// Days of a week.
const WEEK: i32 = 7;

const LEGEND: &str = "Each week is shown by its last day of training: one fresh set without shadings on a usual day, as the whole \
                      log has it. o the median, - the 80 % range of such sets, on one scale for the rung. Failed: sets of the \
                      week on the rung, those ended by pain or interruption left out.";

/// The page.
pub(crate) fn page(
    found: &v1::EstimateTrendResponse,
    who: &str,
    lexicon: &Lexicon,
    layout: Layout,
) -> String {
    let days = (long(found.start_date.as_ref()), long(found.end_date.as_ref()));
    let mut page = format!("{}\n", layout.strong(&format!("{who}: from {} to {}", days.0, days.1)));
    for rung in &found.rungs {
        page += &format!("\n{}\n", layout.strong(&lexicon.rung(&rung.rung)));
        page += &bullets(&rung.sentences, layout.width);
        page += &weeks(found.start_date.as_ref(), rung, layout);
        let causes = causes(rung, layout);
        page += &if causes.is_empty() { causes } else { format!("\n{causes}") };
    }
    if found.rungs.is_empty() {
        page += "\nNothing was trained in these days, and no goal is set.\n";
    } else {
        page += &format!("\n{}", paragraph(LEGEND, layout.width, 0));
    }
    let origin = format!("From log position {}, {}.", found.log_position, found.model_version);
    page += &format!("\n{}\n", layout.faint(&origin));
    page
}

/// A week of a rung: its first day, days of training, the last point, and failures of sets.
#[derive(Default)]
struct Row<'a> {
    days: u32,
    point: Option<&'a v1::TrendPoint>,
    failed: Option<(i32, i32)>,
}

fn weeks(start: Option<&v1::Date>, rung: &v1::RungTrend, layout: Layout) -> String {
    let rows = rows(start, rung);
    if rows.is_empty() {
        return String::new();
    }
    let ranges = rung.points.iter().filter_map(eighty);
    let ends = ranges.fold((f64::INFINITY, 0.0_f64), |(low, high), i| (low.min(i.low), high.max(i.high)));
    let mut table = Columns::new(&["week of", ">days", ">median", ">80 % range", ">failed", ""]);
    for (first_day, row) in rows {
        let interval = row.point.and_then(eighty);
        table.row([
            first_day,
            if row.days > 0 { row.days.to_string() } else { String::new() },
            row.point.map_or_else(String::new, |p| {
                format!("{} {}", units(p.median_units), words::unit(rung.unit))
            }),
            interval.map_or_else(String::new, |i| format!("{} to {}", units(i.low), units(i.high))),
            row.failed.map_or_else(String::new, |(failures, sets)| format!("{failures} of {sets}")),
            row.point.zip(interval).map_or_else(String::new, |(p, i)| bar(p.median_units, i, ends)),
        ]);
    }
    table.render(layout)
}

/// By week, those without anything left out.
fn rows<'a>(start: Option<&v1::Date>, rung: &'a v1::RungTrend) -> Vec<(String, Row<'a>)> {
    let Some(start) = start.and_then(day_of) else { return Vec::new() };
    let mut rows: std::collections::BTreeMap<i32, Row<'a>> = std::collections::BTreeMap::new();
    let week =
        |date: Option<&v1::Date>| date.and_then(day_of).map(|day| (day.days_since(start)).div_euclid(WEEK));
    for point in &rung.points {
        let Some(week) = week(point.date.as_ref()) else { continue };
        let row = rows.entry(week).or_default();
        row.days += 1;
        row.point = Some(point);
    }
    for one in rung.failures.first().map(|any| any.weeks.as_slice()).unwrap_or_default() {
        let Some(week) = week(one.start_date.as_ref()) else { continue };
        rows.entry(week).or_default().failed = Some((one.failures, one.sets));
    }
    rows.into_iter().map(|(week, row)| (start.plus_days(WEEK * week).to_string(), row)).collect()
}

fn day_of(date: &v1::Date) -> Option<CivilDate> {
    CivilDate::parse(&iso(Some(date))).ok()
}

/// The interval with level 0.8.
fn eighty(point: &v1::TrendPoint) -> Option<&v1::Interval> {
    point.intervals.iter().find(|interval| (interval.level - 0.8).abs() < 1e-9)
}

/// An interval with its median between two ends.
fn bar(median: f64, interval: &v1::Interval, (low, high): (f64, f64)) -> String {
    let cell = |value: f64| (CELLS * (value - low) / (high - low).max(1e-9)).clamp(0.0, CELLS).round();
    let (from, to, middle) = (cell(interval.low), cell(interval.high), cell(median));
    let cells = std::iter::successors(Some(0.0), |at| Some(at + 1.0).filter(|next| *next <= to));
    let sign = |at: f64| match at {
        at if at == middle => 'o',
        at if at < from => ' ',
        _ => '-',
    };
    cells.map(sign).collect()
}

fn causes(rung: &v1::RungTrend, layout: Layout) -> String {
    if rung.failures.is_empty() {
        return String::new();
    }
    let mut table = Columns::new(&["failed", ">sets", ">share (95 % range)", ">odds a week (95 % range)"]);
    for one in &rung.failures {
        let cause = match one.cause {
            0 => "for any cause".to_owned(),
            cause => format!("by {}", words::phrase_of::<v1::Stop>(cause)),
        };
        let rate = one.rate_interval.unwrap_or_default();
        let slope = one.slope_per_week.zip(one.slope_interval.as_ref());
        table.row([
            cause,
            format!("{} of {}", one.failures, one.sets),
            format!("{} ({} to {})", chance(one.rate), chance(rate.low), chance(rate.high)),
            slope.map_or_else(
                || "not told".to_owned(),
                |(slope, i)| format!("{} ({} to {})", odds(slope), odds(i.low), odds(i.high)),
            ),
        ]);
    }
    table.render(layout)
}

/// A change of log odds as one of the odds: `-12 %`.
fn odds(log: f64) -> String {
    match 100.0 * libm::expm1(log) {
        share if share > 999.0 => ">+999 %".to_owned(),
        share => format!("{share:+.0} %"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_stands_between_the_ends() {
        let interval = |low, high| v1::Interval { level: 0.8, low, high };
        assert_eq!(bar(2.0, &interval(1.0, 3.0), (1.0, 15.0)), "--o--");
        assert_eq!(bar(14.0, &interval(13.0, 15.0), (1.0, 15.0)).len(), 29);
        assert_eq!(bar(2.0, &interval(2.0, 2.0), (2.0, 2.0)), "o");
    }

    #[test]
    fn a_week_has_its_last_point_and_its_failures() {
        let date = |day| Some(v1::Date { year: 2026, month: 3, day });
        let point = |day, median_units| v1::TrendPoint {
            date: date(day),
            median_units,
            intervals: vec![v1::Interval { level: 0.8, low: 0.8 * median_units, high: 1.2 * median_units }],
        };
        let week = v1::FailureWeek { start_date: date(8), sets: 5, failures: 2, fitted: 0.0 };
        let any = v1::FailureTrend {
            sets: 5,
            failures: 2,
            rate: 0.4,
            rate_interval: Some(v1::Interval { level: 0.95, low: 0.12, high: 0.77 }),
            weeks: vec![week],
            ..v1::FailureTrend::default()
        };
        let rung = v1::RungTrend {
            rung: "ladders/pull/rungs/pull-up".to_owned(),
            unit: i32::from(v1::Unit::Reps),
            points: vec![point(1, 4.0), point(3, 4.2), point(10, 5.0)],
            failures: vec![any],
            sentences: vec!["It grows.".to_owned()],
        };
        let found = v1::EstimateTrendResponse {
            start_date: date(1),
            end_date: date(14),
            log_position: 7,
            model_version: "model-1".to_owned(),
            rungs: vec![rung],
        };
        let page = page(&found, "hall/wren", &Lexicon::default(), Layout::PLAIN);
        assert!(page.contains("2026-03-01     2  4.2 reps"), "{page}");
        assert!(page.contains("2026-03-08     1  5.0 reps  4.0 to 6.0  2 of 5"), "{page}");
        assert!(page.contains("for any cause  2 of 5  40 % (12 % to 77 %)"), "{page}");
        assert!(page.contains("not told") && page.contains("It grows."), "{page}");
    }
}
