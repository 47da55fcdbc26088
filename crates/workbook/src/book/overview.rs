//! Overview: a roster at a glance.

use nextrung_domain::date::CivilDate;
use rust_xlsxwriter::{Color, FormatUnderline, Url, Worksheet, XlsxError};

use super::RosterBook;
use super::page::{Page, Style, lines};

/// One athlete of a roster.
#[derive(Debug, Clone)]
pub struct OverviewRow {
    /// What people call the athlete.
    pub name: String,
    /// The athlete's own workbook, a file beside this one.
    pub file: String,
    /// The day of the next session.
    pub date: CivilDate,
    /// What kind of day it is.
    pub kind: String,
    /// The session in a line.
    pub session: String,
    /// The most important thing, in a sentence.
    pub headline: String,
    /// What is held back, and why.
    pub held_back: String,
}

const WIDTHS: [f64; 7] = [18.0, 18.0, 12.0, 12.0, 46.0, 46.0, 46.0];

pub(super) fn draw(sheet: &mut Worksheet, roster: &RosterBook, style: &Style) -> Result<(), XlsxError> {
    let mut page = Page::begin(sheet, "Overview", &WIDTHS)?;
    page.line(&roster.title, &style.title)?;
    page.next();
    let first = page.row;
    page.heads(&["athlete", "file", "day", "kind", "next session", "in short", "held back"], style)?;
    page.sheet.set_freeze_panes(page.row, 1)?.set_repeat_rows(first, first)?;
    let linked =
        style.text.clone().set_underline(FormatUnderline::Single).set_font_color(Color::RGB(0x00_00_80));
    for one in &roster.rows {
        page.put(0, &one.name, &style.strong)?;
        let link = Url::new(format!("file:///{}", one.file)).set_text(&one.file);
        page.sheet.write_url_with_format(page.row, 1, link, &linked)?;
        page.day(2, one.date, &style.day)?;
        page.put(3, &one.kind, &style.text)?;
        let long = [&one.session, &one.headline, &one.held_back];
        for (column, text) in (4..).zip(long) {
            page.put(column, text, &style.wrapped)?;
        }
        page.set_lines(long.map(|text| lines(text, 48)).into_iter().max().unwrap_or(1))?;
        page.next();
    }
    let last = page.row.saturating_sub(1).max(first + 1);
    page.sheet.autofilter(first, 0, last, 6)?;
    page.next();
    page.line("Cautions", &style.strong)?;
    for caution in &roster.cautions {
        page.paragraph((1, 6), 160, caution, &style.wrapped)?;
    }
    Ok(())
}
