//! Ranks: where what happened stood in what was foretold, counted in equal parts.

use crate::Ends;
use crate::error::{PictureError, finite};
use crate::figure::share;
use crate::frame::{Area, Frame, MARGIN, Stroke};
use crate::ink::Ink;
use crate::lettering::Lettering;
use crate::plot::{Axis, Panel};
use crate::ticks;

const WIDTH: u32 = 760;
const HEIGHT: u32 = 260;

/// Ranks of one forecaster.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranks {
    /// What it shows.
    pub title: String,
    /// Below the title.
    pub subtitle: String,
    /// Share of sets in each of equal parts from 0 to 1, each 0 to 1.
    pub shares: Vec<f64>,
    /// Within what a share would stay 99 times of 100 if the predictions were right.
    pub usual: Ends,
    /// How to read it.
    pub notes: Vec<String>,
}

impl Ranks {
    /// The picture as SVG. Fails on figures that are not finite.
    pub fn draw(&self) -> Result<String, PictureError> {
        finite("a share", self.shares.iter().copied().chain([self.usual.0, self.usual.1]))?;
        let mut frame = Frame::of_page(WIDTH, &self.title, &self.subtitle);
        if self.shares.is_empty() {
            frame.sentences(&["There is nothing to show.".to_owned()], Lettering::PLAIN);
        } else {
            self.bars(&mut frame)?;
        }
        frame.sentences(&self.notes, Lettering::NOTE);
        Ok(frame.finish("ranks", &self.title, &self.description()))
    }

    fn even(&self) -> f64 {
        1.0 / u32::try_from(self.shares.len()).map_or(1.0, f64::from)
    }

    fn description(&self) -> String {
        let shares: Vec<String> = self.shares.iter().map(|one| share(*one)).collect();
        format!(
            "{} Bars from rank 0 to rank 1, against a line at {}: {}.",
            self.subtitle,
            share(self.even()),
            shares.join(", ")
        )
    }

    fn bars(&self, frame: &mut Frame) -> Result<(), PictureError> {
        let top = frame.bottom() + 12;
        frame.text(
            (MARGIN, top + 11),
            "up: share of sets; across: rank of the count done in what was foretold",
            Lettering::NOTE,
        );
        let area = Area { x: MARGIN, y: top + 20, width: frame.inner(), height: HEIGHT };
        let percent = |share: f64| 100.0 * share.clamp(0.0, 1.0);
        let highest = self.shares.iter().copied().chain([self.usual.1]).fold(0.0_f64, f64::max);
        let high = 1.1 * percent(highest).max(1.0);
        let x = Axis { low: 0.0, high: 1.0, ticks: ticks::of_values(0.0, 1.0, 6, ""), room: 22 };
        let y = Axis { low: 0.0, high, ticks: ticks::of_values(0.0, high, 6, " %"), room: 46 };
        let wide = self.even();
        Panel { area, x, y }.draw(frame, |plot| {
            let mut from = 0.0;
            for share in &self.shares {
                plot.bar((from, 0.0), (from + wide, percent(*share)), Ink::LIGHT)?;
                from += wide;
            }
            plot.line(
                &[(0.0, percent(wide)), (1.0, percent(wide))],
                Stroke { tenths: 26, ..Stroke::STRONG },
            )?;
            [self.usual.0, self.usual.1].into_iter().try_for_each(|end| {
                plot.line(
                    &[(0.0, percent(end)), (1.0, percent(end))],
                    Stroke { tenths: 14, ..Stroke::BROKEN },
                )
            })
        })
    }
}
