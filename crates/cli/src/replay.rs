//! Replay verbs: how good predictions and advice were on histories, from files without a service, or from a running one.

pub(crate) mod choice;
mod files;
mod page;
mod roster;
mod steps;
mod variant;

use std::path::Path;

use clap::Subcommand;
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::arguments::{HELP, Shared};
use crate::failure::Failure;
use crate::output::Output;
use crate::run::desk;

const VERBS: &str = "Examples:
  nextrung replay files --sets sets.csv --athletes athletes.toml --out replayed
  nextrung replay roster hall
  nextrung replay learn --sets part-1.csv --out learned-1.json
  nextrung replay score --learned learned.json --sets part-1.csv --out scored-1.json
  nextrung replay join scored-1.json scored-2.json --out replayed";

const AFTER: &str = "Before each set every forecaster says how it may end, from what had arrived by then; before each session \
the advice is made. What was said is scored on what was done. `files` does it all; the other verbs do it in parts, on as \
many machines as you like, and come to the same figures.";

/// Measure predictions and advice on histories.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true, before_help = VERBS, after_help = AFTER)]
pub(crate) enum ReplayVerb {
    /// Replay a sheet of sets from beginning to end and write what came of it
    Files(files::FilesArguments),
    /// Replay the logs of a running service
    Roster(roster::RosterArguments),
    /// First reading of a part: learn what all athletes' pasts teach
    Learn(steps::LearnArguments),
    /// Put together what was learned from parts
    JoinLearned(steps::JoinLearnedArguments),
    /// Second reading of a part: foretell and score
    Score(steps::ScoreArguments),
    /// Put together scored parts and write what came of the whole
    Join(steps::JoinArguments),
}

/// Does what the verb says.
pub(crate) async fn run(verb: &ReplayVerb, shared: Shared) -> Result<(), Failure> {
    let output = Output::standard(shared.json);
    match verb {
        ReplayVerb::Roster(arguments) => roster::run(arguments, desk(shared).await?).await,
        ReplayVerb::Files(arguments) => files::run(arguments, output),
        ReplayVerb::Learn(arguments) => steps::learn(arguments),
        ReplayVerb::JoinLearned(arguments) => steps::join_learned(arguments),
        ReplayVerb::Score(arguments) => steps::score(arguments),
        ReplayVerb::Join(arguments) => steps::join(arguments, output),
    }
}

/// Writes a file whole or not at all: beside its place first, then into it.
fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let beside = path.with_extension("part");
    let unwritable = |error: std::io::Error| {
        Failure::usage(
            format!("{} cannot be written: {error}", path.display()),
            "Name a folder that can be written.",
        )
    };
    std::fs::write(&beside, bytes).map_err(unwritable)?;
    std::fs::rename(&beside, path).map_err(unwritable)
}

fn to_json(value: &impl Serialize) -> Result<Vec<u8>, Failure> {
    let mut text = serde_json::to_vec(value).map_err(|error| Failure::internal(&error))?;
    text.push(b'\n');
    Ok(text)
}

fn from_json<T: DeserializeOwned>(path: &Path, what: &str) -> Result<T, Failure> {
    let label = path.display();
    let bytes = std::fs::read(path).map_err(|error| {
        Failure::usage(format!("{label} cannot be read: {error}"), format!("Name a file with {what}."))
    })?;
    serde_json::from_slice(&bytes)
        .map_err(|error| Failure::usage(format!("{label} is no file with {what}: {error}"), "Make it anew."))
}
