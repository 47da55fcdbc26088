//! Calibration: chances that were said against how often what they spoke of came.

use crate::error::{PictureError, finite};
use crate::figure::share;
use crate::frame::{Area, Frame, MARGIN, Stroke};
use crate::ink::Ink;
use crate::lettering::Lettering;
use crate::plot::{Axis, Mark, Panel};
use crate::ticks;

const WIDTH: u32 = 760;
/// Pixels from one panel to the next.
const GAP: u32 = 24;
/// Pixels of the shares above, and of the bars below.
const HEIGHTS: (u32, u32) = (320, 96);
/// Least width of a bar, as a share of the axis.
const LEAST: f64 = 0.006;

/// Chances of one event said before many sets, pooled until the shares that came rise with them.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// The event in a few words.
    pub words: String,
    /// Steps of the isotonic regression, from the smallest chance on.
    pub steps: Vec<Step>,
}

/// One step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Smallest chance said on it, 0 to 1.
    pub from: f64,
    /// Largest chance said on it, 0 to 1.
    pub to: f64,
    /// Share that came, 0 to 1.
    pub came: f64,
    /// Share of all sets that stand on it, 0 to 1.
    pub weight: f64,
}

/// Calibration of one forecaster at some events.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// What it shows.
    pub title: String,
    /// Below the title.
    pub subtitle: String,
    /// One or two events.
    pub events: Vec<Event>,
    /// How to read it.
    pub notes: Vec<String>,
}

impl Calibration {
    /// The picture as SVG. Fails on figures that are not finite.
    pub fn draw(&self) -> Result<String, PictureError> {
        for step in self.events.iter().flat_map(|event| &event.steps) {
            finite("a step", [step.from, step.to, step.came, step.weight])?;
        }
        let mut frame = Frame::of_page(WIDTH, &self.title, &self.subtitle);
        let top = frame.bottom() + 12;
        let width = (frame.inner() - GAP) / 2;
        let mut x = MARGIN;
        for event in self.events.iter().take(2) {
            event.draw(&mut frame, (x, top), width)?;
            x += width + GAP;
        }
        if self.events.is_empty() {
            frame.sentences(&["There is nothing to show.".to_owned()], Lettering::PLAIN);
        }
        frame.sentences(&self.notes, Lettering::NOTE);
        Ok(frame.finish("calibration", &self.title, &self.description()))
    }

    fn description(&self) -> String {
        let mut text = format!("{} Steps that rise with the chance said.", self.subtitle);
        for event in &self.events {
            text += &format!(" {}:", event.words);
            for step in &event.steps {
                let [from, to, came, weight] = [step.from, step.to, step.came, step.weight].map(share);
                text += &format!(" said {from} to {to}, came {came}, {weight} of sets;");
            }
        }
        text
    }
}

impl Event {
    fn draw(&self, frame: &mut Frame, (x, y): (u32, u32), width: u32) -> Result<(), PictureError> {
        let below = frame.paragraph((x, y), width, &self.words, Lettering::SMALL.bold());
        frame.text((x, below + 13), "up: share that came; across: chance said", Lettering::NOTE);
        let area = Area { x, y: below + 22, width, height: HEIGHTS.0 };
        self.shares(frame, area)?;
        frame.text((x, area.bottom() + 17), "share of sets on each step", Lettering::NOTE);
        self.weights(frame, Area { y: area.bottom() + 26, height: HEIGHTS.1, ..area })
    }

    fn shares(&self, frame: &mut Frame, area: Area) -> Result<(), PictureError> {
        let chances = || Axis { low: -0.02, high: 1.02, ticks: ticks::of_shares(4), room: 46 };
        let x = Axis { room: 22, ..chances() };
        Panel { area, x, y: chances() }.draw(frame, |plot| {
            plot.line(&[(0.0, 0.0), (1.0, 1.0)], Stroke { ink: Ink::DARK, ..Stroke::BROKEN })?;
            let corners: Vec<(f64, f64)> =
                self.steps.iter().flat_map(|step| [(step.from, step.came), (step.to, step.came)]).collect();
            if corners.len() > 1 {
                plot.line(&corners, Stroke { tenths: 10, ..Stroke::STRONG })?;
            }
            for step in &self.steps {
                let ends = [(step.from, step.came), (step.to, step.came)];
                plot.line(&ends, Stroke { tenths: 30, ..Stroke::STRONG })?;
                ends.into_iter().try_for_each(|end| plot.mark(end, Mark::Dot))?;
            }
            Ok(())
        })
    }

    fn weights(&self, frame: &mut Frame, area: Area) -> Result<(), PictureError> {
        let heaviest = self.steps.iter().map(|step| step.weight).fold(0.01_f64, f64::max);
        let high = 104.0 * heaviest.min(1.0);
        let x = Axis { low: -0.02, high: 1.02, ticks: ticks::of_shares(4), room: 22 };
        let y = Axis { low: 0.0, high, ticks: ticks::of_values(0.0, high, 3, " %"), room: 46 };
        Panel { area, x, y }.draw(frame, |plot| {
            self.steps.iter().try_for_each(|step| {
                let middle = 0.5 * (step.from + step.to);
                let half = (0.5 * (step.to - step.from)).max(LEAST);
                plot.bar((middle - half, 0.0), (middle + half, 100.0 * step.weight), Ink::MIDDLE)
            })
        })
    }
}
