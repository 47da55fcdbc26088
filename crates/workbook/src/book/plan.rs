//! Plan: the sheet of the next session.

use rust_xlsxwriter::{Worksheet, XlsxError};

use super::page::{Page, Style, lines};
use crate::session::{Item, Session};

const WIDTHS: [f64; 7] = [4.0, 12.0, 46.0, 18.0, 9.0, 20.0, 10.0];
/// Columns of what is said of an item.
const NOTES: (u16, u16) = (2, 6);
/// Columns of sentences.
const SENTENCES: (u16, u16) = (1, 6);

pub(super) fn draw(sheet: &mut Worksheet, session: &Session, style: &Style) -> Result<(), XlsxError> {
    let mut page = Page::begin(sheet, "Next session", &WIDTHS)?;
    page.title(&session.title, style)?;
    page.paragraph((0, 6), &session.headline, style)?;
    page.next();
    if !session.items.is_empty() {
        page.heads(&["", " part", "what", ">dose", ">rest", ">could do (80 %)", ">chance"], style)?;
        for (number, item) in (1_u32..).zip(&session.items) {
            row(&mut page, number, item, style)?;
        }
        for (number, item) in (1_u32..).zip(&session.items) {
            page.next();
            page.put(0, &number.to_string(), &style.strong)?;
            page.put(1, &item.work, &style.strong)?;
            page.next();
            for note in &item.notes {
                for (at, sentence) in note.sentences.iter().enumerate() {
                    page.put(1, if at == 0 { note.label } else { "" }, &style.faint)?;
                    page.paragraph(NOTES, sentence, style)?;
                }
            }
        }
    }
    for section in session.sections.iter().filter(|section| !section.sentences.is_empty()) {
        page.next();
        page.line(section.title, &style.strong)?;
        for sentence in &section.sentences {
            page.paragraph(SENTENCES, sentence, style)?;
        }
    }
    page.next();
    page.line(&session.origin, &style.faint)?;
    page.is_one_high();
    Ok(())
}

fn row(page: &mut Page<'_>, number: u32, item: &Item, style: &Style) -> Result<(), XlsxError> {
    page.number(0, f64::from(number), &style.number)?;
    page.put(1, &item.part, &style.cell)?;
    page.put(2, &item.work, &style.wrapped)?;
    page.put(3, &item.dose, &style.right)?;
    page.put(4, &item.rest, &style.right)?;
    page.put(5, &item.could_do, &style.right)?;
    page.number(6, item.chance, &style.percent)?;
    page.set_lines(lines(&item.work, 46))?;
    page.next();
    Ok(())
}
