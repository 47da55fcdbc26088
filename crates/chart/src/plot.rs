//! Plots: axes and shapes drawn by plotters, put into the frame as a drawing of their own.

use std::fmt::Display;
use std::ops::Range;

use plotters::chart::{ChartBuilder, ChartContext, LabelAreaPosition};
use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, Ranged, ValueFormatter};
use plotters::coord::types::RangedCoordf64;
use plotters::drawing::IntoDrawingArea;
use plotters::element::{Circle, DashedPathElement, EmptyElement, PathElement, Polygon, Rectangle};
use plotters::prelude::SVGBackend;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, IntoFont, ShapeStyle, TRANSPARENT};

use crate::Ends;
use crate::error::PictureError;
use crate::frame::{Area, Frame, Stroke};
use crate::ink::Ink;
use crate::lettering::Lettering;
use crate::ticks::Tick;

/// Plotters counts in whole numbers: a plot is drawn at ten times its size, so that places are exact to a tenth of a pixel.
const FINE: u32 = 10;
/// Plotters writes letters smaller than asked by this factor.
const LETTER_FACTOR: f64 = 1.24;
/// Length of a dash and of the gap after it, in tenths of a pixel.
const DASH: (u32, u32) = (70, 40);

/// Length of the mark between an axis and its words, in tenths of a pixel.
const TICK: i32 = 40;

/// A place in the numbers of the axes.
pub(crate) type Point = (f64, f64);

/// One axis.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    /// Its lower end.
    pub(crate) low: f64,
    /// Its upper end.
    pub(crate) high: f64,
    /// Its marks.
    pub(crate) ticks: Vec<Tick>,
    /// Pixels for what stands at the marks; 0 for no words.
    pub(crate) room: u32,
}

/// Where a plot stands, and its axes.
#[derive(Debug)]
pub(crate) struct Panel {
    /// All of it, labels included.
    pub(crate) area: Area,
    /// From left to right.
    pub(crate) x: Axis,
    /// From bottom to top.
    pub(crate) y: Axis,
}

/// A mark at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mark {
    /// A small black disc.
    Dot,
    /// A black disc.
    Disc,
    /// A white square with a black edge.
    Square,
}

/// A plot being drawn.
pub(crate) struct Plot<'a, 'b> {
    chart: ChartContext<'b, SVGBackend<'a>, Cartesian2d<Axis, Axis>>,
    x: (f64, f64),
    y: (f64, f64),
}

impl Panel {
    /// The area between the axes.
    pub(crate) fn inside(&self) -> Area {
        let Area { x, y, width, height } = self.area;
        Area { x: x + self.y.room, y, width: width - self.y.room, height: height - self.x.room }
    }

    /// Draws axes and grid, then what the function draws, into the frame.
    pub(crate) fn draw(
        &self,
        frame: &mut Frame,
        shapes: impl FnOnce(&mut Plot<'_, '_>) -> Result<(), PictureError>,
    ) -> Result<(), PictureError> {
        let mut svg = String::new();
        let size = (self.area.width * FINE, self.area.height * FINE);
        {
            let root = SVGBackend::with_string(&mut svg, size).into_drawing_area();
            let chart = ChartBuilder::on(&root)
                .set_label_area_size(LabelAreaPosition::Left, self.y.room * FINE)
                .set_label_area_size(LabelAreaPosition::Bottom, self.x.room * FINE)
                .build_cartesian_2d(self.x.clone(), self.y.clone())
                .map_err(failed)?;
            let mut plot = Plot { chart, x: (self.x.low, self.x.high), y: (self.y.low, self.y.high) };
            plot.grid()?;
            shapes(&mut plot)?;
            root.present().map_err(failed)?;
        }
        frame.embed(&nested(&svg, self.area), self.area.bottom());
        Ok(())
    }
}

impl Ranged for Axis {
    type FormatOption = NoDefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, limit: (i32, i32)) -> i32 {
        RangedCoordf64::from(self.range()).map(value, limit)
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        let is_fine = hint.weight().allow_light_points();
        self.ticks.iter().filter(|_| !is_fine).map(|tick| tick.at).collect()
    }

    fn range(&self) -> Range<f64> {
        self.low..self.high
    }
}

impl ValueFormatter<f64> for Axis {
    fn format_ext(&self, value: &f64) -> String {
        let found = self.ticks.iter().find(|tick| tick.at.total_cmp(value).is_eq());
        found.map(|tick| tick.label.clone()).unwrap_or_default()
    }
}

impl Plot<'_, '_> {
    fn grid(&mut self) -> Result<(), PictureError> {
        let font = || {
            let size = f64::from(Lettering::SMALL.size * FINE) * LETTER_FACTOR;
            ("sans-serif", size).into_font().color(&Ink::BLACK.color())
        };
        let low = font().pos(Pos::new(HPos::Center, VPos::Top));
        let left = font().pos(Pos::new(HPos::Right, VPos::Center));
        let mut mesh = self.chart.configure_mesh();
        mesh.set_all_tick_mark_size(TICK)
            .x_label_style(low)
            .y_label_style(left)
            .axis_style(line_style(Ink::SOFT, FINE))
            .bold_line_style(line_style(Ink::PALE, FINE))
            .light_line_style(TRANSPARENT)
            .draw()
            .map_err(failed)
    }

    /// A place that is on the axes, the nearest one.
    fn on(&self, (x, y): Point) -> Point {
        (x.clamp(self.x.0, self.x.1), y.clamp(self.y.0, self.y.1))
    }

    /// A line through the points.
    pub(crate) fn line(&mut self, points: &[Point], stroke: Stroke) -> Result<(), PictureError> {
        let points: Vec<Point> = points.iter().map(|point| self.on(*point)).collect();
        let style = line_style(stroke.ink, stroke.tenths);
        let drawn = if stroke.is_dashed {
            let (dash, gap) = DASH;
            let dashed = DashedPathElement::new(points, dash, gap, style);
            self.chart.draw_series([dashed]).map(drop)
        } else {
            self.chart.draw_series([PathElement::new(points, style)]).map(drop)
        };
        drawn.map_err(failed)
    }

    /// The area between lower and upper ends along the axis.
    pub(crate) fn band(&mut self, ends: &[(f64, Ends)], fill: Ink) -> Result<(), PictureError> {
        let lower = ends.iter().map(|(x, (low, _))| self.on((*x, *low)));
        let upper = ends.iter().rev().map(|(x, (_, high))| self.on((*x, *high)));
        let outline: Vec<Point> = lower.chain(upper).collect();
        let shape = Polygon::new(outline, fill.color().filled());
        self.chart.draw_series([shape]).map(drop).map_err(failed)
    }

    /// A bar between two corners.
    pub(crate) fn bar(&mut self, from: Point, to: Point, fill: Ink) -> Result<(), PictureError> {
        let (from, to) = (self.on(from), self.on(to));
        let shape = Rectangle::new([from, to], fill.color().filled());
        self.chart.draw_series([shape]).map(drop).map_err(failed)?;
        let corners = [from, (to.0, from.1), to, (from.0, to.1), from];
        self.line(&corners, Stroke { ink: Ink::BLACK, tenths: 8, is_dashed: false })
    }

    /// A mark at a place.
    pub(crate) fn mark(&mut self, at: Point, mark: Mark) -> Result<(), PictureError> {
        let at = self.on(at);
        let edge = line_style(Ink::BLACK, 13);
        let drawn = match mark {
            Mark::Dot => self.chart.draw_series([Circle::new(at, 18, Ink::BLACK.color().filled())]).map(drop),
            Mark::Disc => {
                self.chart.draw_series([Circle::new(at, 34, Ink::BLACK.color().filled())]).map(drop)
            }
            Mark::Square => {
                let square = [(-30, -30), (30, -30), (30, 30), (-30, 30), (-30, -30)];
                let shape = EmptyElement::at(at)
                    + Polygon::new(square, Ink::WHITE.color().filled())
                    + PathElement::new(square, edge);
                self.chart.draw_series([shape]).map(drop)
            }
        };
        drawn.map_err(failed)
    }
}

fn line_style(ink: Ink, tenths: u32) -> ShapeStyle {
    ink.color().stroke_width(tenths)
}

fn failed(error: impl Display) -> PictureError {
    PictureError::Plot { message: error.to_string() }
}

/// A drawing of plotters as part of another: its own size stays in the view box, its place and size on paper are given.
fn nested(svg: &str, area: Area) -> String {
    let body = svg.split_once('\n').map_or("", |(_, body)| body);
    let Area { x, y, width, height } = area;
    let (wide, high) = (width * FINE, height * FINE);
    format!(
        "<svg x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {wide} {high}\" \
         overflow=\"visible\">\n{body}"
    )
}
