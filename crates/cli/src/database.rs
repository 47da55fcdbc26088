//! Database: where a log is kept, and the verbs that copy rosters from one place to another, back a file up and restore it, and
//! shorten the record of accesses.

use std::convert::Infallible;
use std::fs::File;
use std::path::Path;

use clap::{ArgAction, Args, Subcommand};
use nextrung_domain::ids::RosterId;
use nextrung_store::copy::keys::Keys;
use nextrung_store::copy::{Copied, CopyError, copy};
use nextrung_store::error::StoreError;
use nextrung_store::log::{Log, LogOptions, Place};
use nextrung_store::postgres::BadAddress;
use nextrung_store::store::Store;
use serde_json::json;

use crate::arguments::HELP;
use crate::failure::Failure;
use crate::output::{Layout, Output};
use crate::paragraph::paragraph;
use crate::service::{chain, make_folder, not_started};
use crate::table::Columns;

mod backup;
mod forget;

use backup::{BackupArguments, RestoreArguments};
use forget::ForgetArguments;

const VERBS: &str = "Examples:
  nextrung database copy --from hall.db --to postgres://USER@HOST/DATABASE
  nextrung database copy hall --from postgres://USER@HOST/DATABASE --to hall.db";
const AFTER: &str = "A copy holds everything that is kept about a roster: events in their order with their arrivals, \
prescriptions as issued, and the ids of requests, so that repeats are known in the new place too. Everything is read back and \
compared before it is kept; after any failure the target is as it was. A roster that is there already with the same content is \
passed over, so that the command can be repeated; with other content, nothing is copied. Keys follow the rosters: those that \
reach nothing else, with their ends and revocations, and operators' keys too when no roster is named; a failure among them is \
made good by a repeat. The record of accesses stays where it was made. Stop the services on both first. The password of an \
address may stand in PGPASSWORD.";

/// Copy rosters between a file and a PostgreSQL database; back a file up and restore it.
#[derive(Debug, Subcommand)]
#[command(help_template = HELP, disable_help_subcommand = true, before_help = VERBS)]
pub(crate) enum DatabaseVerb {
    /// Copy rosters, all or none, and prove that both places have the same
    #[command(help_template = HELP, before_help = VERBS, after_help = AFTER)]
    Copy(CopyArguments),
    /// Copy a database's file as it is at one moment, while a service uses it, and check the copy
    Backup(BackupArguments),
    /// Make a database's file of a backup; nothing is ever overwritten
    Restore(RestoreArguments),
    /// Take the oldest part out of the record of who asked about whom
    ForgetAccesses(ForgetArguments),
}

/// What to copy.
#[derive(Debug, Args)]
pub(crate) struct CopyArguments {
    /// The rosters; all when none is named
    #[arg(value_name = "ROSTER")]
    rosters: Vec<String>,
    /// Where they are: a file, or the address of a PostgreSQL database
    #[arg(long, value_name = "FILE|URL", value_parser = Database::read)]
    from: Database,
    /// Where they go: a file, which is made when it is not there, or the address of a PostgreSQL database
    #[arg(long, value_name = "FILE|URL", value_parser = Database::read)]
    to: Database,
    #[command(flatten)]
    trust: Trust,
}

/// What is trusted on the way to a database.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq, Args)]
pub(crate) struct Trust {
    /// True to reach a PostgreSQL database on another machine as its address says, without TLS if it says nothing
    #[arg(
        long = "postgres-trusted-network",
        value_name = "BOOLEAN",
        env = "NEXTRUNG_POSTGRES_TRUSTED_NETWORK",
        action = ArgAction::Set,
        default_value_t = false
    )]
    is_network_trusted: bool,
}

/// A place as it was written. What is wrong with it is told later and not by the parser of arguments, which would repeat it
/// with its password.
#[derive(Debug, Clone)]
pub(crate) struct Database(Result<Place, BadAddress>);

impl Database {
    /// Takes any text.
    pub(crate) fn read(text: &str) -> Result<Self, Infallible> {
        Ok(Self(Place::parse(text)))
    }

    /// The place. Fails on a bad address.
    pub(crate) fn place(&self, flag: &str, trust: Trust) -> Result<Place, Failure> {
        let bad = |bad: BadAddress| Failure::usage(format!("{flag}: {bad}"), "Mend the address.");
        self.0.clone().map(|place| place.trusting(trust.is_network_trusted)).map_err(bad)
    }
}

/// Does what the verb says.
pub(crate) async fn run(verb: &DatabaseVerb, mut output: Output) -> Result<(), Failure> {
    match verb {
        DatabaseVerb::Copy(arguments) => copied(arguments, output).await,
        DatabaseVerb::Backup(arguments) => backup::run(arguments, &mut output),
        DatabaseVerb::Restore(arguments) => backup::restore(arguments, &mut output),
        DatabaseVerb::ForgetAccesses(arguments) => forget::run(arguments, &mut output).await,
    }
}

async fn copied(arguments: &CopyArguments, mut output: Output) -> Result<(), Failure> {
    let CopyArguments { rosters, from, to, trust } = arguments;
    let (from, to) = (from.place("--from", *trust)?, to.place("--to", *trust)?);
    let rosters = rosters.iter().map(|name| named(name)).collect::<Result<Vec<_>, _>>()?;
    if from == to {
        return Err(Failure::usage("--from and --to are the same place", "Name another place with --to."));
    }
    let (source, _from) = open(&from, true).await?;
    let (target, _to) = open(&to, false).await?;
    // Before anything is written: a key that differs stops all.
    let keys = Keys::find(&source, &target, &rosters).await.map_err(|error| refused(&error))?;
    let copied = copy(&source, &target, &rosters).await.map_err(|error| refused(&error))?;
    let put = keys.put(&target).await.map_err(|error| refused(&error))?;
    for log in [&source, &target] {
        log.close().await.map_err(|error| Failure::internal(&chain(&error)))?;
    }
    if output.is_json {
        return output.json(&json!({
            "rosters": copied.iter().map(as_json).collect::<Vec<_>>(),
            "keys": { "copied": put, "wereThere": keys.there, "leftBehind": keys.left },
        }));
    }
    let page = page(&copied, &to, output.layout) + &told_of_keys(put, &keys, output.layout);
    output.page(&page)
}

fn told_of_keys(put: usize, keys: &Keys, layout: Layout) -> String {
    let left = match keys.left {
        0 => String::new(),
        left => format!(" {left} stay behind: they reach other rosters, or are operators'."),
    };
    let told = format!(
        "{put} keys copied, {} were there.{left} The record of accesses stays where it was made.",
        keys.there
    );
    paragraph(&told, layout.width, 0)
}

fn named(name: &str) -> Result<RosterId, Failure> {
    let id = name.strip_prefix("rosters/").unwrap_or(name);
    let bad = |error| Failure::usage(format!("`{name}` names no roster: {error}"), "Name it as in hall.");
    RosterId::new(id).map_err(bad)
}

/// Opens a place and keeps services from its file until the lock is dropped.
async fn open(place: &Place, is_source: bool) -> Result<(Log, Option<File>), Failure> {
    let lock = match place {
        Place::File(path) => Some(locked(path, is_source)?),
        Place::Postgres(_) => None,
    };
    let opened = Log::open(place, LogOptions::default()).await;
    let log = opened.map_err(|error| not_started(&nextrung_server::StartError::Store(error)))?;
    Ok((log, lock))
}

fn locked(path: &Path, is_source: bool) -> Result<File, Failure> {
    if is_source && !path.is_file() {
        let message = format!("there is no database {}", path.display());
        return Err(Failure::usage(message, "Name the file that the service was started with."));
    }
    make_folder(path)?;
    nextrung_server::lock(path).map_err(|error| not_started(&error))
}

fn refused(error: &CopyError) -> Failure {
    let message = chain(error);
    match error {
        CopyError::Differ { .. } => {
            Failure::usage(message, "Name other rosters, or a database that does not hold them yet.")
        }
        CopyError::KeysDiffer { .. } => Failure::usage(
            message,
            "Nothing was copied. A key that was revoked in one place is to be revoked in the other: nextrung key revoke ID --database ...",
        ),
        CopyError::Moved { .. } => Failure::usage(message, "Stop the services on it, and try again."),
        CopyError::Store(StoreError::NotFound { .. }) => {
            Failure::NotFound { message, advice: "See nextrung roster list.".to_owned() }
        }
        CopyError::Store(_) => Failure::internal(&message),
    }
}

fn digest(copied: &Copied) -> String {
    copied.seal.digest.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn as_json(copied: &Copied) -> serde_json::Value {
    let counts = copied.seal.counts;
    json!({
        "roster": copied.roster.as_str(),
        "wasThere": copied.was_there,
        "athletes": counts.athletes,
        "events": counts.events,
        "prescriptions": counts.prescriptions,
        "requests": counts.requests,
        "sha256": digest(copied),
    })
}

fn page(copied: &[Copied], to: &Place, layout: Layout) -> String {
    let mut table = Columns::new(&[
        "roster",
        "",
        ">athletes",
        ">events",
        ">prescriptions",
        ">requests",
        "sha-256 in both",
    ]);
    for one in copied {
        let counts = one.seal.counts;
        let how = if one.was_there { "was there" } else { "copied" };
        let figures = [counts.athletes, counts.events, counts.prescriptions, counts.requests];
        let short: String = digest(one).chars().take(16).collect();
        let cells = [one.roster.to_string(), how.to_owned()].into_iter();
        table.row(cells.chain(figures.map(|figure| figure.to_string())).chain([short]));
    }
    let count = copied.iter().filter(|one| !one.was_there).count();
    let end = format!("{count} of {} rosters copied to {to}; both places have the same.", copied.len());
    format!("{}\n{}", table.render(layout), paragraph(&end, layout.width, 0))
}
