//! Sheet verbs: sheets of coaches' own making, how they are to be read and what they hold.

use clap::Subcommand;

use crate::arguments::HELP;
use crate::failure::Failure;
use crate::run::Desk;

mod answers;
mod conflict;
pub(crate) mod exchange;
mod import;
mod job;
mod loading;
pub(crate) mod map;
pub(crate) mod new_file;
mod parcel;
mod rehearsal;
pub(crate) mod roll;
mod sending;
mod source;
pub(crate) mod unattended;
mod wire;

const VERBS: &str = "Examples:
  nextrung sheet map log.xlsx --roster hall                     look how it would be read
  nextrung sheet map log.xlsx --roster hall --purpose working --stop other -o log.toml
  nextrung sheet import log.xlsx --map log.toml --roster hall --dry-run
  nextrung sheet import log.xlsx --map log.toml --roster hall";

/// Take in sheets of coaches' own making: CSV, xlsx, ods.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true, before_help = VERBS)]
pub(crate) enum SheetVerb {
    /// Guess how a sheet is to be read, show it, and save it as a small file
    Map(Box<map::MapArguments>),
    /// Check a sheet as a whole and record its sets
    Import(Box<import::ImportArguments>),
}

/// Does what the verb says.
pub(crate) async fn run(verb: &SheetVerb, desk: Desk) -> Result<(), Failure> {
    match verb {
        SheetVerb::Map(arguments) => map::run(arguments, desk).await,
        SheetVerb::Import(arguments) => import::run(arguments, desk).await,
    }
}
