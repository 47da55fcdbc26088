//! The figures beside a panel of a trend: week by week, then by cause.

use crate::day::Day;
use crate::figure::{chance, every, odds_change, share, share_range, units, units_range};
use crate::frame::Frame;
use crate::lettering::Lettering;
use crate::table::{Column, Table, is_shown, step};
use crate::trend::{Capacity, FailureWeek, RungTrend, Trend};

/// Most weeks of a table.
const WEEKS: usize = 26;
/// What stands where there is no figure.
const NONE: &str = "\u{2013}";

/// A week with what is known of it.
struct Week<'a> {
    start: Day,
    /// The last day of it that has a capacity.
    capacity: Option<&'a Capacity>,
    failures: Option<&'a FailureWeek>,
}

/// Draws the tables with their upper left corner at the place given.
pub(super) fn draw(frame: &mut Frame, (x, y): (u32, u32), trend: &Trend, rung: &RungTrend) {
    let weeks = weeks(trend, rung);
    let mut y = y;
    if !weeks.is_empty() {
        let step = step(weeks.len(), WEEKS);
        y = by_week(&weeks, step, rung).draw(frame, (x, y)) + 4;
        let thinned = every(step, "week").map_or_else(String::new, |every| format!("; {every} is shown"));
        let note = format!("Capacities of the last day trained in each week, in {}{thinned}.", rung.unit);
        y = frame.paragraph((x, y), 560, &note, Lettering::NOTE) + 10;
    }
    if !rung.causes.is_empty() {
        y = by_cause(rung).draw(frame, (x, y));
    }
    frame.reach(y);
}

/// The weeks that have anything, counted from the first day.
fn weeks<'a>(trend: &Trend, rung: &'a RungTrend) -> Vec<Week<'a>> {
    let starts = (0..).map(|at| Day { count: trend.from.count + 7 * at });
    let of = |start: Day| {
        let is_in = |day: Day| (start.count..start.count + 7).contains(&day.count);
        Week {
            start,
            capacity: rung.points.iter().rev().find(|point| is_in(point.day)),
            failures: rung.weeks.iter().find(|week| is_in(week.start)),
        }
    };
    let all = starts.take_while(|start| *start <= trend.to).map(of);
    all.filter(|week| week.capacity.is_some() || week.failures.is_some()).collect()
}

fn by_week(weeks: &[Week<'_>], step: usize, rung: &RungTrend) -> Table {
    let heads = ["median", "50\u{a0}%", "80\u{a0}%", "95\u{a0}%", "failed", "fitted"].map(Column::figures);
    let mut table = Table::new([Column::words("week\u{a0}from", 90)].into_iter().chain(heads).collect());
    for (_, week) in weeks.iter().enumerate().filter(|(at, _)| is_shown(*at, weeks.len(), step)) {
        let mut cells = vec![week.start.iso()];
        match week.capacity {
            Some(capacity) => {
                cells.push(units(capacity.median));
                cells.extend(capacity.intervals.map(units_range));
            }
            None => cells.extend([NONE; 4].map(str::to_owned)),
        }
        match week.failures {
            Some(week) => {
                cells.push(format!("{} of {}", week.failures, week.sets));
                cells.push(if rung.is_fitted { chance(week.fitted) } else { NONE.to_owned() });
            }
            None => cells.extend([NONE; 2].map(str::to_owned)),
        }
        table.row(cells);
    }
    table
}

fn by_cause(rung: &RungTrend) -> Table {
    let heads = ["failed", "share", "95\u{a0}%", "odds a\u{a0}week", "95\u{a0}%"].map(Column::figures);
    let mut table = Table::new([Column::words("cause", 110)].into_iter().chain(heads).collect());
    for cause in &rung.causes {
        let slope = cause.slope.map_or_else(
            || [NONE, NONE].map(str::to_owned),
            |(slope, (low, high))| {
                [odds_change(slope), format!("{} to {}", odds_change(low), odds_change(high))]
            },
        );
        let mut cells = vec![
            cause.cause.clone(),
            format!("{} of {}", cause.failures, cause.sets),
            share(cause.rate),
            share_range(cause.interval),
        ];
        cells.extend(slope);
        table.row(cells);
    }
    table
}
