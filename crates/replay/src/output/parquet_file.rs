//! Parquet file: predictions in columns, compressed with zstd, for whoever reads many of them.
//!
//! The columns are those of [`crate::output::column`]. Rows are held until a group of [`GROUP_ROWS`] is full, and written
//! then. The writer names no version of itself or of a library, so that the same rows give the same bytes.

use std::io::Write;
use std::sync::Arc;

use parquet::basic::{Compression, ZstdLevel};
use parquet::column::writer::{ColumnWriter, ColumnWriterImpl};
use parquet::data_type::{ByteArray, DataType};
use parquet::errors::ParquetError;
use parquet::file::properties::{EnabledStatistics, WriterProperties, WriterPropertiesPtr};
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::parser::parse_message_type;
use parquet::schema::types::ColumnPath;

use crate::evaluate::row::Row;
use crate::output::OutputError;
use crate::output::column::{COLUMNS, Cell, Kind};
use crate::output::row_file::{RowFile, named};

/// Rows of a group: what is held at most. It is some 15 MB, and more rows in a group hardly make a smaller file.
pub const GROUP_ROWS: usize = 65_536;
/// Who wrote the file, as the file says.
const WRITER: &str = "nextrung";
/// Level of compression: the library's own usual one.
const ZSTD_LEVEL: i32 = 3;

/// A table of predictions being written as Parquet.
pub struct ParquetFile<W: Write + Send> {
    writer: SerializedFileWriter<W>,
    forecasters: Vec<String>,
    held: Vec<Held>,
    rows: usize,
}

impl<W: Write + Send> ParquetFile<W> {
    /// Begins the file; `forecasters` are their names, in order.
    ///
    /// # Errors
    ///
    /// [`OutputError::Parquet`] when it cannot be written.
    pub fn new(to: W, forecasters: Vec<String>) -> Result<Self, OutputError> {
        let schema = Arc::new(parse_message_type(&message())?);
        let writer = SerializedFileWriter::new(to, schema, properties()?)?;
        let held = COLUMNS.iter().map(|column| Held::new(column.kind, column.is_optional)).collect();
        Ok(Self { writer, forecasters, held, rows: 0 })
    }

    fn write_group(&mut self) -> Result<(), ParquetError> {
        let mut group = self.writer.next_row_group()?;
        let mut held = self.held.iter_mut();
        while let Some(mut column) = group.next_column()? {
            if let Some(held) = held.next() {
                held.write(column.untyped())?;
            }
            column.close()?;
        }
        group.close()?;
        self.rows = 0;
        Ok(())
    }
}

impl<W: Write + Send> RowFile for ParquetFile<W> {
    fn rows(&mut self, rows: &[Row]) -> Result<(), OutputError> {
        for at in 0..rows.len() {
            for prediction in named(&rows[at..=at], &self.forecasters) {
                let prediction = prediction?;
                for (held, column) in self.held.iter_mut().zip(&COLUMNS) {
                    held.take((column.cell)(&prediction));
                }
                self.rows += 1;
            }
            if self.rows == GROUP_ROWS {
                self.write_group()?;
            }
        }
        Ok(())
    }

    fn finish(mut self: Box<Self>) -> Result<(), OutputError> {
        if self.rows > 0 {
            self.write_group()?;
        }
        self.writer.close()?;
        Ok(())
    }
}

/// The schema in the words of the format.
fn message() -> String {
    let field = |column: &crate::output::column::Column| {
        let (physical, logical) = match column.kind {
            Kind::Text => ("BYTE_ARRAY", " (STRING)"),
            Kind::Date => ("INT32", " (DATE)"),
            Kind::Moment => ("INT64", " (TIMESTAMP(MILLIS,true))"),
            Kind::Whole => ("INT32", ""),
            Kind::Number => ("DOUBLE", ""),
            Kind::Flag => ("BOOLEAN", ""),
        };
        let repetition = if column.is_optional { "OPTIONAL" } else { "REQUIRED" };
        format!("{repetition} {physical} {}{logical};", column.name)
    };
    format!("message predictions {{ {} }}", COLUMNS.iter().map(field).collect::<Vec<_>>().join(" "))
}

fn properties() -> Result<WriterPropertiesPtr, ParquetError> {
    let mut properties = WriterProperties::builder()
        .set_created_by(WRITER.to_owned())
        .set_compression(Compression::ZSTD(ZstdLevel::try_new(ZSTD_LEVEL)?))
        // What is kept of each page until the end of the file would grow with the rows.
        .set_statistics_enabled(EnabledStatistics::Chunk)
        .set_offset_index_disabled(true);
    for column in COLUMNS.iter().filter(|column| column.kind == Kind::Number) {
        let path = ColumnPath::new(vec![column.name.to_owned()]);
        properties = properties.set_column_dictionary_enabled(path, false);
    }
    Ok(Arc::new(properties.build()))
}

/// Cells of a column until their group is full.
struct Held {
    is_optional: bool,
    /// 1 for each cell that holds something, 0 for an empty one.
    levels: Vec<i16>,
    values: Values,
}

enum Values {
    /// All texts, one behind the other, and where each ends.
    Texts(Vec<u8>, Vec<usize>),
    Small(Vec<i32>),
    Large(Vec<i64>),
    Numbers(Vec<f64>),
    Flags(Vec<bool>),
}

impl Held {
    fn new(kind: Kind, is_optional: bool) -> Self {
        let values = match kind {
            Kind::Text => Values::Texts(Vec::new(), Vec::new()),
            Kind::Date | Kind::Whole => Values::Small(Vec::new()),
            Kind::Moment => Values::Large(Vec::new()),
            Kind::Number => Values::Numbers(Vec::new()),
            Kind::Flag => Values::Flags(Vec::new()),
        };
        Self { is_optional, levels: Vec::new(), values }
    }

    fn take(&mut self, cell: Cell<'_>) {
        let is_there = match (&mut self.values, cell) {
            (Values::Texts(bytes, ends), Cell::Text(text)) => {
                bytes.extend_from_slice(text.as_bytes());
                ends.push(bytes.len());
                true
            }
            (Values::Small(values), Cell::Date(value) | Cell::Whole(value)) => push(values, value),
            (Values::Large(values), Cell::Moment(value)) => push(values, value),
            (Values::Numbers(values), Cell::Number(value)) => push(values, value),
            (Values::Flags(values), Cell::Flag(value)) => push(values, value),
            _ => false,
        };
        if self.is_optional {
            self.levels.push(i16::from(is_there));
        }
    }

    /// Writes the cells of a group and forgets them.
    fn write(&mut self, column: &mut ColumnWriter<'_>) -> Result<(), ParquetError> {
        let levels = self.is_optional.then_some(self.levels.as_slice());
        let written = match (&mut self.values, column) {
            (Values::Texts(bytes, ends), ColumnWriter::ByteArrayColumnWriter(writer)) => {
                let all = ByteArray::from(std::mem::take(bytes));
                let starts = std::iter::once(0).chain(ends.iter().copied());
                let texts: Vec<ByteArray> =
                    starts.zip(ends.iter()).map(|(from, to)| all.slice(from, to - from)).collect();
                ends.clear();
                writer.write_batch(&texts, levels, None)
            }
            (Values::Small(values), ColumnWriter::Int32ColumnWriter(writer)) => flush(writer, values, levels),
            (Values::Large(values), ColumnWriter::Int64ColumnWriter(writer)) => flush(writer, values, levels),
            (Values::Numbers(values), ColumnWriter::DoubleColumnWriter(writer)) => {
                flush(writer, values, levels)
            }
            (Values::Flags(values), ColumnWriter::BoolColumnWriter(writer)) => flush(writer, values, levels),
            _ => Err(ParquetError::General("a column is of another type than its cells".to_owned())),
        };
        self.levels.clear();
        written.map(drop)
    }
}

/// Writes values and keeps their room for the next group.
fn flush<T: DataType>(
    writer: &mut ColumnWriterImpl<'_, T>,
    values: &mut Vec<T::T>,
    levels: Option<&[i16]>,
) -> Result<usize, ParquetError> {
    let written = writer.write_batch(values, levels, None);
    values.clear();
    written
}

fn push<T>(values: &mut Vec<T>, value: T) -> bool {
    values.push(value);
    true
}
