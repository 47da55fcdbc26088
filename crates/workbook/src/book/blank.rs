//! Blank: a workbook for somebody who has no sheet yet, to log in.

use nextrung_domain::date::CivilDate;
use rust_xlsxwriter::Format;

use super::page::{Page, Style};
use super::{BookError, begun};

/// What the sheet is called.
const SHEET: &str = "My log";
/// The heads, by the words by which sheets are read, and their widths: a row holds the sets of one exercise.
const HEADS: [(&str, f64); 5] =
    [("date", 12.0), (" exercise", 34.0), (" sets", 22.0), (">load (kg)", 10.0), (" note", 48.0)];
/// Rows that are ready for days and texts.
const READY: u32 = 500;

/// The bytes of a workbook without a set. `day` is written as when it was made.
pub fn blank(who: &str, day: CivilDate) -> Result<Vec<u8>, BookError> {
    let mut book = begun(who, day)?;
    let style = Style::new();
    let sheet = book.add_worksheet();
    let mut page = Page::begin(sheet, SHEET, &HEADS.map(|(_, width)| width))?;
    page.heads(&HEADS.map(|(head, _)| head), &style)?;
    page.sheet.set_freeze_panes(1, 0)?.set_repeat_rows(0, 0)?;
    // `5-4` among the sets would become a day, and `10/8` too, were the cells not texts.
    let texts = style.wrapped_apart.clone().set_num_format_index(49);
    let formats: [(u16, &Format); 4] = [(0, &style.day), (1, &texts), (2, &texts), (4, &style.wrapped_apart)];
    for row in 1..=READY {
        for (column, format) in formats {
            page.sheet.write_blank(row, column, format)?;
        }
    }
    Ok(book.save_to_buffer()?)
}
