//! Steps: a replay in parts, each on any machine, and the parts put together.
//!
//! Files of parts hold whole numbers alone where sums are concerned, so that any grouping gives the same figures.

use std::path::{Path, PathBuf};

use clap::Args;
use nextrung_replay::evaluate::learned::Learned;
use nextrung_replay::evaluate::part::Part;
use nextrung_replay::evaluate::run::Replay;
use nextrung_replay::evaluate::summary::Manifest;
use serde::{Deserialize, Serialize};

use crate::arguments::HELP;
use crate::failure::Failure;
use crate::output::Output;
use crate::replay::choice::{ScoreFlags, SheetFlags, failed, hash_of};
use crate::replay::{files, from_json, to_json, write_whole};

const LEARN: &str = "Examples:
  nextrung replay learn --sets part-1.csv --out learned-1.json
  grep -e ^athlete, -e ^wren, sets.csv | nextrung replay learn --sets - --out learned-wren.json";

/// First reading of a part
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = LEARN)]
pub(crate) struct LearnArguments {
    #[command(flatten)]
    sheet: SheetFlags,
    #[command(flatten)]
    score: ScoreFlags,
    /// The file to write
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

const JOIN_LEARNED: &str = "Examples:
  nextrung replay join-learned learned-1.json learned-2.json --out learned.json";

/// Put together what was learned from parts
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = JOIN_LEARNED)]
pub(crate) struct JoinLearnedArguments {
    /// What was learned from parts; an athlete must stand in one part only
    #[arg(required = true, value_name = "FILE")]
    parts: Vec<PathBuf>,
    /// The file to write
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

const SCORE: &str = "Examples:
  nextrung replay score --learned learned.json --sets part-1.csv --out scored-1.json";

/// Second reading of a part
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = SCORE)]
pub(crate) struct ScoreArguments {
    /// What was learned from all parts together
    #[arg(long, value_name = "FILE")]
    learned: PathBuf,
    #[command(flatten)]
    sheet: SheetFlags,
    #[command(flatten)]
    score: ScoreFlags,
    /// The file to write
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

const JOIN: &str = "Examples:
  nextrung replay join scored-1.json scored-2.json --hash-of sets.csv --out replayed";

/// Put together scored parts
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = JOIN)]
pub(crate) struct JoinArguments {
    /// Scored parts; an athlete must stand in one part only
    #[arg(required = true, value_name = "FILE")]
    parts: Vec<PathBuf>,
    /// A file whose hash goes into the manifest: the sheet that the parts were cut from; may be given several times
    #[arg(long, value_name = "FILE")]
    hash_of: Vec<PathBuf>,
    #[command(flatten)]
    score: ScoreFlags,
    /// The folder to write into; it is made when it is not there
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
}

/// A scored part, and what it was made with.
#[derive(Debug, Serialize, Deserialize)]
struct ScoredPart {
    manifest: Manifest,
    athletes: u64,
    part: Part,
}

/// Learns from a part.
pub(super) fn learn(arguments: &LearnArguments) -> Result<(), Failure> {
    let catalog = arguments.score.catalog()?;
    let replay = arguments.score.replay(catalog.clone(), false)?;
    let files = arguments.sheet.files(&catalog)?;
    let learned = replay.learn(&files, &mut |_| true).map_err(|e| failed(&e, &arguments.sheet.sets))?;
    write_whole(&arguments.out, &to_json(&learned)?)
}

/// Joins what was learned.
pub(super) fn join_learned(arguments: &JoinLearnedArguments) -> Result<(), Failure> {
    let mut all = Learned::default();
    for path in &arguments.parts {
        all.join(from_json(path, "what was learned")?);
    }
    all.settle();
    write_whole(&arguments.out, &to_json(&all)?)
}

/// Scores a part.
pub(super) fn score(arguments: &ScoreArguments) -> Result<(), Failure> {
    let catalog = arguments.score.catalog()?;
    let replay = arguments.score.replay(catalog.clone(), arguments.sheet.knows_truth())?;
    let learned: Learned = from_json(&arguments.learned, "what was learned")?;
    let files = arguments.sheet.files(&catalog)?;
    let mut athletes = 0;
    let part = replay.score(&learned, &files, None, &mut |at| {
        athletes = at.athletes;
        true
    });
    let part = part.map_err(|error| failed(&error, &arguments.sheet.sets))?;
    let scored = ScoredPart { manifest: replay.manifest(Vec::new()), athletes, part };
    write_whole(&arguments.out, &to_json(&scored)?)
}

/// Joins scored parts and writes what came of the whole.
pub(super) fn join(arguments: &JoinArguments, output: Output) -> Result<(), Failure> {
    let mut parts = arguments
        .parts
        .iter()
        .map(|path| Ok::<_, Failure>((path, from_json::<ScoredPart>(path, "a scored part")?)));
    let Some(first) = parts.next() else {
        return Err(Failure::usage("no part was named", "Name the scored parts."));
    };
    let (_, mut whole) = first?;
    let replay = arguments
        .score
        .replay(arguments.score.catalog()?, whole.manifest.forecasters.iter().any(|f| f == "oracle"))?;
    same(&replay, &whole.manifest, &arguments.parts[0])?;
    for part in parts {
        let (path, part) = part?;
        same(&replay, &part.manifest, path)?;
        if let Some(athlete) = part.part.athletes.keys().find(|name| whole.part.athletes.contains_key(*name))
        {
            let message = format!("{} holds {athlete}, who stands in another part too", path.display());
            return Err(Failure::usage(message, "Cut the sheet by athlete, each in one part only."));
        }
        whole.athletes += part.athletes;
        whole.part.join(part.part);
    }
    let hashes = arguments.hash_of.iter().map(|path| hash_of(path)).collect::<Result<_, _>>()?;
    let summary = replay
        .summary(&whole.part, whole.athletes, hashes)
        .map_err(|e| failed(&e, Path::new("the parts")))?;
    files::write(&summary, &arguments.out)?;
    files::show(&summary, &arguments.out, output)
}

/// Parts are put together only when they were made with the same settings, which are those of the command line too.
fn same(replay: &Replay, manifest: &Manifest, path: &Path) -> Result<(), Failure> {
    if replay.manifest(Vec::new()) == *manifest {
        return Ok(());
    }
    let message = format!("{} was scored with other settings or another version", path.display());
    Err(Failure::usage(message, "Give `join` the flags that every `score` was given."))
}
