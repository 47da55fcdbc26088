//! Books: new workbooks of an athlete and of a roster.

use nextrung_domain::date::CivilDate;
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, XlsxError};

use crate::session::Session;

mod blank;
pub mod capacity;
pub mod log;
pub mod overview;
mod page;
mod plan;
pub mod week;

pub use blank::blank;
use capacity::Block;
use log::LoggedRow;
use overview::OverviewRow;
use page::Style;
use week::Week;

/// A workbook of one athlete.
#[derive(Debug, Clone, Default)]
pub struct AthleteBook {
    /// What people call the athlete.
    pub title: String,
    /// The next session.
    pub session: Session,
    /// The week.
    pub week: Week,
    /// Under the title of the capacities.
    pub capacity_note: String,
    /// The capacities, by ladder and unit.
    pub capacities: Vec<Block>,
    /// The log, from the first set on.
    pub log: Vec<LoggedRow>,
}

/// An overview of a roster.
#[derive(Debug, Clone, Default)]
pub struct RosterBook {
    /// What people call the roster, and the day.
    pub title: String,
    /// The athletes, in order.
    pub rows: Vec<OverviewRow>,
    /// The cautions.
    pub cautions: Vec<String>,
}

/// Why there is no workbook.
#[derive(Debug, thiserror::Error)]
pub enum BookError {
    /// More sets than a sheet has rows.
    #[error("{rows} rows, and a sheet holds {most}; ask for fewer days")]
    TooManyRows {
        /// How many.
        rows: usize,
        /// How many a sheet holds.
        most: usize,
    },
    /// The writing library gave up.
    #[error("the workbook could not be written")]
    Writer {
        /// Why.
        #[source]
        source: Box<XlsxError>,
    },
}

impl From<XlsxError> for BookError {
    fn from(error: XlsxError) -> Self {
        Self::Writer { source: Box::new(error) }
    }
}

impl AthleteBook {
    /// The bytes of the workbook. `day` is written as when it was made. Fails when there are more sets than a sheet holds.
    pub fn write(&self, day: CivilDate) -> Result<Vec<u8>, BookError> {
        let mut book = begun(&self.title, day)?;
        let style = Style::new();
        plan::draw(book.add_worksheet(), &self.session, &style)?;
        week::draw(book.add_worksheet(), &self.week, &style)?;
        capacity::draw(book.add_worksheet(), &self.capacity_note, &self.capacities, &style)?;
        log::draw(book.add_worksheet(), &self.title, &self.log, &style)?;
        Ok(book.save_to_buffer()?)
    }
}

impl RosterBook {
    /// The bytes of the workbook. `day` is written as when it was made.
    pub fn write(&self, day: CivilDate) -> Result<Vec<u8>, BookError> {
        let mut book = begun(&self.title, day)?;
        overview::draw(book.add_worksheet(), self, &Style::new())?;
        Ok(book.save_to_buffer()?)
    }
}

/// A workbook without sheets, whose time of making is the day it is about: the clock would change the bytes.
fn begun(title: &str, day: CivilDate) -> Result<Workbook, BookError> {
    let mut book = Workbook::new();
    let mut properties = DocProperties::new().set_title(crate::text::held(title));
    // Without a day the library would ask the clock; days that spreadsheets do not count are put at their first.
    let first = || ExcelDateTime::from_ymd(1900, 1, 1);
    properties = properties.set_creation_datetime(&date(day).map_or_else(first, Ok)?);
    book.set_properties(&properties);
    Ok(book)
}

/// A day as spreadsheets count it; nothing for one that they do not count.
fn date(day: CivilDate) -> Option<ExcelDateTime> {
    let (year, month, day) = day.parts();
    let parts = (u16::try_from(year).ok()?, u8::try_from(month).ok()?, u8::try_from(day).ok()?);
    ExcelDateTime::from_ymd(parts.0, parts.1, parts.2).ok()
}
