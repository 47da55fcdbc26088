//! CSV file: predictions as comma-separated values with a head line, fields quoted where they have to be (RFC 4180).

use std::io::Write;

use nextrung_domain::date::CivilDate;

use crate::evaluate::row::Row;
use crate::output::OutputError;
use crate::output::column::{COLUMNS, Cell};
use crate::output::row_file::{RowFile, named};

/// Milliseconds of a day.
const DAY_MS: i64 = 86_400_000;

/// A table of predictions being written as CSV.
#[derive(Debug)]
pub struct CsvFile<W: Write> {
    writer: csv::Writer<W>,
    forecasters: Vec<String>,
    field: String,
}

impl<W: Write> CsvFile<W> {
    /// Begins with the head line; `forecasters` are their names, in order.
    ///
    /// # Errors
    ///
    /// [`OutputError::Csv`] when it cannot be written.
    pub fn new(to: W, forecasters: Vec<String>) -> Result<Self, OutputError> {
        let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(to);
        writer.write_record(COLUMNS.map(|column| column.name))?;
        Ok(Self { writer, forecasters, field: String::new() })
    }
}

impl<W: Write> RowFile for CsvFile<W> {
    fn rows(&mut self, rows: &[Row]) -> Result<(), OutputError> {
        for prediction in named(rows, &self.forecasters) {
            let prediction = prediction?;
            for column in &COLUMNS {
                let cell = (column.cell)(&prediction);
                if let Cell::Text(text) = cell {
                    self.writer.write_field(text)?;
                } else {
                    self.field.clear();
                    write_cell(&mut self.field, cell)?;
                    self.writer.write_field(&self.field)?;
                }
            }
            self.writer.write_record(None::<&[u8]>)?;
        }
        Ok(())
    }

    fn finish(mut self: Box<Self>) -> Result<(), OutputError> {
        Ok(self.writer.flush()?)
    }
}

/// Writes a cell as it is read back; the shortest digits for numbers.
fn write_cell(field: &mut String, cell: Cell<'_>) -> Result<(), std::io::Error> {
    use std::fmt::Write as _;
    let written = match cell {
        Cell::Empty => Ok(()),
        Cell::Text(text) => field.write_str(text),
        Cell::Date(day) => match CivilDate::from_day_number(day) {
            Ok(date) => write!(field, "{date}"),
            Err(_) => write!(field, "{day}"),
        },
        Cell::Moment(ms) => write_moment(field, ms),
        Cell::Whole(number) => write!(field, "{number}"),
        Cell::Number(number) => write!(field, "{number}"),
        Cell::Flag(is_so) => write!(field, "{is_so}"),
    };
    written.map_err(std::io::Error::other)
}

/// `2026-11-25T06:30:00.000Z`; milliseconds since 1970 for a moment outside the years of logs.
fn write_moment(field: &mut String, ms: i64) -> std::fmt::Result {
    use std::fmt::Write as _;
    let day = i32::try_from(ms.div_euclid(DAY_MS)).ok().and_then(|day| CivilDate::from_day_number(day).ok());
    let Some(date) = day else { return write!(field, "{ms}") };
    let of_day = ms.rem_euclid(DAY_MS);
    let (hour, minute, second) = (of_day / 3_600_000, of_day / 60_000 % 60, of_day / 1000 % 60);
    write!(field, "{date}T{hour:02}:{minute:02}:{second:02}.{:03}Z", of_day % 1000)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(cell: Cell<'_>) -> String {
        let mut field = String::new();
        write_cell(&mut field, cell).unwrap();
        field
    }

    #[test]
    fn moments_and_dates_are_written_as_people_read_them() {
        assert_eq!(written(Cell::Moment(0)), "1970-01-01T00:00:00.000Z");
        assert_eq!(written(Cell::Moment(-1)), "1969-12-31T23:59:59.999Z");
        assert_eq!(written(Cell::Moment(86_400_000 + 3_723_004)), "1970-01-02T01:02:03.004Z");
        assert_eq!(written(Cell::Moment(i64::MIN)), i64::MIN.to_string());
        assert_eq!(written(Cell::Date(-1)), "1969-12-31");
    }

    #[test]
    fn numbers_are_read_back_the_same() {
        for number in [0.1, 1.0 / 3.0, 1e-300, 700.0, 5e-324, 0.0] {
            assert_eq!(written(Cell::Number(number)).parse::<f64>().unwrap().to_bits(), number.to_bits());
        }
        assert_eq!(written(Cell::Empty), "");
    }
}
