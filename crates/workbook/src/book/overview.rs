//! Overview: a roster at a glance.

use nextrung_domain::date::CivilDate;
use rust_xlsxwriter::{Color, Format, FormatUnderline, Url, Worksheet, XlsxError};

use super::RosterBook;
use super::page::{Page, Style, quoted};
use crate::text::held;

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
    /// The session in a line; empty when there is none.
    pub session: String,
    /// The most important thing, in a sentence.
    pub headline: String,
    /// What is held back, and why.
    pub held_back: String,
}

const WIDTHS: [f64; 6] = [14.0, 12.0, 11.0, 38.0, 36.0, 48.0];
/// Lines that a page holds with the columns on it, in the font that makes them largest.
const PAGE: u32 = 36;

pub(super) fn draw(sheet: &mut Worksheet, roster: &RosterBook, style: &Style) -> Result<(), XlsxError> {
    let mut page = Page::begin(sheet, "Overview", &WIDTHS)?;
    page.title(&roster.title, style)?;
    page.next();
    let first = page.row;
    page.heads(&["athlete", "day", "kind", " next session", " in short", " held back"], style)?;
    page.sheet.set_freeze_panes(page.row, 1)?.set_repeat_rows(first, first)?;
    let linked =
        style.text.clone().set_underline(FormatUnderline::Single).set_font_color(Color::RGB(0x00_00_80));
    let mut used = page.height();
    for one in &roster.rows {
        let before = page.height();
        row(&mut page, one, style, &linked)?;
        let high = page.height() - before;
        used = if used + high > PAGE { 1 + high } else { used + high };
    }
    let last = page.row.saturating_sub(1).max(first + 1);
    page.sheet.autofilter(first, 0, last, 5)?;
    page.next();
    let (first, begin) = (page.row, page.height());
    page.line("Cautions", &style.strong)?;
    for caution in &roster.cautions {
        page.paragraph((0, 5), caution, style)?;
    }
    if !page.is_one_high() && used + 1 + page.height() - begin > PAGE {
        page.sheet.set_page_breaks(&[first])?;
    }
    Ok(())
}

/// An athlete, whose name leads to the workbook. A row without a session says so.
fn row(page: &mut Page<'_>, one: &OverviewRow, style: &Style, linked: &Format) -> Result<(), XlsxError> {
    let name = held(&one.name);
    let link = Url::new(format!("file:///{}", one.file)).set_text(&name);
    page.sheet.write_url_with_format(page.row, 0, link, &quoted(&name, linked))?;
    page.day(1, one.date, &style.day)?;
    page.put(2, &one.kind, &style.text)?;
    let none = format!("no session: {}", one.kind);
    let session = if one.session.is_empty() { &none } else { &one.session };
    let mut high = 1;
    for (column, text) in (3..).zip([session, &one.headline, &one.held_back]) {
        high = high.max(page.column(column, text, style)?);
    }
    page.set_lines(high)?;
    page.next();
    Ok(())
}
