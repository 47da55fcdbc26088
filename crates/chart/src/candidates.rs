//! Candidates: what was weighed for one item of a prescription, from easy to hard.

use crate::error::{PictureError, finite};
use crate::figure::chance;
use crate::frame::{Area, Frame, MARGIN, Stroke};
use crate::ink::Ink;
use crate::lettering::{Anchor, Lettering};
use crate::plot::{Axis, Panel};
use crate::ticks;

/// Pixels for the names of the candidates, and across for the bars.
const NAMES: u32 = 400;
const BARS: u32 = 410;
/// Pixels of one row, and of one column of figures.
const ROW: u32 = 38;
const FIGURES: u32 = 66;
const WIDTH: u32 = 2 * MARGIN + NAMES + BARS + 4 * FIGURES + 24;
/// The three chances of a bar with their greys, from left to right.
const PARTS: [(&str, Ink); 3] =
    [("too easy", Ink::WHITE), ("in the band", Ink::SOFT), ("too hard", Ink::LIGHT)];

/// What was weighed for one item.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidates {
    /// Whose.
    pub who: String,
    /// What the item is, such as `Pull-up, light band (working)`.
    pub item: String,
    /// The day and the band, in words.
    pub about: String,
    /// The candidates from the easiest to the hardest.
    pub candidates: Vec<Candidate>,
    /// How many more there were that are not shown.
    pub left_out: usize,
    /// The choice in sentences.
    pub sentences: Vec<String>,
    /// Cautions that belong to it.
    pub cautions: Vec<String>,
}

/// One candidate.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// What people call it, with shadings and load.
    pub name: String,
    /// The chance that it is too easy, 0 to 1.
    pub easy: f64,
    /// The chance that it is in the band.
    pub band: f64,
    /// The chance that it is too hard. The three sum to one.
    pub hard: f64,
    /// What candidates were ranked by.
    pub score: f64,
    /// How it fared.
    pub fate: Fate,
}

/// How a candidate fared.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// It was taken.
    Chosen,
    /// It could have been taken.
    Open,
    /// It could not be taken, for this reason.
    HeldBack(String),
}

impl Candidates {
    /// The picture as SVG. Fails on figures that are not finite.
    pub fn draw(&self) -> Result<String, PictureError> {
        let figures = |one: &Candidate| [one.easy, one.band, one.hard, one.score];
        finite("a figure of a candidate", self.candidates.iter().flat_map(figures))?;
        let title = format!("What was weighed for {}: {}", self.who, self.item);
        let mut frame = Frame::new(WIDTH, &title, &self.about);
        if self.candidates.is_empty() {
            frame.sentences(&["There is nothing to show: nothing was weighed.".to_owned()], Lettering::PLAIN);
        } else {
            legend(&mut frame);
            self.rows(&mut frame)?;
            self.notes(&mut frame);
        }
        frame.sentences(&self.sentences, Lettering::PLAIN);
        frame.sentences(&self.cautions, Lettering::NOTE);
        Ok(frame.finish("candidates", &title, &self.description()))
    }

    /// The reasons for holding back, each once, in the order in which they come up.
    fn reasons(&self) -> Vec<&str> {
        let mut reasons: Vec<&str> = Vec::new();
        for one in &self.candidates {
            if let Fate::HeldBack(reason) = &one.fate
                && !reasons.contains(&reason.as_str())
            {
                reasons.push(reason);
            }
        }
        reasons
    }

    fn rows(&self, frame: &mut Frame) -> Result<(), PictureError> {
        let top = frame.bottom() + 16;
        let rows = u32::try_from(self.candidates.len()).unwrap_or(u32::MAX);
        let area = Area { x: MARGIN + NAMES, y: top + 22, width: BARS, height: rows * ROW + 22 };
        let head = Lettering::SMALL.bold();
        frame.text((MARGIN, top + 11), "candidate, from easy to hard", head);
        frame.text((area.x, top + 11), "chances of a set", head);
        let mut right = area.right() + 24;
        for word in ["too easy", "in band", "too hard", "score"] {
            right += FIGURES;
            frame.text((right, top + 11), word, head.at(Anchor::End));
        }
        let reasons = self.reasons();
        let mut y = area.y;
        for one in &self.candidates {
            row(frame, y, one, &reasons);
            y += ROW;
        }
        let highs = (0..rows).rev().map(|at| f64::from(at) + 0.5);
        let axis = Axis { low: 0.0, high: f64::from(rows), ticks: Vec::new(), room: 0 };
        let x = Axis { low: 0.0, high: 1.0, ticks: ticks::of_shares(4), room: 22 };
        Panel { area, x, y: axis }.draw(frame, |plot| {
            for (middle, one) in highs.zip(&self.candidates) {
                let half = if matches!(one.fate, Fate::HeldBack(_)) { 0.1 } else { 0.3 };
                let mut from = 0.0;
                for (share, (_, fill)) in [one.easy, one.band, one.hard].into_iter().zip(PARTS) {
                    plot.bar((from, middle - half), (from + share, middle + half), fill)?;
                    from += share;
                }
            }
            Ok(())
        })
    }

    fn notes(&self, frame: &mut Frame) {
        let mut notes: Vec<String> = Vec::new();
        for (at, reason) in self.reasons().into_iter().enumerate() {
            notes.push(format!("held ({}): {reason}", at + 1));
        }
        if self.left_out > 0 {
            notes.push(format!("{} more were weighed and are not shown.", self.left_out));
        }
        frame.sentences(&notes, Lettering::SMALL);
    }

    fn description(&self) -> String {
        let mut text = format!(
            "{}. One bar a candidate, from easy to hard: the chances that a set is too easy, in the band and too hard.",
            self.about
        );
        for one in &self.candidates {
            let fate = match &one.fate {
                Fate::Chosen => "chosen, ",
                Fate::HeldBack(_) => "held back, ",
                Fate::Open => "",
            };
            text += &format!(" {}: {fate}in band {}.", one.name, chance(one.band));
        }
        format!("{text} {}", self.sentences.join(" "))
    }
}

/// The words and figures of one candidate.
fn row(frame: &mut Frame, y: u32, one: &Candidate, reasons: &[&str]) {
    let is_chosen = one.fate == Fate::Chosen;
    if is_chosen {
        let area = Area { x: MARGIN - 6, y: y + 1, width: WIDTH - 2 * MARGIN + 12, height: ROW - 2 };
        frame.rect(area, Ink::PALE, Ink::BLACK);
    } else {
        frame.line((MARGIN, y + ROW), (WIDTH - MARGIN, y + ROW), Stroke { ink: Ink::PALE, ..Stroke::RULE });
    }
    let held = match &one.fate {
        Fate::HeldBack(reason) => reasons.iter().position(|other| other == reason).map(|at| at + 1),
        Fate::Chosen | Fate::Open => None,
    };
    let words = match held {
        Some(number) => format!("held ({number}): {}", one.name),
        None if is_chosen => format!("chosen: {}", one.name),
        None => one.name.clone(),
    };
    let ink = if held.is_some() { Ink::SOFT } else { Ink::BLACK };
    let name = Lettering { ink, ..Lettering::SMALL };
    let lines = name.wrapped(&words, NAMES - 14, 2);
    let room = if lines.len() > 1 { 3 } else { 11 };
    frame.lines((MARGIN, y + room), &lines, name);
    let lettering = Lettering { is_bold: is_chosen, ..name };
    let mut right = MARGIN + NAMES + BARS + 24;
    for figure in [chance(one.easy), chance(one.band), chance(one.hard), score(one.score)] {
        right += FIGURES;
        frame.text((right, y + 23), &figure, lettering.at(Anchor::End));
    }
}

/// A score with two digits, within what can be told apart.
fn score(value: f64) -> String {
    let text = format!("{:.2}", value.clamp(-99.0, 99.0));
    if text == "-0.00" { "0.00".to_owned() } else { text.replace('-', "\u{2212}") }
}

fn legend(frame: &mut Frame) {
    let y = frame.bottom() + 18;
    let mut x = MARGIN;
    for (text, fill) in PARTS {
        frame.rect(Area { x, y: y - 10, width: 22, height: 12 }, fill, Ink::BLACK);
        frame.text((x + 28, y), text, Lettering::SMALL);
        x += 48 + Lettering::SMALL.width(text);
    }
    frame.text(
        (x, y),
        "thin bar: held back, for the reason of that number below; framed row: chosen",
        Lettering::SMALL,
    );
    frame.reach(y + 4);
}
