//! Intervals: figures of several names side by side, each with how far it may be off.

use crate::Ends;
use crate::error::{PictureError, finite};
use crate::figure::{difference, share};
use crate::frame::{Area, Frame, MARGIN, Stroke};
use crate::lettering::{Anchor, Lettering};
use crate::plot::{Axis, Mark, Panel, Plot};
use crate::ticks;

const WIDTH: u32 = 760;
/// Pixels for the names.
const NAMES: u32 = 112;
/// Pixels for a figure behind its whisker.
const FIGURE: u32 = 62;
/// Pixels of one row.
const ROW: u32 = 30;
/// Figures beyond it stand at it.
const MOST: f64 = 1e6;

/// What a column of figures is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Differences, held against a line at zero.
    Difference,
    /// Shares, 0 to 1.
    Share,
}

/// One column of figures.
#[derive(Debug, Clone, PartialEq)]
pub struct Side {
    /// What they are, with their unit.
    pub words: String,
    /// What they are about.
    pub scale: Scale,
}

/// A figure and how far it may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// The figure.
    pub value: f64,
    /// Its interval.
    pub interval: Ends,
}

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its name.
    pub name: String,
    /// A figure for each column; none where there is nothing to say.
    pub figures: Vec<Option<Figure>>,
}

/// Figures with intervals.
#[derive(Debug, Clone, PartialEq)]
pub struct Intervals {
    /// Tells it apart from other pictures of one page: letters and hyphens.
    pub id: &'static str,
    /// What it shows.
    pub title: String,
    /// Below the title.
    pub subtitle: String,
    /// One to three columns.
    pub sides: Vec<Side>,
    /// The rows, the first at the top.
    pub lines: Vec<Line>,
    /// How to read it.
    pub notes: Vec<String>,
}

impl Intervals {
    /// The picture as SVG. Fails on figures that are not finite.
    pub fn draw(&self) -> Result<String, PictureError> {
        for figure in self.lines.iter().flat_map(|line| &line.figures).flatten() {
            finite("a figure", [figure.value, figure.interval.0, figure.interval.1])?;
        }
        let mut frame = Frame::of_page(WIDTH, &self.title, &self.subtitle);
        if self.lines.is_empty() || self.sides.is_empty() {
            frame.sentences(&["There is nothing to show.".to_owned()], Lettering::PLAIN);
        } else {
            self.rows(&mut frame)?;
        }
        frame.sentences(&self.notes, Lettering::NOTE);
        Ok(frame.finish(self.id, &self.title, &self.description()))
    }

    fn description(&self) -> String {
        let mut text = format!("{} Dots with whiskers, one row a name.", self.subtitle);
        for line in &self.lines {
            for (side, figure) in self.sides.iter().zip(&line.figures) {
                let Some(Figure { value, interval: (low, high) }) = figure else { continue };
                let [value, low, high] = [*value, *low, *high].map(|value| side.scale.words(value));
                text += &format!(" {}, {}: {value}, {low} to {high}.", line.name, side.words);
            }
        }
        text
    }

    fn rows(&self, frame: &mut Frame) -> Result<(), PictureError> {
        let count = u32::try_from(self.sides.len()).unwrap_or(u32::MAX);
        let column = (frame.inner() - NAMES) / count;
        let lettering = Lettering::SMALL.bold();
        let heads: Vec<Vec<String>> =
            self.sides.iter().map(|side| lettering.wrapped(&side.words, column - 16, 3)).collect();
        let head_lines = heads.iter().map(Vec::len).max().unwrap_or(0);
        let top = frame.bottom() + 12;
        let plot_top = top + lettering.line() * u32::try_from(head_lines).unwrap_or(1) + 6;
        let height = ROW * u32::try_from(self.lines.len()).unwrap_or(u32::MAX) + 22;
        let mut x = MARGIN + NAMES;
        for (at, (side, head)) in self.sides.iter().zip(&heads).enumerate() {
            frame.lines((x, top), head, lettering);
            let area = Area { x, y: plot_top, width: column - FIGURE - 12, height };
            self.side(frame, at, side.scale, area)?;
            x += column;
        }
        let name = Lettering::SMALL.at(Anchor::End);
        let mut base = plot_top + ROW / 2 + 4;
        for line in &self.lines {
            let text = name.wrapped(&line.name, NAMES - 12, 1).concat();
            frame.text((MARGIN + NAMES - 10, base), &text, name);
            base += ROW;
        }
        Ok(())
    }

    /// Figures of a column with the middles of their rows, the first at the top.
    fn placed(&self, column: usize) -> impl Iterator<Item = (f64, Option<Figure>)> {
        let highs = (0..self.lines.len()).rev().map(|at| u32::try_from(at).map_or(0.0, f64::from));
        let figure = move |line: &Line| line.figures.get(column).copied().flatten();
        highs.map(|high| high + 0.5).zip(self.lines.iter().map(figure))
    }

    fn side(&self, frame: &mut Frame, at: usize, scale: Scale, area: Area) -> Result<(), PictureError> {
        let rows = self.lines.len();
        let y =
            Axis { low: 0.0, high: u32::try_from(rows).map_or(1.0, f64::from), ticks: Vec::new(), room: 0 };
        let shown = || self.placed(at).filter_map(|(middle, figure)| Some((middle, figure?)));
        let x = scale.axis(area.width, shown().map(|(_, figure)| figure));
        let zero = [(0.0, y.low), (0.0, y.high)];
        Panel { area, x, y }.draw(frame, |plot| {
            if scale == Scale::Difference {
                plot.line(&zero, Stroke::BROKEN)?;
            }
            shown().try_for_each(|(middle, figure)| whisker(plot, middle, figure, scale))
        })?;
        let mut base = area.y + ROW / 2 + 4;
        for (_, figure) in self.placed(at) {
            let words = figure.map_or("\u{2013}".to_owned(), |figure| scale.words(figure.value));
            frame.text((area.right() + FIGURE, base), &words, Lettering::SMALL.at(Anchor::End));
            base += ROW;
        }
        Ok(())
    }
}

impl Scale {
    fn words(self, value: f64) -> String {
        match self {
            Self::Difference => difference(value),
            Self::Share => share(value),
        }
    }

    /// Places on the axis.
    fn place(self, value: f64) -> f64 {
        match self {
            Self::Difference => value.clamp(-MOST, MOST),
            Self::Share => value.clamp(0.0, 1.0),
        }
    }

    fn axis(self, pixels: u32, figures: impl Iterator<Item = Figure>) -> Axis {
        if self == Self::Share {
            let ticks = ticks::of_shares(if pixels < 180 { 2 } else { 4 });
            return Axis { low: -0.02, high: 1.02, ticks, room: 22 };
        }
        let mut ends = (0.0_f64, 0.0_f64);
        for figure in figures {
            let (low, high) = figure.interval;
            let [low, value, high] = [low, figure.value, high].map(|value| self.place(value));
            ends = (ends.0.min(low).min(value), ends.1.max(high).max(value));
        }
        let air = (0.06 * (ends.1 - ends.0)).max(1e-4);
        let (low, high) = (ends.0 - air, ends.1 + air);
        Axis { low, high, ticks: ticks::fitting(low, high, pixels, ""), room: 22 }
    }
}

fn whisker(plot: &mut Plot<'_, '_>, middle: f64, figure: Figure, scale: Scale) -> Result<(), PictureError> {
    let (low, high) = (scale.place(figure.interval.0), scale.place(figure.interval.1));
    plot.line(&[(low, middle), (high, middle)], Stroke::STRONG)?;
    for end in [low, high] {
        plot.line(&[(end, middle - 0.17), (end, middle + 0.17)], Stroke::STRONG)?;
    }
    plot.mark((scale.place(figure.value), middle), Mark::Disc)
}
