//! Trend: what an athlete could do on each rung over time, and how often sets on it failed.

mod figures;
mod panel;

use crate::Ends;
use crate::day::Day;
use crate::error::{PictureError, finite};
use crate::frame::{Area, Frame, MARGIN, Stroke};
use crate::ink::Ink;
use crate::lettering::Lettering;

const WIDTH: u32 = 1240;

/// Capacity and failures over a span of days, one panel a rung.
#[derive(Debug, Clone, PartialEq)]
pub struct Trend {
    /// Whose.
    pub who: String,
    /// The first day.
    pub from: Day,
    /// The last day.
    pub to: Day,
    /// The rungs, in the order in which they are shown.
    pub rungs: Vec<RungTrend>,
}

/// One rung.
#[derive(Debug, Clone, PartialEq)]
pub struct RungTrend {
    /// What people call it.
    pub name: String,
    /// What is counted, such as `reps`.
    pub unit: String,
    /// The fewest and the most units of a working set by the ladder; none when it is not known.
    pub band: Option<(u32, u32)>,
    /// What could be done, day by day in order.
    pub points: Vec<Capacity>,
    /// How often sets failed, week by week in order, for any cause.
    pub weeks: Vec<FailureWeek>,
    /// True when the weeks have a fitted chance.
    pub is_fitted: bool,
    /// How often sets failed in all, for any cause first, then by cause.
    pub causes: Vec<CauseTrend>,
    /// The same in sentences.
    pub sentences: Vec<String>,
}

/// What could be done on one day, in units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capacity {
    /// The day.
    pub day: Day,
    /// The median of one fresh set.
    pub median: f64,
    /// The central intervals of such a set with levels 0.5, 0.8 and 0.95.
    pub intervals: [Ends; 3],
}

/// The sets of one week.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FailureWeek {
    /// Its first day.
    pub start: Day,
    /// Sets that could have failed.
    pub sets: u32,
    /// Those that did.
    pub failures: u32,
    /// The fitted chance in the middle of the week, 0 to 1.
    pub fitted: f64,
}

/// How often sets failed by one cause over the whole span.
#[derive(Debug, Clone, PartialEq)]
pub struct CauseTrend {
    /// The cause in words.
    pub cause: String,
    /// Sets that could have failed by it.
    pub sets: u32,
    /// Those that did.
    pub failures: u32,
    /// Failures a set.
    pub rate: f64,
    /// The interval of the rate with level 0.95.
    pub interval: Ends,
    /// The slope of the log odds a week with its interval of level 0.95, where it can be told.
    pub slope: Option<(f64, Ends)>,
}

impl Trend {
    /// The picture as SVG. Fails on figures that are not finite.
    pub fn draw(&self) -> Result<String, PictureError> {
        self.check()?;
        let title = format!("What {} could do over time", self.who);
        let span = format!("{} to {}, seen from the whole log", self.from.iso(), self.to.iso());
        let mut frame = Frame::new(WIDTH, &title, &span);
        if self.rungs.is_empty() {
            let nothing = "There is nothing to show: no rung was trained in these days and none is a goal.";
            frame.sentences(&[nothing.to_owned()], Lettering::PLAIN);
        } else {
            legend(&mut frame);
        }
        for rung in &self.rungs {
            panel::draw(&mut frame, self, rung)?;
        }
        Ok(frame.finish("trend", &title, &self.description(&span)))
    }

    fn check(&self) -> Result<(), PictureError> {
        for rung in &self.rungs {
            let ends = |(low, high): Ends| [low, high];
            for point in &rung.points {
                finite("a capacity", point.intervals.into_iter().flat_map(ends).chain([point.median]))?;
            }
            finite("a fitted chance", rung.weeks.iter().map(|week| week.fitted))?;
            for cause in &rung.causes {
                finite("a failure rate", ends(cause.interval).into_iter().chain([cause.rate]))?;
                let slope = cause.slope.map(|(slope, interval)| [slope, interval.0, interval.1]);
                finite("a slope", slope.into_iter().flatten())?;
            }
        }
        Ok(())
    }

    fn description(&self, span: &str) -> String {
        let mut text = format!(
            "{span}. For each rung: the median of one fresh set with the ranges of 50, 80 and 95 percent of such sets on a scale of ratios, \
             the working band, and below it the share of sets that failed, week by week, with a fitted line. \
             The figures stand beside each plot.",
        );
        for rung in &self.rungs {
            text += &format!(" {}: {}", rung.name, rung.sentences.join(" "));
        }
        if self.rungs.is_empty() {
            text += " There is nothing to show.";
        }
        text
    }
}

/// What the lines and greys of all panels mean.
fn legend(frame: &mut Frame) {
    let y = frame.bottom() + 18;
    let mut x = MARGIN;
    let word = |frame: &mut Frame, x: u32, text: &str| {
        frame.text((x, y), text, Lettering::SMALL);
        x + Lettering::SMALL.width(text) + 20
    };
    frame.line((x, y - 4), (x + 26, y - 4), Stroke::STRONG);
    x = word(frame, x + 32, "median set of a usual day");
    for (fill, text) in [(Ink::MIDDLE, "50 %"), (Ink::LIGHT, "80 %"), (Ink::PALE, "95 % of such sets")] {
        frame.rect(Area { x, y: y - 10, width: 22, height: 12 }, fill, Ink::SOFT);
        x = word(frame, x + 28, text);
    }
    frame.line((x, y - 4), (x + 26, y - 4), Stroke::BROKEN);
    x = word(frame, x + 32, "edges of the ladder's working band");
    frame.line((x + 5, y - 4), (x + 5, y + 2), Stroke::RULE);
    frame.disc((x + 5, y - 5), 3, Ink::BLACK);
    x = word(frame, x + 16, "share of the week's sets that failed");
    frame.line((x, y - 4), (x + 26, y - 4), Stroke::STRONG);
    word(frame, x + 32, "its fitted line");
    frame.reach(y + 8);
}
