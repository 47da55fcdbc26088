//! One panel of a trend: capacity above, failures below, the figures beside both.

use crate::Ends;
use crate::day::Day;
use crate::error::PictureError;
use crate::frame::{Area, Frame, MARGIN, Stroke};
use crate::ink::Ink;
use crate::lettering::{Anchor, Lettering};
use crate::plot::{Axis, Mark, Panel, Plot};
use crate::ticks;
use crate::trend::{RungTrend, Trend, figures};

/// Pixels across for the plots, labels included.
const PLOT: u32 = 600;
/// Pixels of the capacities, and of the failures.
const HEIGHTS: (u32, u32) = (210, 96);
/// Pixels for the words left of and below a plot.
const ROOM: (u32, u32) = (48, 22);
/// Fewest units that have a place of their own: less is drawn at the lower edge.
const LEAST_UNITS: f64 = 0.01;
/// Most units that have a place of their own.
const MOST_UNITS: f64 = 9999.0;
/// Smallest ratio between both ends of an axis of units: noise shall not look like progress.
const LEAST_RATIO: f64 = 3.0;

/// Draws the panel below what is there.
pub(super) fn draw(frame: &mut Frame, trend: &Trend, rung: &RungTrend) -> Result<(), PictureError> {
    let top = frame.bottom() + 14;
    frame.line((MARGIN, top), (MARGIN + frame.inner(), top), Stroke::RULE);
    let heading = Lettering::HEADING.wrapped(&rung.name, frame.inner(), 2);
    let top = frame.lines((MARGIN, top + 8), &heading, Lettering::HEADING) + 6;
    let below = capacities(frame, top, trend, rung)?;
    failures(frame, below, trend, rung)?;
    figures::draw(frame, (MARGIN + PLOT + 28, top), trend, rung);
    frame.sentences(&rung.sentences, Lettering::PLAIN);
    Ok(())
}

/// Days from the first to the last, at least a week.
fn days(trend: &Trend) -> Axis {
    let last = trend.to.count.max(trend.from.count + 6);
    let ticks = ticks::of_weeks(trend.from, Day { count: last }, 9);
    Axis { low: trend.from.place() - 0.5, high: f64::from(last) + 0.5, ticks, room: ROOM.1 }
}

/// Units on a scale of ratios, wide enough for the points and the working band.
fn units(rung: &RungTrend) -> Axis {
    let mut ends = (f64::INFINITY, f64::NEG_INFINITY);
    let mut take = |units: f64| {
        let units = units.clamp(LEAST_UNITS, MOST_UNITS);
        ends = (ends.0.min(units), ends.1.max(units));
    };
    for point in &rung.points {
        let [_, _, (low, high)] = point.intervals;
        take(low);
        take(high);
    }
    if let Some((low, high)) = rung.band {
        take(f64::from(low));
        take(f64::from(high) + 1.0);
    }
    let wanted = libm::sqrt(LEAST_RATIO / (ends.1 / ends.0).min(LEAST_RATIO)) * 1.06;
    let (low, high) = (libm::log(ends.0 / wanted), libm::log(ends.1 * wanted));
    Axis { low, high, ticks: ticks::of_units(low, high), room: ROOM.0 }
}

fn ln(units: f64) -> f64 {
    libm::log(units.clamp(LEAST_UNITS, MOST_UNITS))
}

/// Draws what could be done; returns the lower edge.
fn capacities(frame: &mut Frame, top: u32, trend: &Trend, rung: &RungTrend) -> Result<u32, PictureError> {
    let what = format!("{} in one fresh set without shadings", rung.unit);
    let what = Lettering::SMALL.bold().wrapped(&what, PLOT - 170, 1).concat();
    frame.text((MARGIN, top + 11), &what, Lettering::SMALL.bold());
    let area = Area { x: MARGIN, y: top + 20, width: PLOT, height: HEIGHTS.0 };
    if rung.points.is_empty() {
        let nothing = "Nothing to show: none of its abilities was trained in these days.";
        frame.text((area.x + ROOM.0, area.y + 16), nothing, Lettering::PLAIN);
        return Ok(area.y + 28);
    }
    let panel = Panel { area, x: days(trend), y: units(rung) };
    panel.draw(frame, |plot| {
        for (ends, fill) in [2, 1, 0].into_iter().zip([Ink::PALE, Ink::LIGHT, Ink::MIDDLE]) {
            plot.band(&band(rung, ends), fill)?;
        }
        working_band(plot, trend, rung)?;
        let median: Vec<(f64, f64)> =
            rung.points.iter().map(|point| (point.day.place(), ln(point.median))).collect();
        plot.line(&median, Stroke::STRONG)?;
        median.iter().try_for_each(|at| plot.mark(*at, Mark::Dot))
    })?;
    if let Some((low, high)) = rung.band {
        let label = format!("working band {low} to {high}");
        let lettering = Lettering::SMALL.at(Anchor::End);
        let inside = panel.inside();
        frame.text((inside.right(), top + 11), &label, lettering);
    }
    Ok(area.bottom())
}

/// The ends of one interval day by day; a single day gets some width, for else it could not be seen.
fn band(rung: &RungTrend, which: usize) -> Vec<(f64, Ends)> {
    let of = |point: &super::Capacity| {
        let (low, high) = point.intervals.get(which).copied().unwrap_or((point.median, point.median));
        (point.day.place(), (ln(low), ln(high)))
    };
    let ends: Vec<(f64, Ends)> = rung.points.iter().map(of).collect();
    match ends.as_slice() {
        [(day, only)] => vec![(day - 0.4, *only), (day + 0.4, *only)],
        _ => ends,
    }
}

fn working_band(plot: &mut Plot<'_, '_>, trend: &Trend, rung: &RungTrend) -> Result<(), PictureError> {
    let Some((low, high)) = rung.band else { return Ok(()) };
    let axis = days(trend);
    for edge in [f64::from(low), f64::from(high) + 1.0] {
        plot.line(&[(axis.low, ln(edge)), (axis.high, ln(edge))], Stroke { tenths: 12, ..Stroke::BROKEN })?;
    }
    Ok(())
}

/// Draws how often sets failed, below the edge given.
fn failures(frame: &mut Frame, top: u32, trend: &Trend, rung: &RungTrend) -> Result<(), PictureError> {
    frame.text((MARGIN, top + 22), "share of sets that failed, for any cause", Lettering::SMALL.bold());
    let area = Area { x: MARGIN, y: top + 31, width: PLOT, height: HEIGHTS.1 };
    if rung.weeks.is_empty() {
        let nothing = "Nothing to show: no set on this rung in these days whose end was said.";
        frame.text((area.x + ROOM.0, area.y + 16), nothing, Lettering::PLAIN);
        return Ok(());
    }
    let y = Axis { low: -0.04, high: 1.04, ticks: ticks::of_shares(2), room: ROOM.0 };
    let panel = Panel { area, x: days(trend), y };
    panel.draw(frame, |plot| {
        for week in &rung.weeks {
            let (middle, rate) = (middle(week.start), rate(week));
            plot.line(
                &[(middle, 0.0), (middle, rate)],
                Stroke { ink: Ink::MIDDLE, tenths: 30, is_dashed: false },
            )?;
        }
        if rung.is_fitted {
            let fitted: Vec<(f64, f64)> =
                rung.weeks.iter().map(|week| (middle(week.start), week.fitted)).collect();
            plot.line(&fitted, Stroke::STRONG)?;
        }
        rung.weeks.iter().try_for_each(|week| plot.mark((middle(week.start), rate(week)), Mark::Disc))
    })
}

fn middle(start: Day) -> f64 {
    start.place() + 3.0
}

fn rate(week: &super::FailureWeek) -> f64 {
    f64::from(week.failures) / f64::from(week.sets.max(1))
}
