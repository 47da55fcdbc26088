//! Forecast: when the first clean unit on a goal is likely, and what could be done by then.

use crate::Ends;
use crate::day::Day;
use crate::error::{PictureError, finite};
use crate::figure::{chance, every, units, units_range};
use crate::frame::{Area, Frame, MARGIN, Stroke};
use crate::ink::Ink;
use crate::lettering::Lettering;
use crate::plot::{Axis, Mark, Panel};
use crate::table::{Column, Table, is_shown, step};
use crate::ticks;

const WIDTH: u32 = 1240;
/// Pixels across for the plots, labels included.
const PLOT: u32 = 560;
/// Most weeks of the table.
const WEEKS: usize = 26;
/// Ends of what the axis of units shows.
const UNITS: Ends = (0.01, 9999.0);

/// Forecasts of one goal.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Whose.
    pub who: String,
    /// What people call the goal.
    pub goal: String,
    /// What is counted, such as `reps`.
    pub unit: String,
    /// The day the weeks are counted from.
    pub from: Day,
    /// One or two, each with the same weeks.
    pub lines: Vec<Line>,
    /// The same in sentences.
    pub sentences: Vec<String>,
    /// Cautions that belong to it.
    pub cautions: Vec<String>,
}

/// A forecast under one assumption.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The assumption in a sentence.
    pub assumption: String,
    /// When the first clean unit is likely, in words.
    pub first: String,
    /// Week by week, in order.
    pub weeks: Vec<Week>,
}

/// One week of a forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Week {
    /// Its number, from 1.
    pub number: u32,
    /// Its last day.
    pub end: Day,
    /// The chance that the first clean unit has come by its end, 0 to 1.
    pub chance: f64,
    /// The median capacity at its end, in units.
    pub median: f64,
    /// The central interval of that capacity with level 0.8.
    pub interval: Ends,
}

/// How the first and the second line are told apart.
const STYLES: [(Stroke, Mark); 2] = [(Stroke::STRONG, Mark::Disc), (Stroke::BROKEN, Mark::Square)];

impl Forecast {
    /// The picture as SVG. Fails on figures that are not finite.
    pub fn draw(&self) -> Result<String, PictureError> {
        for week in self.lines.iter().flat_map(|line| &line.weeks) {
            finite("a chance", [week.chance])?;
            finite("a capacity", [week.median, week.interval.0, week.interval.1])?;
        }
        let title = format!("When {} may reach {}", self.who, self.goal);
        let subtitle = format!("Forecast from {}, week by week", self.from.iso());
        let mut frame = Frame::new(WIDTH, &title, &subtitle);
        if self.lines.iter().all(|line| line.weeks.is_empty()) {
            frame
                .sentences(&["There is nothing to show: no forecast was made.".to_owned()], Lettering::PLAIN);
        } else {
            self.legend(&mut frame);
            let top = frame.bottom() + 18;
            let below = self.chances(&mut frame, top)?;
            self.capacities(&mut frame, below)?;
            self.figures(&mut frame, (MARGIN + PLOT + 28, top));
        }
        frame.sentences(&self.sentences, Lettering::PLAIN);
        frame.sentences(&self.cautions, Lettering::NOTE);
        Ok(frame.finish("forecast", &title, &self.description(&subtitle)))
    }

    fn styled(&self) -> impl Iterator<Item = (&Line, (Stroke, Mark))> {
        self.lines.iter().zip(STYLES).filter(|(line, _)| !line.weeks.is_empty())
    }

    fn description(&self, subtitle: &str) -> String {
        let mut text = format!(
            "{subtitle}. Above: the chance that the first clean unit has come. Below: the median capacity with its 80 \
             percent interval, on a scale of ratios, against the line of one unit. The figures stand beside the plots.",
        );
        for line in &self.lines {
            text += &format!(" {} {}", line.assumption, line.first);
        }
        format!("{text} {}", self.sentences.join(" "))
    }

    /// Which line is which, in words.
    fn legend(&self, frame: &mut Frame) {
        for (line, (stroke, mark)) in self.styled() {
            let y = frame.bottom() + 10;
            frame.line((MARGIN, y + 8), (MARGIN + 44, y + 8), stroke);
            match mark {
                Mark::Square => {
                    let area = Area { x: MARGIN + 19, y: y + 5, width: 6, height: 6 };
                    frame.rect(area, Ink::WHITE, Ink::BLACK);
                }
                Mark::Disc | Mark::Dot => frame.disc((MARGIN + 22, y + 8), 3, Ink::BLACK),
            }
            let width = frame.inner() - 56;
            let text = format!("{} {}", line.assumption, line.first);
            let next = frame.paragraph((MARGIN + 56, y), width, &text, Lettering::PLAIN);
            frame.reach(next);
        }
    }

    /// Weeks from the first to the last.
    fn weeks(&self) -> Axis {
        let weeks = || self.lines.iter().flat_map(|line| &line.weeks);
        let last = weeks().map(|week| week.number).max().unwrap_or(1);
        let low = weeks().map(|week| week.number).min().unwrap_or(1);
        let ticks = ticks::of_numbers(low, last, 14);
        Axis { low: f64::from(low) - 0.4, high: f64::from(last) + 0.4, ticks, room: 22 }
    }

    fn chances(&self, frame: &mut Frame, top: u32) -> Result<u32, PictureError> {
        let what = "chance that the first clean unit has come by the end of the week";
        frame.text((MARGIN, top + 11), what, Lettering::SMALL.bold());
        let area = Area { x: MARGIN, y: top + 20, width: PLOT, height: 210 };
        let y = Axis { low: -0.02, high: 1.02, ticks: ticks::of_shares(4), room: 48 };
        Panel { area, x: self.weeks(), y }.draw(frame, |plot| {
            for (line, (stroke, mark)) in self.styled() {
                let points: Vec<(f64, f64)> =
                    line.weeks.iter().map(|week| (f64::from(week.number), week.chance)).collect();
                plot.line(&points, stroke)?;
                points.iter().try_for_each(|at| plot.mark(*at, mark))?;
            }
            Ok(())
        })?;
        Ok(area.bottom())
    }

    /// Units on a scale of ratios that holds one unit.
    fn units(&self) -> Axis {
        let mut ends = (1.0_f64, 1.0_f64);
        for week in self.lines.iter().flat_map(|line| &line.weeks) {
            ends = (ends.0.min(week.interval.0), ends.1.max(week.interval.1));
        }
        let (low, high) = (libm::log(ends.0.max(UNITS.0) / 1.5), libm::log(ends.1.min(UNITS.1) * 1.5));
        Axis { low, high, ticks: ticks::of_units(low, high), room: 48 }
    }

    fn capacities(&self, frame: &mut Frame, top: u32) -> Result<(), PictureError> {
        let what = format!("{} in one fresh set at the end of the week: median and 80 % interval", self.unit);
        let what = Lettering::SMALL.bold().wrapped(&what, PLOT, 1).concat();
        frame.text((MARGIN, top + 26), &what, Lettering::SMALL.bold());
        let area = Area { x: MARGIN, y: top + 35, width: PLOT, height: 210 };
        let ln = |units: f64| libm::log(units.clamp(UNITS.0, UNITS.1));
        let panel = Panel { area, x: self.weeks(), y: self.units() };
        panel.draw(frame, |plot| {
            let bands = self.styled().map(|(line, style)| {
                let of = |week: &Week| (f64::from(week.number), (ln(week.interval.0), ln(week.interval.1)));
                (wide(line.weeks.iter().map(of).collect()), style)
            });
            for (band, (stroke, _)) in bands {
                if !stroke.is_dashed {
                    plot.band(&band, Ink::PALE)?;
                }
                let edge = Stroke { ink: Ink::DARK, tenths: 10, ..stroke };
                plot.line(&band.iter().map(|(x, ends)| (*x, ends.0)).collect::<Vec<_>>(), edge)?;
                plot.line(&band.iter().map(|(x, ends)| (*x, ends.1)).collect::<Vec<_>>(), edge)?;
            }
            plot.line(&[(panel.x.low, 0.0), (panel.x.high, 0.0)], Stroke { tenths: 26, ..Stroke::STRONG })?;
            for (line, (stroke, mark)) in self.styled() {
                let points: Vec<(f64, f64)> =
                    line.weeks.iter().map(|week| (f64::from(week.number), ln(week.median))).collect();
                plot.line(&points, stroke)?;
                points.iter().try_for_each(|at| plot.mark(*at, mark))?;
            }
            Ok(())
        })?;
        let note = "number of the week; the heavy line is one clean unit";
        frame.text((MARGIN + 48, area.bottom() + 14), note, Lettering::NOTE);
        Ok(())
    }

    fn figures(&self, frame: &mut Frame, (x, y): (u32, u32)) {
        let lines: Vec<(&Line, (Stroke, Mark))> = self.styled().collect();
        let Some(longest) = lines.iter().map(|(line, _)| &line.weeks).max_by_key(|weeks| weeks.len()) else {
            return;
        };
        let mut columns = vec![Column::figures("week"), Column::words("ends", 90)];
        for (_, (stroke, _)) in &lines {
            let kind = if stroke.is_dashed { "\u{25a1}" } else { "\u{25cf}" };
            columns.extend(
                ["chance", "median", "80\u{a0}%"].map(|head| Column::figures(&format!("{kind}\u{a0}{head}"))),
            );
        }
        let mut table = Table::new(columns);
        let step = step(longest.len(), WEEKS);
        for (_, week) in longest.iter().enumerate().filter(|(at, _)| is_shown(*at, longest.len(), step)) {
            let mut cells = vec![week.number.to_string(), week.end.iso()];
            for (line, _) in &lines {
                match line.weeks.iter().find(|other| other.number == week.number) {
                    Some(week) => {
                        cells.extend([chance(week.chance), units(week.median), units_range(week.interval)]);
                    }
                    None => cells.extend(["\u{2013}"; 3].map(str::to_owned)),
                }
            }
            table.row(cells);
        }
        let y = table.draw(frame, (x, y)) + 4;
        if let Some(every) = every(step, "week") {
            frame.text((x, y + 11), &format!("{every} is shown"), Lettering::NOTE);
        }
    }
}

/// The ends week by week; a single week gets some width, for else it could not be seen.
fn wide(ends: Vec<(f64, Ends)>) -> Vec<(f64, Ends)> {
    match ends.as_slice() {
        [(at, only)] => vec![(at - 0.3, *only), (at + 0.3, *only)],
        _ => ends,
    }
}
