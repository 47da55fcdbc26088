//! Workbook verbs: workbooks for people, and a folder of theirs kept in step.

use clap::Subcommand;

use crate::arguments::HELP;
use crate::failure::Failure;
use crate::run::Desk;

mod answers;
mod file;
mod keep;
mod session;
mod tables;
mod write;

const VERBS: &str = "Examples:
  nextrung workbook write hall/wren -o wren.xlsx
  nextrung workbook write --roster hall -o hall
  nextrung workbook keep FOLDER --roster hall --map log.toml";

/// Write workbooks for people, and keep a folder of theirs in step.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true, before_help = VERBS)]
pub(crate) enum WorkbookVerb {
    /// Write a workbook of an athlete, or a folder of them for a roster
    Write(write::WriteArguments),
    /// Keep the workbooks of a folder in step: their new rows go in, the next session comes back
    Keep(keep::KeepArguments),
}

/// Does what the verb says.
pub(crate) async fn run(verb: &WorkbookVerb, desk: Desk) -> Result<(), Failure> {
    match verb {
        WorkbookVerb::Write(arguments) => write::run(arguments, desk).await,
        WorkbookVerb::Keep(arguments) => keep::run(arguments, desk).await,
    }
}
