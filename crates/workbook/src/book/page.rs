//! Page: rows written one under the other, in few formats.

use nextrung_domain::date::CivilDate;
use nextrung_sheet::is_like_a_formula;
use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder, Worksheet, XlsxError};

use super::date;
use crate::text::held;

/// Points of a line of text.
const LINE: f64 = 15.0;
/// Points of the row of a title.
const TITLE: f64 = 21.0;
/// Letters that the space before a text takes which stands apart.
const INDENT: usize = 2;
/// Lines that can be read on one page: a page holds 33 of them at their full size (A4 across, without its margins), and so many at
/// three quarters of it.
const ONE_PAGE: u32 = 44;

/// The formats of all sheets.
pub(crate) struct Style {
    pub(crate) title: Format,
    pub(crate) strong: Format,
    pub(crate) head: Format,
    pub(crate) head_right: Format,
    /// The head of texts that stand right of others.
    pub(crate) head_apart: Format,
    pub(crate) text: Format,
    /// A text that stands right of a number.
    pub(crate) cell: Format,
    pub(crate) wrapped: Format,
    /// A text in lines that stands right of a number, or of other lines.
    pub(crate) wrapped_apart: Format,
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
            .set_text_wrap()
            .set_background_color(Color::RGB(0xE8_E8_E8))
            .set_border_bottom(FormatBorder::Thin);
        let right = text.clone().set_align(FormatAlign::Right);
        Self {
            title: text.clone().set_bold().set_font_size(14),
            strong: text.clone().set_bold(),
            head_right: head.clone().set_align(FormatAlign::Right),
            head_apart: head.clone().set_align(FormatAlign::Left).set_indent(1),
            head,
            wrapped_apart: text.clone().set_text_wrap().set_align(FormatAlign::Left).set_indent(1),
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
    /// Lines that rows have beyond their first.
    more: u32,
    /// Widths of the columns, in letters.
    widths: Vec<f64>,
}

impl<'s> Page<'s> {
    /// A sheet of this name that prints one page wide, its columns of these widths in letters.
    pub(crate) fn begin(sheet: &'s mut Worksheet, name: &str, widths: &[f64]) -> Result<Self, XlsxError> {
        sheet.set_name(name)?.set_landscape().set_paper_size(9).set_print_fit_to_pages(1, 0);
        sheet.set_margins(0.5, 0.5, 0.6, 0.6, 0.3, 0.3).set_footer("&L&A&RPage &P of &N");
        for (column, width) in (0..).zip(widths) {
            sheet.set_column_width(column, *width)?;
        }
        Ok(Self { sheet, row: 0, more: 0, widths: widths.to_vec() })
    }

    /// Lines above the next row.
    pub(crate) fn height(&self) -> u32 {
        self.row + self.more
    }

    /// Prints on one page what can be read on one; says whether it does.
    pub(crate) fn is_one_high(&mut self) -> bool {
        let is_one = self.height() <= ONE_PAGE;
        if is_one {
            self.sheet.set_print_fit_to_pages(1, 1);
        }
        is_one
    }

    /// Letters that surely fit into columns `from` to `to`: widths are counted in digits, and few letters are wider than one.
    fn letters(&self, from: u16, to: u16) -> usize {
        let columns = self.widths.iter().take(usize::from(to) + 1).skip(usize::from(from));
        columns.map(|width| digits(*width)).sum()
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

    /// Headings over this row's columns; those that begin with `>` stand right, those with a blank apart from what is left of
    /// them, as the texts under them do.
    pub(crate) fn heads(&mut self, heads: &[&str], style: &Style) -> Result<(), XlsxError> {
        for (column, head) in (0..).zip(heads) {
            let (text, format) = match (head.strip_prefix('>'), head.strip_prefix(' ')) {
                (Some(text), _) => (text, &style.head_right),
                (None, Some(text)) => (text, &style.head_apart),
                (None, None) => (*head, &style.head),
            };
            self.sheet.write_string_with_format(self.row, column, text, format)?;
        }
        self.next();
        Ok(())
    }

    /// The title of the sheet.
    pub(crate) fn title(&mut self, text: &str, style: &Style) -> Result<(), XlsxError> {
        self.sheet.set_row_height(self.row, TITLE)?;
        self.line(text, &style.title)
    }

    /// A row with one text that may run on over empty cells.
    pub(crate) fn line(&mut self, text: &str, format: &Format) -> Result<(), XlsxError> {
        self.put(0, text, format)?;
        self.next();
        Ok(())
    }

    /// A row with a text over columns `from` to `to`. One that needs several lines is broken here: no program makes a row as high
    /// as joined cells ask for, and how many lines they would take depends on its letters.
    pub(crate) fn paragraph(
        &mut self,
        (from, to): (u16, u16),
        text: &str,
        style: &Style,
    ) -> Result<(), XlsxError> {
        let text = held(text);
        let lines = broken(&text, self.letters(from, to));
        if let [_] = lines.as_slice() {
            self.put(from, &text, &style.text)?;
        } else {
            let (row, count) = (self.row, u32::try_from(lines.len()).unwrap_or(u32::MAX));
            self.sheet.merge_range(row, from, row, to, &lines.join("\n"), &quoted(&text, &style.wrapped))?;
            self.set_lines(count)?;
        }
        self.next();
        Ok(())
    }

    /// A text in lines within one cell of this row, apart from what is left of it; says how many lines it has. They are broken
    /// here as those of a [`paragraph`](Self::paragraph) are.
    pub(crate) fn column(&mut self, column: u16, text: &str, style: &Style) -> Result<u32, XlsxError> {
        let lines = broken(&held(text), self.letters(column, column).saturating_sub(INDENT));
        self.put(column, &lines.join("\n"), &style.wrapped_apart)?;
        Ok(u32::try_from(lines.len()).unwrap_or(u32::MAX))
    }

    /// Makes this row so many lines high.
    pub(crate) fn set_lines(&mut self, lines: u32) -> Result<(), XlsxError> {
        self.more = self.more.saturating_add(lines.saturating_sub(1));
        // 409 points are the most that a row can have.
        self.sheet.set_row_height(self.row, (LINE * f64::from(lines.max(1))).min(405.0))?;
        Ok(())
    }
}

/// The format of a text: one that would be taken for a formula is marked as quoted.
pub(crate) fn quoted(text: &str, format: &Format) -> Format {
    if is_like_a_formula(text) { format.clone().set_quote_prefix() } else { format.clone() }
}

/// A width in whole letters.
fn digits(width: f64) -> usize {
    (0_u16..1000).take_while(|digits| f64::from(*digits) < width).count()
}

/// A text in lines of `letters` at the most where no word is longer, broken between words.
fn broken(text: &str, letters: usize) -> Vec<String> {
    let mut lines = Vec::new();
    for paragraph in text.split('\n') {
        let mut line = String::new();
        let mut used = 0;
        for (at, word) in paragraph.split(' ').enumerate() {
            let long = word.chars().count();
            if used > 0 && used + 1 + long > letters {
                lines.push(std::mem::take(&mut line));
                used = 0;
            } else if at > 0 {
                line.push(' ');
                used += 1;
            }
            line += word;
            used += long;
        }
        lines.push(line);
    }
    lines
}

/// How many lines of `letters` a text takes, broken between words.
pub(crate) fn lines(text: &str, letters: usize) -> u32 {
    u32::try_from(broken(text, letters).len()).unwrap_or(u32::MAX)
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
        assert_eq!(
            broken("one  two three\nfour", 8),
            ["one  two", "three", "four"],
            "nothing else is changed"
        );
        assert_eq!(broken("=endless", 3), ["=endless"]);
    }
}
