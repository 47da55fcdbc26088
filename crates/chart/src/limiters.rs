//! Limiters: what holds an athlete back from a goal, and how sure that is.

use crate::Ends;
use crate::day::Day;
use crate::error::{PictureError, finite};
use crate::figure::{chance, chance_range};
use crate::frame::{Area, Frame, MARGIN, Stroke};
use crate::ink::Ink;
use crate::lettering::{Anchor, Lettering};
use crate::plot::{Axis, Mark, Panel, Plot};
use crate::table::{Column, Table};
use crate::ticks;

const WIDTH: u32 = 1060;
/// Pixels of one row.
const ROW: u32 = 40;
/// Pixels for the names of the limiters.
const NAMES: u32 = 180;
/// Pixels across for the weights, and for the chances.
const PLOTS: (u32, u32) = (430, 300);

/// What holds an athlete back.
#[derive(Debug, Clone, PartialEq)]
pub struct Limiters {
    /// Whose.
    pub who: String,
    /// What people call the goal.
    pub goal: String,
    /// The first day looked at.
    pub from: Day,
    /// The last day looked at.
    pub to: Day,
    /// The limiters, the one that holds back most first.
    pub findings: Vec<Finding>,
    /// The place of the one called first; none when the log cannot tell.
    pub first: Option<usize>,
    /// The one change proposed, in a sentence.
    pub change: String,
    /// Cautions that belong to it.
    pub cautions: Vec<String>,
}

/// One limiter.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Its name.
    pub name: String,
    /// False for an ability that the goal does not ask for: it has no figures.
    pub is_asked: bool,
    /// How much it holds back, 0 to 1.
    pub weight: f64,
    /// The central interval of that with level 0.8.
    pub interval: Ends,
    /// The chance that it is the first, 0 to 1.
    pub chance_first: f64,
    /// What speaks for it, in a sentence.
    pub sentence: String,
}

impl Limiters {
    /// The picture as SVG. Fails on figures that are not finite.
    pub fn draw(&self) -> Result<String, PictureError> {
        for one in &self.findings {
            finite("a weight", [one.weight, one.interval.0, one.interval.1])?;
            finite("a chance", [one.chance_first])?;
        }
        let title = format!("What holds {} back from {}", self.who, self.goal);
        let span = format!("Sets from {} to {}", self.from.iso(), self.to.iso());
        let mut frame = Frame::new(WIDTH, &title, &span);
        if self.findings.is_empty() {
            frame.sentences(
                &["There is nothing to show: no limiter was judged.".to_owned()],
                Lettering::PLAIN,
            );
        } else {
            self.answer(&mut frame);
            self.bars(&mut frame)?;
            self.figures(&mut frame);
        }
        frame.sentences(&self.cautions, Lettering::NOTE);
        Ok(frame.finish("limiters", &title, &self.description(&span)))
    }

    fn answer(&self, frame: &mut Frame) {
        let found = self.first.and_then(|at| self.findings.get(at));
        let first = found.map_or_else(
            || "The log cannot tell which of them comes first.".to_owned(),
            |one| format!("First: {} ({} sure).", one.name, chance(one.chance_first)),
        );
        frame.sentences(&[first], Lettering::PLAIN.bold());
        if !self.change.is_empty() {
            frame.sentences(std::slice::from_ref(&self.change), Lettering::PLAIN);
        }
    }

    /// The rows from top to bottom, each one unit high, the first at the top.
    fn rows(&self) -> impl Iterator<Item = (f64, &Finding, bool)> {
        let highs = (0..self.findings.len()).rev().map(|at| u32::try_from(at).map_or(0.0, f64::from));
        let of = |((at, high), one)| (high + 0.5, one, self.first == Some(at));
        highs.enumerate().zip(&self.findings).map(of)
    }

    fn bars(&self, frame: &mut Frame) -> Result<(), PictureError> {
        let top = frame.bottom() + 16;
        let rows = u32::try_from(self.findings.len()).unwrap_or(u32::MAX);
        let y = Axis { low: 0.0, high: f64::from(rows), ticks: Vec::new(), room: 0 };
        let left = MARGIN + NAMES;
        let height = rows * ROW + 22;
        let weights = Area { x: left, y: top + 22, width: PLOTS.0, height };
        let chances = Area { x: left + PLOTS.0 + 60, width: PLOTS.1, ..weights };
        for (area, words) in [
            (weights, "how much it holds back: bar, with its 80 % interval"),
            (chances, "chance to be the first"),
        ] {
            frame.text((area.x, top + 11), words, Lettering::SMALL.bold());
        }
        let shares = Axis { low: 0.0, high: 1.0, ticks: ticks::of_shares(4), room: 22 };
        let asked = || self.rows().filter(|(_, one, _)| one.is_asked);
        Panel { area: weights, x: shares.clone(), y: y.clone() }.draw(frame, |plot| {
            asked().try_for_each(|(middle, one, is_first)| bar(plot, middle, one, is_first))
        })?;
        Panel { area: chances, x: shares, y }.draw(frame, |plot| {
            asked().try_for_each(|(middle, one, _)| {
                plot.line(
                    &[(0.0, middle), (one.chance_first, middle)],
                    Stroke { ink: Ink::DARK, ..Stroke::STRONG },
                )?;
                plot.mark((one.chance_first, middle), Mark::Disc)
            })
        })?;
        let mut base = weights.y + ROW / 2 + 4;
        for (at, one) in self.findings.iter().enumerate() {
            let is_first = self.first == Some(at);
            let name = Lettering { is_bold: is_first, ..Lettering::PLAIN }.at(Anchor::End);
            let words = if is_first { format!("first: {}", one.name) } else { one.name.clone() };
            let line = name.wrapped(&words, NAMES - 12, 1).concat();
            frame.text((left - 12, base), &line, name);
            if !one.is_asked {
                frame.text((left + 12, base), "not asked for by the goal", Lettering::NOTE);
            }
            base += ROW;
        }
        Ok(())
    }

    fn figures(&self, frame: &mut Frame) {
        let mut table = Table::new(vec![
            Column::words("limiter", 130),
            Column::figures("how\u{a0}much"),
            Column::figures("80\u{a0}%"),
            Column::figures("chance to\u{a0}be\u{a0}first"),
            Column::words("what speaks for it", 600),
        ]);
        for one in &self.findings {
            let if_asked = |text: String| if one.is_asked { text } else { "\u{2013}".to_owned() };
            table.row(vec![
                one.name.clone(),
                if_asked(chance(one.weight)),
                if_asked(chance_range(one.interval)),
                if_asked(chance(one.chance_first)),
                one.sentence.clone(),
            ]);
        }
        let top = frame.bottom() + 18;
        table.draw(frame, (MARGIN, top));
        let note = "How much: for strength, balance and line the share of the failures at the goal that each would cause; for the \
                    wrong rung the share of working sets outside the band; for training the share that was missing of what \
                    common practice asks for.";
        frame.sentences(&[note.to_owned()], Lettering::NOTE);
    }

    fn description(&self, span: &str) -> String {
        let mut text = format!(
            "{span}. Bars show how much each limiter holds back, with 80 percent intervals; beside them stands the \
             chance that it is the first.",
        );
        for one in &self.findings {
            let (much, first) = (chance(one.weight), chance(one.chance_first));
            text += &match one.is_asked {
                true => format!(" {}: {much}, chance to be first {first}. {}", one.name, one.sentence),
                false => format!(" {}: not asked for. {}", one.name, one.sentence),
            };
        }
        format!("{text} {}", self.change)
    }
}

/// A bar with its whisker.
fn bar(plot: &mut Plot<'_, '_>, middle: f64, one: &Finding, is_first: bool) -> Result<(), PictureError> {
    let fill = if is_first { Ink::MIDDLE } else { Ink::PALE };
    plot.bar((0.0, middle - 0.27), (one.weight, middle + 0.27), fill)?;
    let (low, high) = one.interval;
    plot.line(&[(low, middle), (high, middle)], Stroke { tenths: 22, ..Stroke::STRONG })?;
    [low, high].iter().try_for_each(|end| {
        plot.line(&[(*end, middle - 0.14), (*end, middle + 0.14)], Stroke { tenths: 22, ..Stroke::STRONG })
    })
}
