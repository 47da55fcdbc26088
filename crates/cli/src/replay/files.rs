//! Files verb: a whole replay of a sheet.

use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use indicatif::ProgressBar;
use nextrung_replay::evaluate::row::Row;
use nextrung_replay::evaluate::run::{Progress, TakeRows};
use nextrung_replay::evaluate::source::SourceError;
use nextrung_replay::evaluate::summary::Summary;
use nextrung_replay::output::csv_file::CsvFile;
use nextrung_replay::output::parquet_file::ParquetFile;
use nextrung_replay::output::row_file::RowFile;
use nextrung_replay::output::{OutputError, json, report};

use crate::arguments::HELP;
use crate::failure::Failure;
use crate::output::Output;
use crate::progress;
use crate::replay::choice::{ScoreFlags, SheetFlags, failed};
use crate::replay::{page, write_whole};

const EXAMPLES: &str = "Examples:
  nextrung replay files --sets sets.csv --athletes athletes.toml --out replayed
  nextrung replay files --sets sets.csv --from 2026-06-01 --ladder pull --no-advice --out replayed
  nextrung replay files --sets sets.csv --policy eager=eager.toml --rows parquet --out replayed";

/// Replay a sheet of sets from beginning to end
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct FilesArguments {
    #[command(flatten)]
    sheet: SheetFlags,
    #[command(flatten)]
    score: ScoreFlags,
    /// Keep every prediction too, as a table; may be given twice
    #[arg(long, value_enum, value_name = "FORM")]
    rows: Vec<RowForm>,
    /// The folder to write into; it is made when it is not there
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
}

/// Replays and writes what came of it.
pub(super) fn run(arguments: &FilesArguments, output: Output) -> Result<(), Failure> {
    let catalog = arguments.score.catalog()?;
    let replay = arguments.score.replay(catalog.clone(), arguments.sheet.knows_truth())?;
    let files = arguments.sheet.files(&catalog)?;
    let hashes = arguments.sheet.hashes()?;
    let failure = |error| failed(&error, &arguments.sheet.sets);
    let bar = progress::bar(0, "learning");
    let learned = replay.learn(&files, &mut |at| tell(&bar, at)).map_err(failure)?;
    bar.set_length(learned.sets);
    bar.set_message("scoring");
    let names: Vec<String> = replay.who.iter().map(|who| who.word().to_owned()).collect();
    let mut tables = Tables::open(&arguments.out, &arguments.rows, &names)?;
    let mut take = |rows: Vec<Row>| tables.take(&rows);
    let rows: Option<&mut TakeRows<'_>> = if arguments.rows.is_empty() { None } else { Some(&mut take) };
    let part = replay.score(&learned, &files, rows, &mut |at| tell(&bar, at)).map_err(failure)?;
    bar.finish_and_clear();
    let summary = replay.summary(&part, learned.athletes, hashes).map_err(failure)?;
    tables.finish()?;
    write(&summary, &arguments.out)?;
    show(&summary, &arguments.out, output)
}

/// Shows how far the replay has come; nobody ends it here.
fn tell(bar: &ProgressBar, at: Progress) -> bool {
    bar.set_position(at.sets);
    true
}

/// Makes the folder.
fn make(folder: &Path) -> Result<(), Failure> {
    std::fs::create_dir_all(folder).map_err(|error| {
        let message = format!("{} cannot be made: {error}", folder.display());
        Failure::usage(message, "Name a folder that can be written.")
    })
}

/// Writes the figures into the folder: for programs, and as a page for people.
pub(super) fn write(summary: &Summary, folder: &Path) -> Result<(), Failure> {
    make(folder)?;
    let fault = |error: OutputError| Failure::internal(&error);
    write_whole(&folder.join("summary.json"), json::write(summary).map_err(fault)?.as_bytes())?;
    write_whole(&folder.join("report.html"), report::html(summary).map_err(fault)?.as_bytes())
}

/// Shows the most important figures, and where the rest is.
pub(super) fn show(summary: &Summary, folder: &Path, mut output: Output) -> Result<(), Failure> {
    if output.is_json {
        return output.json(&serde_json::to_value(summary).map_err(|error| Failure::internal(&error))?);
    }
    let text = page::page(summary, folder, output.layout);
    output.page(&text)
}

/// Tables of predictions while they are written, each beside its place until it is whole.
struct Tables {
    open: Vec<(Box<dyn RowFile>, PathBuf, PathBuf)>,
}

impl Tables {
    fn open(folder: &Path, forms: &[RowForm], names: &[String]) -> Result<Self, Failure> {
        let mut open = Vec::new();
        if !forms.is_empty() {
            make(folder)?;
        }
        for form in forms {
            let place = folder.join(form.file_name());
            let beside = place.with_extension("part");
            let file = File::create(&beside).map_err(|error| {
                let message = format!("{} cannot be written: {error}", beside.display());
                Failure::usage(message, "Name a folder that can be written.")
            })?;
            let table = form.begin(file, names.to_vec()).map_err(|error| Failure::internal(&error))?;
            open.push((table, beside, place));
        }
        Ok(Self { open })
    }

    fn take(&mut self, rows: &[Row]) -> Result<(), SourceError> {
        self.open.iter_mut().try_for_each(|(table, ..)| Ok(table.rows(rows)?))
    }

    fn finish(self) -> Result<(), Failure> {
        for (table, beside, place) in self.open {
            let failed = |why: String| {
                Failure::usage(
                    format!("{} cannot be written: {why}", place.display()),
                    "Name a folder with room.",
                )
            };
            table.finish().map_err(|error| failed(error.to_string()))?;
            std::fs::rename(&beside, &place).map_err(|error| failed(error.to_string()))?;
        }
        Ok(())
    }
}

/// Forms in which predictions are kept one by one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum RowForm {
    /// A table of text.
    Csv,
    /// Columns, compressed with zstd.
    Parquet,
}

impl RowForm {
    fn file_name(self) -> &'static str {
        match self {
            Self::Csv => "predictions.csv",
            Self::Parquet => "predictions.parquet",
        }
    }

    fn begin(self, file: File, names: Vec<String>) -> Result<Box<dyn RowFile>, OutputError> {
        let file = BufWriter::with_capacity(1 << 16, file);
        Ok(match self {
            Self::Csv => Box::new(CsvFile::new(file, names)?),
            Self::Parquet => Box::new(ParquetFile::new(file, names)?),
        })
    }
}
