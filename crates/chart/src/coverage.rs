//! Coverage: how often counts lay in the intervals foretold, against how often they were said to.

use crate::error::{PictureError, finite};
use crate::figure::share;
use crate::frame::{Area, Frame, MARGIN, Stroke};
use crate::ink::Ink;
use crate::lettering::{Anchor, Lettering};
use crate::plot::{Axis, Mark, Panel};
use crate::ticks;

const WIDTH: u32 = 760;
/// Pixels for the names.
const NAMES: u32 = 112;
/// Pixels of one row.
const ROW: u32 = 28;

/// Intervals of one level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// Mean chance that they were said to have, 0 to 1.
    pub expected: f64,
    /// Share of counts inside, 0 to 1.
    pub found: f64,
}

/// One forecaster.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its name.
    pub name: String,
    /// By level.
    pub held: Vec<Held>,
}

/// Coverage of several forecasters.
#[derive(Debug, Clone, PartialEq)]
pub struct Coverage {
    /// What it shows.
    pub title: String,
    /// Below the title.
    pub subtitle: String,
    /// One to three levels, 0 to 1.
    pub levels: Vec<f64>,
    /// The rows, the first at the top.
    pub lines: Vec<Line>,
    /// How to read it.
    pub notes: Vec<String>,
}

impl Coverage {
    /// The picture as SVG. Fails on figures that are not finite.
    pub fn draw(&self) -> Result<String, PictureError> {
        finite("a level", self.levels.iter().copied())?;
        for held in self.lines.iter().flat_map(|line| &line.held) {
            finite("a share", [held.expected, held.found])?;
        }
        let mut frame = Frame::of_page(WIDTH, &self.title, &self.subtitle);
        if self.lines.is_empty() || self.levels.is_empty() {
            frame.sentences(&["There is nothing to show.".to_owned()], Lettering::PLAIN);
        } else {
            self.rows(&mut frame)?;
        }
        frame.sentences(&self.notes, Lettering::NOTE);
        Ok(frame.finish("coverage", &self.title, &self.description()))
    }

    fn description(&self) -> String {
        let mut text = format!("{} Squares: expected; discs: found.", self.subtitle);
        for line in &self.lines {
            for (level, held) in self.levels.iter().zip(&line.held) {
                let [level, expected, found] = [*level, held.expected, held.found].map(share);
                text += &format!(" {}, {level}: expected {expected}, found {found}.", line.name);
            }
        }
        text
    }

    fn rows(&self, frame: &mut Frame) -> Result<(), PictureError> {
        let count = u32::try_from(self.levels.len()).unwrap_or(u32::MAX);
        let column = (frame.inner() - NAMES) / count;
        let top = frame.bottom() + 12;
        let height = ROW * u32::try_from(self.lines.len()).unwrap_or(u32::MAX) + 22;
        let mut x = MARGIN + NAMES;
        for (at, level) in self.levels.iter().enumerate() {
            let words = format!("{} intervals", share(*level));
            frame.text((x, top + 11), &words, Lettering::SMALL.bold());
            self.level(frame, at, Area { x, y: top + 20, width: column - 34, height })?;
            x += column;
        }
        let name = Lettering::SMALL.at(Anchor::End);
        let mut base = top + 20 + ROW / 2 + 4;
        for line in &self.lines {
            let text = name.wrapped(&line.name, NAMES - 12, 1).concat();
            frame.text((MARGIN + NAMES - 10, base), &text, name);
            base += ROW;
        }
        Ok(())
    }

    fn level(&self, frame: &mut Frame, at: usize, area: Area) -> Result<(), PictureError> {
        let percent = |share: f64| 100.0 * share.clamp(0.0, 1.0);
        let highs = || (0..self.lines.len()).rev().map(|at| u32::try_from(at).map_or(0.0, f64::from) + 0.5);
        let held = || highs().zip(&self.lines).filter_map(|(high, line)| Some((high, line.held.get(at)?)));
        let mut ends = (100.0_f64, 0.0_f64);
        for (_, one) in held() {
            let (expected, found) = (percent(one.expected), percent(one.found));
            ends = (ends.0.min(expected).min(found), ends.1.max(expected).max(found));
        }
        let (low, high) = (ends.0.min(ends.1) - 2.0, ends.1.max(ends.0) + 2.0);
        let mut ticks = ticks::fitting(low, high, area.width, " %");
        ticks.retain(|tick| (0.0..=100.0).contains(&tick.at));
        let x = Axis { low, high, ticks, room: 22 };
        let rows = u32::try_from(self.lines.len()).map_or(1.0, f64::from);
        let y = Axis { low: 0.0, high: rows, ticks: Vec::new(), room: 0 };
        Panel { area, x, y }.draw(frame, |plot| {
            for (middle, one) in held() {
                let (expected, found) = ((percent(one.expected), middle), (percent(one.found), middle));
                plot.line(&[expected, found], Stroke { ink: Ink::DARK, ..Stroke::STRONG })?;
                plot.mark(found, Mark::Disc)?;
                plot.mark(expected, Mark::Square)?;
            }
            Ok(())
        })
    }
}
