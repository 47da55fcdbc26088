//! Week: what each day is for, which abilities it works hard, and what the week reaches.

use std::collections::BTreeSet;

use crate::day::Day;
use crate::error::PictureError;
use crate::figure::and_list;
use crate::frame::{Area, Frame, MARGIN, Stroke};
use crate::ink::Ink;
use crate::lettering::{Anchor, Lettering};
use crate::plot::{Axis, Panel};
use crate::table::{Column, Table};
use crate::ticks;

/// Pixels left of the days, and across for one day.
const NAMES: u32 = 128;
const DAY: u32 = 146;
const WIDTH: u32 = 2 * MARGIN + NAMES + 7 * DAY;
/// Pixels of one ability.
const ROW: u32 = 26;
/// Pixels between the edge of a day and its words.
const PAD: u32 = 8;

/// A week of sessions.
#[derive(Debug, Clone, PartialEq)]
pub struct Week {
    /// Whose.
    pub who: String,
    /// The days in order; seven at most are drawn.
    pub days: Vec<PlannedDay>,
    /// What the week should reach.
    pub wishes: Vec<Wish>,
    /// The week in sentences.
    pub sentences: Vec<String>,
    /// Cautions that belong to it.
    pub cautions: Vec<String>,
}

/// One day.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedDay {
    /// The day.
    pub day: Day,
    /// True when it shows what was trained.
    pub is_past: bool,
    /// What it is for, in a word or two.
    pub purpose: String,
    /// The parts of its session, in order.
    pub parts: Vec<Part>,
    /// Why, in a sentence.
    pub sentence: String,
}

/// One part of a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What it is, such as `working sets`.
    pub name: String,
    /// What people call its ladder.
    pub ladder: String,
    /// Its sets.
    pub sets: u32,
    /// The abilities it works hard, in words.
    pub hard: Vec<String>,
}

/// Something the week should reach.
#[derive(Debug, Clone, PartialEq)]
pub struct Wish {
    /// What, in words, with what it is about.
    pub name: String,
    /// True when the plan meets it.
    pub is_met: bool,
    /// What is wanted, and why not when it is missed.
    pub sentence: String,
}

impl Week {
    /// The picture as SVG.
    pub fn draw(&self) -> Result<String, PictureError> {
        let title = format!("The week of {}", self.who);
        let span = match (self.days.first(), self.days.last()) {
            (Some(first), Some(last)) => format!("{} to {}", first.day.iso(), last.day.iso()),
            _ => "No days".to_owned(),
        };
        let mut frame = Frame::new(WIDTH, &title, &span);
        if self.days.is_empty() {
            frame.sentences(&["There is nothing to show: no day was planned.".to_owned()], Lettering::PLAIN);
        } else {
            self.grid(&mut frame);
            self.hard_work(&mut frame)?;
            self.wished(&mut frame);
            self.reasons(&mut frame);
        }
        frame.sentences(&self.sentences, Lettering::PLAIN);
        frame.sentences(&self.cautions, Lettering::NOTE);
        Ok(frame.finish("week", &title, &self.description(&span)))
    }

    /// The drawn days with the left edges of their columns.
    fn columns(&self) -> impl Iterator<Item = (u32, &PlannedDay)> {
        self.days.iter().take(7).scan(MARGIN + NAMES, |x, day| {
            let left = *x;
            *x += DAY;
            Some((left, day))
        })
    }

    /// The days side by side with the parts of each in words.
    fn grid(&self, frame: &mut Frame) {
        let top = frame.bottom() + 16;
        let lines = self.columns().map(|(_, day)| cell(day).len()).max().unwrap_or(0);
        let height = 58 + u32::try_from(lines).unwrap_or(0) * Lettering::SMALL.line();
        for (x, day) in self.columns() {
            let fill = if day.parts.is_empty() { Ink::PALE } else { Ink::WHITE };
            frame.rect(Area { x, y: top, width: DAY, height }, fill, Ink::SOFT);
            let heading = format!("{} {}", day.day.weekday(), day.day.short());
            frame.text((x + PAD, top + 18), &heading, Lettering::SMALL.bold());
            let kind = Lettering { ink: Ink::SOFT, ..Lettering::SMALL };
            let purpose = kind.wrapped(&day.purpose, DAY - 2 * PAD, 1).concat();
            frame.text((x + PAD, top + 34), &purpose, kind);
            let mut y = top + 42;
            for (line, is_bold) in cell(day) {
                y = frame.lines((x + PAD, y), &[line], Lettering { is_bold, ..Lettering::SMALL });
            }
        }
        let label = Lettering::SMALL.bold();
        frame.text((MARGIN, top + 18), "day", label);
        frame.text((MARGIN, top + 34), "what it is for", label);
        frame.text((MARGIN, top + 42 + label.size), "parts, in order", label);
    }

    /// A row for each ability that is worked hard, under the days.
    fn hard_work(&self, frame: &mut Frame) -> Result<(), PictureError> {
        let parts = || self.days.iter().flat_map(|day| &day.parts);
        let abilities: BTreeSet<&String> = parts().flat_map(|part| &part.hard).collect();
        let top = frame.bottom() + 12;
        let rows = u32::try_from(abilities.len()).unwrap_or(u32::MAX);
        if rows == 0 {
            frame.text((MARGIN, top + 12), "No ability is worked hard this week.", Lettering::PLAIN);
            return Ok(());
        }
        frame.text((MARGIN, top + 12), "hard work on", Lettering::SMALL.bold());
        let key = "filled: planned; open: trained";
        frame.text((MARGIN + NAMES, top + 12), key, Lettering::NOTE);
        let area = Area { x: MARGIN + NAMES, y: top + 20, width: 7 * DAY, height: rows * ROW };
        let whole =
            |high: u32| Axis { low: 0.0, high: f64::from(high), ticks: ticks::of_edges(high), room: 0 };
        Panel { area, x: whole(7), y: whole(rows) }.draw(frame, |plot| {
            for (row, ability) in (0..rows).rev().map(f64::from).zip(&abilities) {
                for (column, day) in (0..7).map(f64::from).zip(&self.days) {
                    if day.parts.iter().any(|part| part.hard.contains(*ability)) {
                        let fill = if day.is_past { Ink::WHITE } else { Ink::SOFT };
                        plot.bar((column + 0.44, row + 0.22), (column + 0.56, row + 0.78), fill)?;
                    }
                }
            }
            Ok(())
        })?;
        let mut y = area.y + ROW / 2 + 4;
        for ability in abilities {
            let name = Lettering::SMALL.wrapped(ability, NAMES - PAD, 1).concat();
            frame.text((MARGIN + NAMES - PAD, y), &name, Lettering::SMALL.at(Anchor::End));
            y += ROW;
        }
        frame.line((area.x, area.bottom()), (area.right(), area.bottom()), Stroke::RULE);
        Ok(())
    }

    fn wished(&self, frame: &mut Frame) {
        if self.wishes.is_empty() {
            return;
        }
        frame.heading("What the week should reach");
        let widths = [("", 60), ("wish", 250), ("in words", 760)];
        let mut table = Table::new(widths.map(|(head, widest)| Column::words(head, widest)).into());
        for wish in &self.wishes {
            let met = if wish.is_met { "met" } else { "MISSED" };
            table.row(vec![met.to_owned(), wish.name.clone(), wish.sentence.clone()]);
        }
        let top = frame.bottom() + 6;
        table.draw(frame, (MARGIN, top));
    }

    fn reasons(&self, frame: &mut Frame) {
        frame.heading("Why each day is as it is");
        let widths = [("day", 150), ("for", 120), ("hard", 250), ("why", 570)];
        let mut table = Table::new(widths.map(|(head, widest)| Column::words(head, widest)).into());
        for (_, day) in self.columns() {
            let hard: BTreeSet<String> = day.parts.iter().flat_map(|part| part.hard.clone()).collect();
            let hard: Vec<String> = hard.into_iter().collect();
            table.row(vec![
                format!("{} {}", day.day.weekday(), day.day.iso()),
                day.purpose.clone(),
                and_list(&hard),
                day.sentence.clone(),
            ]);
        }
        let top = frame.bottom() + 6;
        table.draw(frame, (MARGIN, top));
    }

    fn description(&self, span: &str) -> String {
        let mut text = format!("{span}. The days side by side, the parts of each in words.");
        for (_, day) in self.columns() {
            let parts: Vec<String> = day.parts.iter().map(in_words).collect();
            let parts = if parts.is_empty() { String::new() } else { format!(" with {}", and_list(&parts)) };
            text += &format!(" {}: {}{parts}.", day.day.weekday(), day.purpose);
        }
        let missed = self.wishes.iter().filter(|wish| !wish.is_met).count();
        text += &format!(" Wishes missed: {missed} of {}.", self.wishes.len());
        format!("{text} {}", self.sentences.join(" "))
    }
}

/// The lines of a day's cell, with true for those in heavy letters: a part is heavy when it is hard work.
fn cell(day: &PlannedDay) -> Vec<(String, bool)> {
    let lines = |part: &Part| {
        let is_hard = !part.hard.is_empty();
        let name = Lettering { is_bold: is_hard, ..Lettering::SMALL };
        let mut lines: Vec<(String, bool)> =
            name.wrapped(&in_words(part), DAY - 2 * PAD, 5).into_iter().map(|line| (line, is_hard)).collect();
        lines.push((String::new(), false));
        lines
    };
    let mut all: Vec<(String, bool)> = day.parts.iter().flat_map(lines).collect();
    all.pop();
    all
}

/// `Pull: 4 working sets`.
fn in_words(part: &Part) -> String {
    format!("{}: {} {}", part.ladder, part.sets, part.name)
}
