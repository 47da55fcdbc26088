//! Source: a file of somebody's own making, and which part of it is meant.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use clap::Args;
use clap::builder::PossibleValuesParser;
use clap::builder::TypedValueParser;
use nextrung_domain::measure::SessionNumber;
use nextrung_sheet::grid::cap::MAX_FILE;
use nextrung_sheet::grid::{Cause, Encoding, Grid, Refusal};
use nextrung_sheet::stage::DeliveryError;
use nextrung_workbook::own_sheet::is_own_name;

use crate::failure::Failure;

/// A file, and which part of it is meant.
#[derive(Debug, Args)]
pub(super) struct SourceFlags {
    /// The sheet of sets: CSV, xlsx or ods
    pub(super) file: PathBuf,
    /// The sheet of a workbook that has several
    #[arg(long, value_name = "NAME")]
    pub(super) sheet: Option<String>,
    /// Whose sets they are, where no column says it
    #[arg(long, value_name = "ATHLETE")]
    pub(super) athlete: Option<String>,
    /// The session of the day that they are of, where no column says it: 2 for a second sheet of the same athletes and days
    #[arg(long, value_name = "NUMBER", value_parser = session)]
    pub(super) session: Option<SessionNumber>,
    /// How a CSV file is encoded that is not Unicode
    #[arg(long, value_name = "ENCODING", value_parser = encoding())]
    pub(super) encoding: Option<Encoding>,
}

fn session(text: &str) -> Result<SessionNumber, &'static str> {
    text.parse().ok().and_then(SessionNumber::new).ok_or("expected a session of the day, 1 to 9")
}

fn encoding() -> impl TypedValueParser<Value = Encoding> {
    PossibleValuesParser::new(["unicode", "windows-1252"]).map(|word| match word.as_str() {
        "windows-1252" => Encoding::Windows1252,
        _ => Encoding::Unicode,
    })
}

/// The bytes of a file with its name in messages.
#[derive(Debug)]
pub(super) struct Source {
    pub(super) label: String,
    pub(super) bytes: Vec<u8>,
}

impl Source {
    /// Reads a file, and no more of it than a sheet may have.
    pub(super) fn read(path: &Path) -> Result<Self, Failure> {
        let label = path.display().to_string();
        let bytes = bounded(path).map_err(|error| {
            let advice = "Nothing was sent. Give a sheet of sets: CSV, or a workbook in xlsx or ods.";
            Failure::usage(format!("{label} cannot be read: {error}"), advice)
        })?;
        Ok(Self { label, bytes })
    }
}

/// The bytes of a file, at most one more than a sheet may have.
fn bounded(path: &Path) -> io::Result<Vec<u8>> {
    let file = File::open(path)?;
    let length = usize::try_from(file.metadata()?.len()).unwrap_or(usize::MAX);
    // Room for what is there and for the look that finds its end, so that no larger room is made while reading.
    let mut bytes = Vec::with_capacity(length.min(MAX_FILE).saturating_add(64));
    let most = u64::try_from(MAX_FILE).unwrap_or(u64::MAX).saturating_add(1);
    file.take(most).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// In a workbook with our sheet in it, the only visible one besides: a mapping that names none means that one.
pub(super) fn the_other_sheet(grid: &Grid<'_>) -> Option<String> {
    let (own, others): (Vec<_>, Vec<_>) = grid.sheets().iter().partition(|sheet| is_own_name(&sheet.name));
    let mut visible = others.iter().filter(|sheet| !sheet.is_hidden && !own.is_empty());
    match (visible.next(), visible.next()) {
        (Some(one), None) => Some(one.name.clone()),
        _ => None,
    }
}

/// A file or a mapping that is not taken at all.
pub(super) fn refused(refusal: &Refusal) -> Failure {
    let advice = match refusal.cause {
        Cause::NotUnicode => "Nothing was sent. Without a mapping, say --encoding windows-1252.",
        Cause::SheetOpen => "Nothing was sent. Or name it with --sheet.",
        Cause::NoHeader => {
            "Nothing was sent. Say which column holds what: --column date=HEADER --column exercise=HEADER --column reps=HEADER, \
             each by its header or its letters."
        }
        Cause::Other => "Nothing was sent.",
    };
    Failure::usage(refusal.to_string(), advice)
}

/// Why a walk over the file did not come to its end.
pub(super) fn undelivered(error: &DeliveryError) -> Failure {
    match error {
        DeliveryError::Refused(refusal) => refused(refusal),
        DeliveryError::BadRows { .. } => Failure::usage(error.to_string(), "Nothing was sent."),
        DeliveryError::Unwritable { source } => Failure::usage(
            format!("the rows set aside cannot be written: {source}"),
            "Nothing was sent. Name another file with --set-aside.",
        ),
    }
}
