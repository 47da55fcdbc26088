//! Page: rows written one under the other, in few formats.

use nextrung_domain::date::CivilDate;
use nextrung_sheet::is_like_a_formula;
use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder, Worksheet, XlsxError};

use super::date;
use crate::text::held;

/// Points of a line of text.
const LINE: f64 = 15.0;

/// The formats of all sheets.
pub(crate) struct Style {
    pub(crate) title: Format,
    pub(crate) strong: Format,
    pub(crate) head: Format,
    pub(crate) head_right: Format,
    pub(crate) text: Format,
    /// A text that stands right of a number.
    pub(crate) cell: Format,
    pub(crate) wrapped: Format,
    pub(crate) right: Format,
    pub(crate) faint: Format,
    pub(crate) number: Format,
    pub(crate) figure: Format,
    pub(crate) percent: Format,
    pub(crate) day: Format,
}

impl Style {
    pub(crate) fn new() -> Self {
        let text = Format::new().set_align(FormatAlign::Top);
        let head = text
            .clone()
            .set_bold()
            .set_background_color(Color::RGB(0xE8_E8_E8))
            .set_border_bottom(FormatBorder::Thin);
        let right = text.clone().set_align(FormatAlign::Right);
        Self {
            title: text.clone().set_bold().set_font_size(14),
            strong: text.clone().set_bold(),
            head_right: head.clone().set_align(FormatAlign::Right),
            head,
            cell: text.clone().set_align(FormatAlign::Left).set_indent(1),
            wrapped: text.clone().set_text_wrap(),
            faint: text.clone().set_font_color(Color::RGB(0x60_60_60)),
            number: text.clone().set_num_format("0"),
            figure: text.clone().set_num_format("0.0"),
            // No estimate is certain.
            percent: text
                .clone()
                .set_num_format("[>0.995]\">99 %\";[<0.005]\"<1 %\";0 %")
                .set_align(FormatAlign::Right),
            day: text.clone().set_num_format("yyyy-mm-dd").set_align(FormatAlign::Left),
            right,
            text,
        }
    }
}

/// A sheet that is written from top to bottom.
pub(crate) struct Page<'s> {
    pub(crate) sheet: &'s mut Worksheet,
    /// The next row, counted from 0.
    pub(crate) row: u32,
}

impl<'s> Page<'s> {
    /// A sheet of this name that prints one page wide, its columns of these widths in letters.
    pub(crate) fn begin(sheet: &'s mut Worksheet, name: &str, widths: &[f64]) -> Result<Self, XlsxError> {
        sheet.set_name(name)?.set_landscape().set_paper_size(9).set_print_fit_to_pages(1, 0);
        sheet.set_margins(0.5, 0.5, 0.6, 0.6, 0.3, 0.3).set_footer("&L&A&RPage &P of &N");
        for (column, width) in (0..).zip(widths) {
            sheet.set_column_width(column, *width)?;
        }
        Ok(Self { sheet, row: 0 })
    }

    /// Goes to the next row.
    pub(crate) fn next(&mut self) {
        self.row += 1;
    }

    /// A text in a cell of this row, never a formula; nothing for an empty one.
    pub(crate) fn put(&mut self, column: u16, text: &str, format: &Format) -> Result<(), XlsxError> {
        if !text.is_empty() {
            let text = held(text);
            self.sheet.write_string_with_format(self.row, column, &text, &quoted(&text, format))?;
        }
        Ok(())
    }

    /// A day in a cell of this row; as a text when spreadsheets do not count it.
    pub(crate) fn day(&mut self, column: u16, day: CivilDate, format: &Format) -> Result<(), XlsxError> {
        match date(day) {
            Some(counted) => {
                self.sheet.write_datetime_with_format(self.row, column, &counted, format)?;
                Ok(())
            }
            None => self.put(column, &day.to_string(), format),
        }
    }

    /// A number in a cell of this row.
    pub(crate) fn number(&mut self, column: u16, number: f64, format: &Format) -> Result<(), XlsxError> {
        self.sheet.write_number_with_format(self.row, column, number, format)?;
        Ok(())
    }

    /// Headings over this row's columns; those that begin with `>` stand right.
    pub(crate) fn heads(&mut self, heads: &[&str], style: &Style) -> Result<(), XlsxError> {
        for (column, head) in (0..).zip(heads) {
            match head.strip_prefix('>') {
                Some(head) => {
                    self.sheet.write_string_with_format(self.row, column, head, &style.head_right)?
                }
                None => self.sheet.write_string_with_format(self.row, column, *head, &style.head)?,
            };
        }
        self.next();
        Ok(())
    }

    /// A row with one text that may run on over empty cells.
    pub(crate) fn line(&mut self, text: &str, format: &Format) -> Result<(), XlsxError> {
        self.put(0, text, format)?;
        self.next();
        Ok(())
    }

    /// A row with a text over columns `from` to `to`, broken into lines of `letters`.
    pub(crate) fn paragraph(
        &mut self,
        (from, to): (u16, u16),
        letters: usize,
        text: &str,
        format: &Format,
    ) -> Result<(), XlsxError> {
        let text = held(text);
        let row = self.row;
        self.sheet.merge_range(row, from, row, to, &text, &quoted(&text, format))?;
        self.set_lines(lines(&text, letters))?;
        self.next();
        Ok(())
    }

    /// Makes this row so many lines high.
    pub(crate) fn set_lines(&mut self, lines: u32) -> Result<(), XlsxError> {
        // 409 points are the most that a row can have.
        self.sheet.set_row_height(self.row, (LINE * f64::from(lines.max(1))).min(405.0))?;
        Ok(())
    }
}

/// The format of a text: one that would be taken for a formula is marked as quoted.
fn quoted(text: &str, format: &Format) -> Format {
    if is_like_a_formula(text) { format.clone().set_quote_prefix() } else { format.clone() }
}

/// How many lines of `letters` a text takes, broken between words.
pub(crate) fn lines(text: &str, letters: usize) -> u32 {
    let mut lines = 0_u32;
    for paragraph in text.split('\n') {
        lines += 1;
        let mut used = 0;
        for word in paragraph.split(' ') {
            let long = word.chars().count();
            if used > 0 && used + 1 + long > letters {
                lines += 1;
                used = long;
            } else {
                used += usize::from(used > 0) + long;
            }
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_as_high_as_their_words_ask_for() {
        assert_eq!(lines("one two", 20), 1);
        assert_eq!(lines("one two three", 7), 2);
        assert_eq!(lines("one\ntwo three four", 9), 3);
        assert_eq!(lines("", 9), 1);
    }
}
