//! Grid: the rows of a sheet of other people's making, whatever it came in.
//!
//! CSV and workbooks (xlsx, ods) are walked row by row, each cell with the place that a spreadsheet shows it at. What is
//! decided here, so that it need not be guessed elsewhere:
//!
//! - Text is UTF-8 or UTF-16, found out by mark or by pattern; Windows-1252 only when told, since every byte is valid in it.
//! - Separators are comma, semicolon or tab, whichever the first lines hold; a first line `sep=;` is obeyed.
//! - Blank rows are passed over. Rows hidden by a person or by a filter are read like others and marked: a filter left on must
//!   not lose sets without a word. Hidden columns are read like others.
//! - The value of cells merged over several rows stands in each of them, marked as carried. Of cells merged over columns,
//!   the first column has it.
//! - Days of workbooks are known by the cell's format, counted from 1900 or 1904 as the workbook says; the time of day is
//!   dropped. Days of CSV are text.
//! - An apostrophe before what would else be a formula is the mark of a text in CSV ([`crate::guarded`]), and not part of it.
//! - A formula gives the value that was saved with it; without one it is [`Value::Uncalculated`], never empty.
//! - Files beyond the caps of [`cap`] are refused with the figure, before memory is spent.

use std::fmt;
use std::ops::ControlFlow;

pub mod cap;
mod merge;
mod ods;
mod part;
mod place;
mod text;
mod value;
mod xlsx;
mod xlsx_style;

use cap::MAX_FILE;
pub(crate) use place::Fault;
pub use place::{Cause, Place, Refusal, cell_name, column_of, letters};
pub use value::Value;
pub use xlsx::part_at;

/// How a CSV file without a mark is to be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Encoding {
    /// UTF-8, or UTF-16 where it shows.
    #[default]
    Unicode,
    /// Windows-1252, which older spreadsheets of Western Europe write.
    Windows1252,
}

/// A row that holds something.
#[derive(Debug)]
pub struct GridRow<'r> {
    /// As a spreadsheet counts, from 1.
    pub number: u32,
    /// Its cells from column A on; those left out at the end are empty.
    pub cells: &'r [Value<'r>],
    /// Columns whose value comes from a merged range begun above.
    pub carried: &'r [usize],
    /// True when a person or a filter has hidden it.
    pub is_hidden: bool,
    /// What is wrong with the quotes of a CSV row, which then has no cells to trust.
    pub fault: Option<QuoteFault<'r>>,
}

/// A CSV row with faulty quotes.
#[derive(Debug, Clone, Copy)]
pub struct QuoteFault<'r> {
    /// What was found.
    pub found: &'static str,
    /// What was expected, and how to mend it.
    pub expected: &'static str,
    /// The row as it stands in the file.
    pub raw: &'r str,
}

/// What is called with each row; breaks to end the walk.
pub type OnRow<'f> = &'f mut dyn FnMut(&GridRow<'_>) -> ControlFlow<()>;

/// A sheet of a workbook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetName {
    /// Its name; empty for CSV.
    pub name: String,
    /// True when it is hidden.
    pub is_hidden: bool,
}

/// A file of one or more sheets.
pub struct Grid<'b> {
    file: String,
    sheets: Vec<SheetName>,
    book: Book<'b>,
}

enum Book<'b> {
    Text(text::TextSheet<'b>),
    Xlsx(xlsx::Xlsx<'b>),
    Ods(ods::Ods<'b>),
}

impl fmt::Debug for Grid<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Grid").field("file", &self.file).field("sheets", &self.sheets).finish_non_exhaustive()
    }
}

impl<'b> Grid<'b> {
    /// Finds out what `bytes` are and reads what is needed before the rows. `file` is its name in messages. Fails on what
    /// is no sheet and on what goes beyond the caps.
    pub fn open(file: &str, bytes: &'b [u8], encoding: Encoding) -> Result<Self, Refusal> {
        let book = Self::book(bytes, encoding).map_err(|fault| fault.refuse(file, None))?;
        let sheets = match &book {
            Book::Text(_) => vec![SheetName { name: String::new(), is_hidden: false }],
            Book::Xlsx(book) => book.sheets(),
            Book::Ods(book) => book.sheets(),
        };
        Ok(Self { file: file.to_owned(), sheets, book })
    }

    fn book(bytes: &'b [u8], encoding: Encoding) -> Result<Book<'b>, Fault> {
        if bytes.len() > MAX_FILE {
            let expected = format!("at most {MAX_FILE} bytes (64 MB); split the file");
            return Err(Fault::new(format!("{} bytes", bytes.len()), expected));
        }
        match bytes {
            [b'P', b'K', 3, 4, ..] => {
                let archive = part::open_archive(bytes)?;
                if archive.index_for_name("content.xml").is_some() {
                    return Ok(Book::Ods(ods::Ods::open(archive)?));
                }
                if archive.index_for_name("_rels/.rels").is_some() {
                    return Ok(Book::Xlsx(xlsx::Xlsx::open(archive)?));
                }
                Err(Fault::new("an archive that is no workbook", "a workbook in xlsx or ods, or CSV"))
            }
            [0xD0, 0xCF, 0x11, 0xE0, ..] => Err(Fault::new(
                "an old workbook (.xls), or one that a password protects",
                "a workbook saved as .xlsx or .ods without a password, or CSV",
            )),
            _ => Ok(Book::Text(text::TextSheet::open(bytes, encoding)?)),
        }
    }

    /// The name of the file in messages.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// Its sheets, in their order; one without a name for CSV.
    pub fn sheets(&self) -> &[SheetName] {
        &self.sheets
    }

    /// True when a row with more cells than the header is a fault: a separator was not in quotes.
    pub(crate) fn is_text(&self) -> bool {
        matches!(self.book, Book::Text(_))
    }

    /// The separator of a CSV file; a comma for workbooks.
    pub(crate) fn separator(&self) -> char {
        match &self.book {
            Book::Text(text) => text.separator(),
            Book::Xlsx(_) | Book::Ods(_) => ',',
        }
    }

    /// The name of a sheet, if it has one.
    pub(crate) fn sheet_name(&self, sheet: usize) -> Option<&str> {
        self.sheets.get(sheet).map(|s| s.name.as_str()).filter(|name| !name.is_empty())
    }

    /// Walks over the filled rows of a sheet, counted from 0, until `on_row` breaks. Fails on a damaged sheet and on one
    /// beyond the caps; rows before that place were given.
    pub fn walk(&self, sheet: usize, on_row: OnRow<'_>) -> Result<(), Refusal> {
        let walked = match &self.book {
            Book::Text(text) => text.walk(on_row),
            Book::Xlsx(book) => book.walk(sheet, on_row),
            Book::Ods(book) => book.walk(sheet, on_row),
        };
        walked.map_err(|fault| fault.refuse(&self.file, self.sheet_name(sheet)))
    }
}
