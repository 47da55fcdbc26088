//! Refit verbs: difficulties and parameters from logs, tried against those in force, and kept under versions.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use nextrung_domain::set::SetEntry;
use nextrung_replay::athlete_log::{AthleteLog, standing};
use nextrung_replay::evaluate::source::{Source, SourceError};
use nextrung_replay::files::intake_file::{self, Intakes};
use nextrung_replay::files::roster_files::RosterFiles;
use nextrung_replay::refit::fit::{Fit, Version};
use nextrung_replay::refit::plan::Plan;
use nextrung_replay::refit::shelf::{Shelf, ShelfError};
use nextrung_replay::refit::trial::{Split, Trial, challenge};
use nextrung_replay::refit::{Refitted, Trained};
use serde_json::json;

use crate::arguments::HELP;
use crate::failure::Failure;
use crate::output::{Layout, Output};
use crate::paragraph::{list, paragraph};
use crate::replay::choice::{SheetFlags, ladders, unreadable};
use crate::table::Columns;

const VERBS: &str = "Examples:
  nextrung refit try spring --sets sets.csv --shelf fits
  nextrung refit versions --shelf fits
  nextrung refit promote spring --shelf fits
  nextrung refit roll-back --shelf fits
  nextrung serve --shelf fits";

const AFTER: &str = "A refit learns from a roster how hard the steps of the ladders really are, how widely athletes and days \
differ, and where beginners stand. It is tried on athletes it never saw, and put in force only when it foretells them \
better. Every version is kept.";

/// Learn the ladders anew from logs, try it, keep it.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true, before_help = VERBS, after_help = AFTER)]
pub(crate) enum RefitVerb {
    /// Fit a new version, try it on athletes held out, and keep it; what is in force stays in force
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung refit try spring --sets sets.csv --shelf fits")]
    Try(Box<TryArguments>),
    /// List every version, and say which is in force
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung refit versions --shelf fits")]
    Versions(ShelfFlag),
    /// Put a version in force; refused unless it foretold athletes it never saw better
    #[command(help_template = HELP, before_help = "Examples:\n  nextrung refit promote spring --shelf fits")]
    Promote {
        /// The version
        version: String,
        #[command(flatten)]
        shelf: ShelfFlag,
    },
    /// Put an earlier version in force again
    #[command(
        help_template = HELP,
        before_help = "Examples:\n  nextrung refit roll-back --shelf fits\n  nextrung refit roll-back --to files --shelf fits"
    )]
    RollBack {
        /// The version; the parent of the one in force when left out
        #[arg(long, value_name = "VERSION")]
        to: Option<String>,
        #[command(flatten)]
        shelf: ShelfFlag,
    },
}

/// Where versions are kept.
#[derive(Debug, Args)]
pub(crate) struct ShelfFlag {
    /// The folder with a file for each version; it is made when it is not there
    #[arg(long, value_name = "FOLDER", env = "NEXTRUNG_SHELF", hide_env_values = true)]
    shelf: PathBuf,
}

/// A new version.
#[derive(Debug, Args)]
pub(crate) struct TryArguments {
    /// The new version's name
    version: String,
    #[command(flatten)]
    sheet: SheetFlags,
    /// Measures known before an athlete's first set (CSV: athlete, then a column for each)
    #[arg(long, value_name = "FILE")]
    intake: Option<PathBuf>,
    /// Refit difficulties and starts alone, which takes a tenth of the time
    #[arg(long)]
    steps_only: bool,
    /// Share of athletes held out
    #[arg(long, value_name = "SHARE", default_value_t = 0.3)]
    held_out: f64,
    /// Which athletes are held out
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// A folder with abilities.toml and ladders/*.toml in place of the ladders of this program
    #[arg(long, value_name = "FOLDER", env = "NEXTRUNG_DATA", hide_env_values = true)]
    data: Option<PathBuf>,
    #[command(flatten)]
    shelf: ShelfFlag,
}

/// Does what the verb says.
pub(crate) fn run(verb: &RefitVerb, mut output: Output) -> Result<(), Failure> {
    match verb {
        RefitVerb::Try(arguments) => attempt(arguments, output),
        RefitVerb::Versions(flag) => versions(flag, output),
        RefitVerb::Promote { version, shelf } => {
            let version = named(version)?;
            open(shelf)?.promote(&version).map_err(|error| refused(&error))?;
            told(&mut output, &version)
        }
        RefitVerb::RollBack { to, shelf } => {
            let to = to.as_deref().map(named).transpose()?;
            let version = open(shelf)?.roll_back(to.as_ref()).map_err(|error| refused(&error))?;
            told(&mut output, &version)
        }
    }
}

fn told(output: &mut Output, version: &Version) -> Result<(), Failure> {
    if output.is_json {
        return output.json(&json!({ "inForce": version.to_string() }));
    }
    output.page(&format!("{version} is in force; a service started from now on works with it\n"))
}

fn named(text: &str) -> Result<Version, Failure> {
    Version::new(text).map_err(|error| Failure::usage(error.to_string(), "Give the version another name."))
}

fn open(flag: &ShelfFlag) -> Result<Shelf, Failure> {
    Shelf::open(&flag.shelf).map_err(|error| refused(&error))
}

fn refused(error: &ShelfError) -> Failure {
    let advice = match error {
        ShelfError::Untried { .. } => "Try it against the version in force: nextrung refit try.",
        ShelfError::NoImprovement { .. } => {
            "Nothing was changed. More athletes, or longer logs, may tell more."
        }
        ShelfError::Missing { .. } | ShelfError::NoParent { .. } => {
            "List what there is: nextrung refit versions."
        }
        ShelfError::Taken { .. } => "Give the new version another name: none is ever overwritten.",
        ShelfError::NoneInForce => "Try a first version: nextrung refit try.",
        ShelfError::Unreachable { .. }
        | ShelfError::Unreadable { .. }
        | ShelfError::Misnamed { .. }
        | ShelfError::InForce { .. } => "Name another shelf, or mend its files.",
    };
    Failure::NotFound { message: error.to_string(), advice: advice.to_owned() }
}

fn attempt(arguments: &TryArguments, mut output: Output) -> Result<(), Failure> {
    let version = named(&arguments.version)?;
    if !(0.05..=0.95).contains(&arguments.held_out) {
        let message = format!("found --held-out {}; expected a share from 0.05 to 0.95", arguments.held_out);
        return Err(Failure::usage(message, "Nothing was read."));
    }
    let catalog = ladders(arguments.data.as_deref())?;
    let files = arguments.sheet.files(&catalog)?;
    let intakes = match &arguments.intake {
        Some(path) => intake_file::read(path)
            .map_err(|error| Failure::usage(error.to_string(), "Nothing was kept. Mend the file."))?,
        None => Intakes::new(),
    };
    let roster = roster(&files, intakes).map_err(|source| unreadable(&source, &arguments.sheet.sets))?;
    let shelf = open(&arguments.shelf)?;
    let champion = in_force(&shelf, &catalog)?;
    let plan = if arguments.steps_only { Plan::of_steps() } else { Plan::default() };
    let split = Split { held_out: arguments.held_out, seed: arguments.seed };
    let refitted = challenge(&catalog, &champion, &roster, split, (version, &plan)).map_err(|error| {
        let why = std::error::Error::source(&error).map_or_else(String::new, |source| format!(": {source}"));
        Failure::usage(format!("{error}{why}"), "Nothing was kept. More athletes, or longer logs, may do.")
    })?;
    shelf.put(&refitted.fit).map_err(|error| refused(&error))?;
    if output.is_json {
        let fit = serde_json::to_value(&refitted.fit).map_err(|error| Failure::internal(&error))?;
        return output.json(&json!({ "fit": fit, "sentences": refitted.account.sentences() }));
    }
    let text = page(&refitted, output.layout);
    output.page(&text)
}

/// The version in force; the ladder files with the first parameters when there is none, put on the shelf as `files`.
fn in_force(shelf: &Shelf, catalog: &nextrung_domain::catalog::Catalog) -> Result<Fit, Failure> {
    let fail = |error: ShelfError| refused(&error);
    match shelf.current() {
        Ok(version) => shelf.get(&version).map_err(fail),
        Err(ShelfError::NoneInForce) => {
            let parameters = nextrung_capacity::params::Parameters::default();
            let first = Fit::of_files(named("files")?, catalog, parameters);
            shelf.found(&first).map_err(fail)?;
            Ok(first)
        }
        Err(other) => Err(fail(other)),
    }
}

fn roster(files: &RosterFiles, mut intakes: Intakes) -> Result<Vec<Trained>, SourceError> {
    let mut trained = |log: AthleteLog| {
        let mut sets: Vec<SetEntry> = standing(&log.events).into_iter().cloned().collect();
        sets.sort_by_key(SetEntry::place);
        Trained { sets, intake: intakes.remove(&log.athlete).unwrap_or_default(), athlete: log.athlete }
    };
    let logs = files.logs()?.map(|traced| traced.map(|traced| traced.log)).collect::<Result<Vec<_>, _>>()?;
    Ok(logs.into_iter().map(&mut trained).collect())
}

fn page(refitted: &Refitted, layout: Layout) -> String {
    let fit = &refitted.fit;
    let mut page = format!("{}\n", layout.strong(&format!("{}: what the roster says", fit.version)));
    page += &list(&refitted.account.sentences(), layout.width);
    if let Some(trial) = &fit.trial {
        page += &format!(
            "\n{}\n{}",
            layout.strong("On athletes it never saw"),
            paragraph(&verdict(trial), layout.width, 2)
        );
        let next = if trial.is_improvement() {
            format!("To put it in force: nextrung refit promote {}", fit.version)
        } else {
            "It was kept, and will not be put in force.".to_owned()
        };
        page += &format!("\n{next}\n");
    }
    page
}

fn verdict(trial: &Trial) -> String {
    let Trial { champion, athletes, sets, champion_score, challenger_score, difference, interval } = trial;
    let word = if trial.is_improvement() { "better than" } else { "not shown to be better than" };
    format!(
        "Of {athletes} athletes held out it foretold {sets} sets with a mean log score of {challenger_score:.4} nats, {champion} \
         with {champion_score:.4}: {difference:+.4} ({:+.4} to {:+.4}). It is {word} {champion}.",
        interval.0, interval.1
    )
}

fn versions(flag: &ShelfFlag, mut output: Output) -> Result<(), Failure> {
    let shelf = open(flag)?;
    let current = match shelf.current() {
        Ok(version) => Some(version),
        Err(ShelfError::NoneInForce) => None,
        Err(other) => return Err(refused(&other)),
    };
    let mut table =
        Columns::new(&["version", "", "made from", ">athletes", ">sets", ">trial", ">99 % interval"]);
    let mut rows = Vec::new();
    for version in shelf.list().map_err(|error| refused(&error))? {
        let fit = shelf.get(&version).map_err(|error| refused(&error))?;
        let is_current = current.as_ref() == Some(&version);
        let data = |f: &dyn Fn(&nextrung_replay::refit::fit::Data) -> usize| {
            fit.data.as_ref().map_or_else(String::new, |data| f(data).to_string())
        };
        let trial = |f: &dyn Fn(&Trial) -> String| fit.trial.as_ref().map_or_else(String::new, f);
        table.row([
            version.to_string(),
            if is_current { "in force".to_owned() } else { String::new() },
            fit.parent.as_ref().map_or_else(String::new, ToString::to_string),
            data(&|data| data.athletes),
            data(&|data| data.sets),
            trial(&|t| format!("{:+.4}", t.difference)),
            trial(&|t| format!("{:+.4} to {:+.4}", t.interval.0, t.interval.1)),
        ]);
        rows.push(json!({ "version": version.to_string(), "inForce": is_current, "trial": fit.trial }));
    }
    if output.is_json {
        output.json(&json!({ "versions": rows }))
    } else {
        let text = table.render_wide(output.layout);
        output.page(&text)
    }
}
