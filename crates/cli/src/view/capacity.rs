//! Capacities as pages: a table for each ladder, with the intervals drawn on one scale.

use std::collections::BTreeMap;

use nextrung_api::v1;

use crate::calendar::long;
use crate::lexicon::Lexicon;
use crate::names::parent;
use crate::output::Layout;
use crate::paragraph::paragraph;
use crate::table::Columns;
use crate::view::figure::{chance, range, units};
use crate::words;

/// Cells that one doubling takes.
const CELLS: f64 = 3.0;
/// The ends of the scale in doublings: from half a unit to 64.
const ENDS: (f64, f64) = (-1.0, 6.0);

const LEGEND: &str = "Scale: each mark is twice the last; o the median, > and < beyond the scale, = the 80 % range inside the \
                      working band, - outside it, . the rest of the band. Reached: the chance of the band or more.";

/// The estimate for every rung.
pub(crate) fn page(
    estimate: &v1::EstimateCapacityResponse,
    who: &str,
    lexicon: &Lexicon,
    layout: Layout,
) -> String {
    let title =
        format!("{who}: what could be done on {}, fresh and without shadings", long(estimate.date.as_ref()));
    let mut page = format!("{}\n", layout.strong(&title));
    let mut ladders: BTreeMap<&str, Vec<&v1::RungCapacity>> = BTreeMap::new();
    for rung in &estimate.rungs {
        ladders.entry(parent(&rung.rung)).or_default().push(rung);
    }
    for (ladder, rungs) in ladders {
        page += &format!("\n{}\n", layout.strong(&lexicon.ladder(ladder)));
        let scale = scale();
        let mut table = Columns::new(&["~rung", ">median", ">80 % range", ">band", ">reached", &scale]);
        for rung in rungs {
            table.row(row(rung, lexicon));
        }
        page += &table.render(layout);
    }
    let origin = format!("From log position {}, {}.", estimate.log_position, estimate.model_version);
    page += &format!("\n{}{}\n", paragraph(LEGEND, layout.width, 0), layout.faint(&origin));
    page
}

fn row(rung: &v1::RungCapacity, lexicon: &Lexicon) -> [String; 6] {
    let interval = eighty(rung);
    let band = rung.working_band.unwrap_or_default();
    [
        lexicon.rung(&rung.rung),
        format!("{} {}", units(rung.median_units), words::unit(rung.unit)),
        interval.map_or_else(String::new, |i| format!("{} to {}", units(i.low), units(i.high))),
        range(band.low, band.high),
        chance(rung.p_band_low),
        interval.map_or_else(String::new, |i| bar(rung.median_units, (i.low, i.high), band)),
    ]
}

/// The interval with level 0.8.
pub(crate) fn eighty(rung: &v1::RungCapacity) -> Option<&v1::Interval> {
    rung.intervals.iter().find(|interval| (interval.level - 0.8).abs() < 1e-9)
}

/// Where a number of units lies on the scale, in cells from its left end; held inside it.
fn cell(value: f64) -> f64 {
    let doublings = if value > 0.0 { libm::log2(value) } else { ENDS.0 };
    (CELLS * (doublings.clamp(ENDS.0, ENDS.1) - ENDS.0)).round()
}

/// The cells of the scale, counted from 0.
fn cells() -> impl Iterator<Item = f64> {
    let last = cell(f64::INFINITY);
    std::iter::successors(Some(0.0), move |at| Some(at + 1.0).filter(|next| *next <= last))
}

/// The heading of the scale: 1, 2, 4, ... above their cells.
fn scale() -> String {
    let mut line = String::new();
    for mark in [1_u8, 2, 4, 8, 16, 32, 64] {
        let mark = f64::from(mark);
        while cells().nth(line.chars().count()).is_some_and(|at| at < cell(mark)) {
            line.push(' ');
        }
        line += &mark.to_string();
    }
    line
}

/// An interval with its median and the band drawn on the scale.
fn bar(median: f64, (low, high): (f64, f64), band: v1::Band) -> String {
    let (band_low, band_high) = (cell(f64::from(band.low)), cell(f64::from(band.high) + 1.0));
    let mark = if median > libm::exp2(ENDS.1) {
        '>'
    } else if median < libm::exp2(ENDS.0) {
        '<'
    } else {
        'o'
    };
    let (low, high, median) = (cell(low), cell(high), cell(median));
    let sign = |at: f64| {
        let is_in_band = band_low <= at && at < band_high;
        if at == median {
            mark
        } else if low <= at && at <= high {
            if is_in_band { '=' } else { '-' }
        } else if is_in_band {
            '.'
        } else {
            ' '
        }
    };
    cells().map(sign).collect::<String>().trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    const BAND: v1::Band = v1::Band { low: 3, high: 5 };

    #[test]
    fn marks_of_the_scale_stand_above_their_cells() {
        assert_eq!(scale(), "   1  2  4  8  16 32 64");
        let at_eight = bar(8.0, (8.0, 8.0), v1::Band { low: 64, high: 64 });
        assert_eq!(at_eight.find('o'), scale().find('8'));
    }

    #[test]
    fn an_interval_is_drawn_with_its_median_and_the_band() {
        assert_eq!(bar(4.0, (3.2, 5.1), BAND), "        =o=");
        assert_eq!(bar(12.0, (9.0, 16.0), BAND), "        ...  -o-");
        assert_eq!(bar(1.0, (0.6, 1.6), BAND), " --o--  ...");
    }

    #[test]
    fn what_is_off_the_scale_stands_at_its_end() {
        assert_eq!(bar(0.0, (0.0, 0.0), BAND).chars().next(), Some('<'));
        assert_eq!(bar(900.0, (800.0, 1000.0), BAND).chars().last(), Some('>'));
        assert_eq!(bar(64.0, (50.0, 80.0), BAND).chars().last(), Some('o'));
    }

    #[test]
    fn a_page_has_one_table_for_each_ladder() {
        let rung = v1::RungCapacity {
            rung: "ladders/pull/rungs/pull-up".to_owned(),
            unit: i32::from(v1::Unit::Reps),
            median_units: 4.0,
            intervals: vec![v1::Interval { level: 0.8, low: 3.2, high: 5.1 }],
            working_band: Some(BAND),
            p_band_low: 0.93,
        };
        let estimate = v1::EstimateCapacityResponse {
            date: Some(v1::Date { year: 2026, month: 11, day: 23 }),
            log_position: 42,
            model_version: "model-1".to_owned(),
            rungs: vec![rung],
            abilities: Vec::new(),
        };
        let page = page(&estimate, "hall/wren", &Lexicon::default(), Layout::PLAIN);
        let expected = "\
hall/wren: what could be done on Monday 23 November 2026, fresh and without shadings

pull
  rung            median  80 % range  band  reached     1  2  4  8  16 32 64
  pull/pull-up  4.0 reps  3.2 to 5.1   3-5     93 %          =o=
";
        assert!(page.starts_with(expected), "{page}");
        assert!(page.ends_with("From log position 42, model-1.\n"), "{page}");
    }
}
