//! Set file: a sheet of sets, gathered athlete by athlete.
//!
//! The sheet is one of `nextrung_sheet`. The rows of an athlete stand in the order in which the sets arrived; a set is taken to
//! have arrived on the day it was trained, or on that of the row above it when that is later. A sheet of up to
//! [`GATHERED_BYTES`] may mix athletes; in a longer one, which is never held as a whole, the rows of an athlete stand together.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, Read};
use std::iter::Peekable;
use std::path::Path;

use nextrung_domain::problem::Problem;
use nextrung_sheet::{SetStream, SheetRow, StreamError};

/// Largest sheet in which athletes may be mixed: 64 MB.
pub const GATHERED_BYTES: u64 = 64 * 1024 * 1024;

/// The rows of one athlete, those with problems in their place.
#[derive(Debug, Clone, PartialEq)]
pub struct AthleteRows {
    /// The athlete.
    pub athlete: String,
    /// Rows that could be read.
    pub rows: Vec<SheetRow>,
    /// Problems of those that could not, which stood among or before them.
    pub problems: Vec<Vec<Problem>>,
}

/// Why a sheet gives no rows.
#[derive(Debug, thiserror::Error)]
pub enum SetFileError {
    /// It cannot be read.
    #[error("it cannot be read: {source}")]
    Unreadable {
        /// Why.
        #[from]
        source: io::Error,
    },
    /// It is no sheet of sets.
    #[error("{}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    NoSheet {
        /// What is wrong with it as a whole.
        problems: Vec<Problem>,
    },
    /// The rows of an athlete stand apart in a long sheet.
    #[error(
        "row[{row}].athlete: found `{athlete}` again after other athletes; expected the rows of an athlete together in a sheet of more than {GATHERED_BYTES} bytes: sort it by athlete, keeping the order of each one's rows"
    )]
    Scattered {
        /// The row.
        row: usize,
        /// The athlete.
        athlete: String,
    },
}

/// Rows athlete by athlete.
pub type Athletes = Box<dyn Iterator<Item = Result<AthleteRows, SetFileError>>>;

/// Opens a sheet, `-` for standard input: athletes in the order in which they first appear.
///
/// # Errors
///
/// [`SetFileError::Unreadable`], and for a short sheet [`SetFileError::NoSheet`]; a longer one tells it with its first athlete.
pub fn open(path: &Path) -> Result<Athletes, SetFileError> {
    if path == Path::new("-") {
        return Ok(Box::new(gathered(io::stdin())?.into_iter().map(Ok)));
    }
    let file = File::open(path)?;
    if file.metadata()?.len() > GATHERED_BYTES {
        return Ok(together(file));
    }
    Ok(Box::new(gathered(file)?.into_iter().map(Ok)))
}

/// Athletes of a sheet in which the rows of each stand together, one at a time.
pub fn together(input: impl Read + 'static) -> Athletes {
    Box::new(Together { rows: SetStream::new(input).peekable(), seen: BTreeSet::new(), is_over: false })
}

/// Every athlete of a sheet, mixed or not.
///
/// # Errors
///
/// [`SetFileError::Unreadable`] and [`SetFileError::NoSheet`].
pub fn gathered(input: impl Read) -> Result<Vec<AthleteRows>, SetFileError> {
    let mut athletes: Vec<AthleteRows> = Vec::new();
    let mut places = std::collections::BTreeMap::new();
    let mut at = 0;
    for row in SetStream::new(input) {
        match row {
            Ok(row) => {
                at = *places.entry(row.athlete.clone()).or_insert(athletes.len());
                if at == athletes.len() {
                    athletes.push(AthleteRows::new(row.athlete.clone()));
                }
                athletes[at].rows.push(row);
            }
            Err(error) => {
                let problems = of_row(error)?;
                if athletes.is_empty() {
                    athletes.push(AthleteRows::new(String::new()));
                    places.insert(String::new(), 0);
                }
                athletes[at].problems.push(problems);
            }
        }
    }
    Ok(athletes)
}

impl AthleteRows {
    fn new(athlete: String) -> Self {
        Self { athlete, rows: Vec::new(), problems: Vec::new() }
    }
}

/// The problems of a row; an error when they are of the sheet as a whole.
fn of_row(error: StreamError) -> Result<Vec<Problem>, SetFileError> {
    match error {
        StreamError::Unreadable(source) => Err(SetFileError::Unreadable { source }),
        StreamError::Problems(problems) if problems.iter().all(|p| p.field.starts_with("row[")) => {
            Ok(problems)
        }
        StreamError::Problems(problems) => Err(SetFileError::NoSheet { problems }),
    }
}

struct Together<R: Read> {
    rows: Peekable<SetStream<R>>,
    seen: BTreeSet<String>,
    is_over: bool,
}

impl<R: Read> Together<R> {
    /// The next athlete's rows; nothing at the end.
    fn read(&mut self) -> Result<Option<AthleteRows>, SetFileError> {
        let mut found: Option<AthleteRows> = None;
        let mut problems = Vec::new();
        loop {
            match self.rows.next_if(|row| {
                row.as_ref().map_or(true, |row| found.as_ref().is_none_or(|f| f.athlete == row.athlete))
            }) {
                None => break,
                Some(Err(error)) => problems.push(of_row(error)?),
                Some(Ok(row)) => {
                    if found.is_none() && !self.seen.insert(row.athlete.clone()) {
                        return Err(SetFileError::Scattered { row: row.row, athlete: row.athlete });
                    }
                    let athlete = found.get_or_insert_with(|| AthleteRows::new(row.athlete.clone()));
                    athlete.rows.push(row);
                }
            }
        }
        if found.is_none() && !problems.is_empty() {
            found = Some(AthleteRows::new(String::new()));
        }
        Ok(found.map(|found| AthleteRows { problems, ..found }))
    }
}

impl<R: Read> Iterator for Together<R> {
    type Item = Result<AthleteRows, SetFileError>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.is_over {
            return None;
        }
        let read = self.read().transpose();
        self.is_over = !matches!(read, Some(Ok(_)));
        read
    }
}
