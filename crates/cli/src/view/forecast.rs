//! Forecast as a page: what a coach would say, and a table for each assumption.

use nextrung_api::v1;

use crate::calendar::{iso, long};
use crate::lexicon::Lexicon;
use crate::output::Layout;
use crate::paragraph::{list as bullets, paragraph};
use crate::table::Columns;
use crate::view::figure::{chance, likely};
use crate::view::prescription::section;
use crate::words;

/// Cells of a bar that stands for certainty.
const CELLS: f64 = 20.0;
/// Most rows of a table; with more weeks only some are shown.
const ROWS: usize = 13;

const LEGEND: &str = "Chance: that one fresh try a session has given a clean unit by the end of the week. Capacity: a fresh set on \
                      a usual day, with the 80 % range of such sets.";

/// The page.
pub(crate) fn page(found: &v1::GoalForecast, who: &str, lexicon: &Lexicon, layout: Layout) -> String {
    let rung = lexicon.rung(&found.rung);
    let title = format!("{who}: {rung}, from {}", long(found.date.as_ref()));
    let mut page = format!("{}\n{}", layout.strong(&title), bullets(&found.sentences, layout.width));
    for line in &found.lines {
        page += &format!("\n{}", paragraph(&line.assumption, layout.width, 0));
        page += &table(found, line, layout);
    }
    if !found.no_second_line.is_empty() {
        let text = format!("No line for the recommended dose. {}", found.no_second_line);
        page += &format!("\n{}", paragraph(&text, layout.width, 0));
    }
    page += &format!("\n{}", paragraph(LEGEND, layout.width, 0));
    page += &section("Cautions", &bullets(&found.cautions, layout.width), layout);
    let origin =
        format!("From log position {}, {} simulated paths a table.", found.log_position, found.paths);
    page += &format!("\n{}\n", layout.faint(&origin));
    page
}

fn table(found: &v1::GoalForecast, line: &v1::ForecastLine, layout: Layout) -> String {
    let step = line.weeks.len().div_ceil(ROWS).max(1);
    let unit = words::unit(found.unit);
    let capacity = format!(">capacity, {unit}");
    let mut table = Columns::new(&[">week", "ends", ">chance by then", ">in the week", &capacity, ""]);
    for (at, week) in line.weeks.iter().enumerate() {
        if (at + 1) % step != 0 && at + 1 != line.weeks.len() {
            continue;
        }
        table.row([
            week.week.to_string(),
            iso(week.end_date.as_ref()),
            chance(week.chance_by_then),
            chance(week.chance_in_week),
            likely(week.median_units, week.interval.as_ref()),
            bar(week.chance_by_then),
        ]);
    }
    table.render(layout)
}

/// A chance as a bar; none shorter than a cell that is not nothing.
fn bar(chance: f64) -> String {
    let cells = (CELLS * chance).round();
    std::iter::successors(Some(1.0), |at| Some(at + 1.0)).take_while(|at| *at <= cells).map(|_| '#').collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn week(week: i32) -> v1::ForecastWeek {
        v1::ForecastWeek {
            week,
            end_date: Some(v1::Date { year: 2026, month: 4, day: 1 }),
            chance_by_then: 0.25,
            chance_in_week: 0.05,
            median_units: 0.8,
            interval: Some(v1::Interval { level: 0.8, low: 0.6, high: 1.1 }),
        }
    }

    fn forecast(weeks: i32) -> v1::GoalForecast {
        let line = v1::ForecastLine {
            assumption: "Training goes on.".to_owned(),
            weeks: (1..=weeks).map(week).collect(),
            ..v1::ForecastLine::default()
        };
        v1::GoalForecast {
            rung: "ladders/pull/rungs/archer".to_owned(),
            unit: i32::from(v1::Unit::Reps),
            lines: vec![line],
            no_second_line: "Too few weeks.".to_owned(),
            paths: 2000,
            ..v1::GoalForecast::default()
        }
    }

    #[test]
    fn weeks_stand_in_a_table_with_bars() {
        let page = page(&forecast(2), "hall/wren", &Lexicon::default(), Layout::PLAIN);
        assert!(
            page.contains("2  2026-04-01            25 %          5 %  0.80 (0.60 to 1.1)  #####"),
            "{page}"
        );
        assert!(page.contains("No line for the recommended dose. Too few weeks."), "{page}");
        assert!(page.contains("Training goes on."), "{page}");
    }

    #[test]
    fn of_many_weeks_some_are_shown_and_the_last_one_always() {
        let page = page(&forecast(51), "hall/wren", &Lexicon::default(), Layout::PLAIN);
        let rows: Vec<&str> = page.lines().filter_map(|line| line.split_whitespace().next()).collect();
        assert!(rows.contains(&"4") && rows.contains(&"48") && rows.contains(&"51"), "{page}");
        assert!(!rows.contains(&"3") && !rows.contains(&"50"), "{page}");
    }

    #[test]
    fn a_bar_is_as_long_as_the_chance() {
        assert_eq!((bar(0.0), bar(0.5).len(), bar(1.0).len()), (String::new(), 10, 20));
    }
}
