//! Files verb: a whole replay of a sheet.

use std::path::{Path, PathBuf};

use clap::Args;
use indicatif::ProgressBar;
use nextrung_replay::evaluate::run::{Progress, Replay};
use nextrung_replay::evaluate::summary::Summary;

use crate::arguments::HELP;
use crate::failure::Failure;
use crate::output::Output;
use crate::progress;
use crate::replay::choice::{ScoreFlags, SheetFlags, failed};
use crate::replay::{page, to_json, write_whole};

const EXAMPLES: &str = "Examples:
  nextrung replay files --sets sets.csv --athletes athletes.toml --out replayed
  nextrung replay files --sets sets.csv --from 2026-06-01 --ladder pull --no-advice --out replayed
  nextrung replay files --sets sets.csv --policy eager=eager.toml --out replayed";

/// Replay a sheet of sets from beginning to end
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = EXAMPLES)]
pub(crate) struct FilesArguments {
    #[command(flatten)]
    sheet: SheetFlags,
    #[command(flatten)]
    score: ScoreFlags,
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
    let part = replay.score(&learned, &files, None, &mut |at| tell(&bar, at)).map_err(failure)?;
    bar.finish_and_clear();
    let summary = replay.summary(&part, learned.athletes, hashes).map_err(failure)?;
    write(&replay, &summary, &arguments.out)?;
    show(&summary, &arguments.out, output)
}

/// Shows how far the replay has come; nobody ends it here.
fn tell(bar: &ProgressBar, at: Progress) -> bool {
    bar.set_position(at.sets);
    true
}

/// Writes the figures into the folder.
pub(super) fn write(_replay: &Replay, summary: &Summary, folder: &Path) -> Result<(), Failure> {
    std::fs::create_dir_all(folder).map_err(|error| {
        Failure::usage(
            format!("{} cannot be made: {error}", folder.display()),
            "Name a folder that can be written.",
        )
    })?;
    write_whole(&folder.join("summary.json"), &to_json(summary)?)
}

/// Shows the most important figures, and where the rest is.
pub(super) fn show(summary: &Summary, folder: &Path, mut output: Output) -> Result<(), Failure> {
    if output.is_json {
        return output.json(&serde_json::to_value(summary).map_err(|error| Failure::internal(&error))?);
    }
    let text = page::page(summary, folder, output.layout);
    output.page(&text)
}
