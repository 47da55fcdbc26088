//! Week: what each day of a week is for.

use nextrung_domain::date::CivilDate;
use rust_xlsxwriter::{Worksheet, XlsxError};

use super::page::{Page, Style};
use crate::session::Section;

/// What each day of a week is for.
#[derive(Debug, Clone, Default)]
pub struct Week {
    /// Who, and from which day.
    pub title: String,
    /// The most important thing, in a sentence.
    pub headline: String,
    /// Its days, in order.
    pub days: Vec<Day>,
    /// What else there is to say, by heading.
    pub sections: Vec<Section>,
    /// What it was made from.
    pub origin: String,
}

/// One day of a week.
#[derive(Debug, Clone)]
pub struct Day {
    /// The day of the week, short.
    pub weekday: String,
    /// The day.
    pub date: CivilDate,
    /// What it is for.
    pub purpose: String,
    /// Its parts, in order, in a line.
    pub parts: String,
    /// What it works hard, in a line.
    pub hard: String,
    /// Working sets, attempts and tries.
    pub sets: u32,
    /// Why, in a sentence.
    pub why: String,
}

const WIDTHS: [f64; 7] = [6.0, 12.0, 16.0, 36.0, 20.0, 8.0, 48.0];

pub(super) fn draw(sheet: &mut Worksheet, week: &Week, style: &Style) -> Result<(), XlsxError> {
    let mut page = Page::begin(sheet, "Week", &WIDTHS)?;
    page.title(&week.title, style)?;
    page.paragraph((0, 6), &week.headline, style)?;
    page.next();
    page.heads(&["day", "date", " for", " parts, in order", " hard on", ">sets", " why"], style)?;
    for day in &week.days {
        page.put(0, &day.weekday, &style.text)?;
        page.day(1, day.date, &style.day)?;
        let mut high = 1;
        for (column, text) in [(2, &day.purpose), (3, &day.parts), (4, &day.hard), (6, &day.why)] {
            high = high.max(page.column(column, text, style)?);
        }
        if day.sets > 0 {
            page.number(5, f64::from(day.sets), &style.number)?;
        }
        page.set_lines(high)?;
        page.next();
    }
    for section in week.sections.iter().filter(|section| !section.sentences.is_empty()) {
        page.next();
        page.line(section.title, &style.strong)?;
        for sentence in &section.sentences {
            page.paragraph((1, 6), sentence, style)?;
        }
    }
    page.next();
    page.line(&week.origin, &style.faint)?;
    page.is_one_high();
    Ok(())
}
