//! Backup verbs: a copy of a database's file, and back.

use std::path::{Path, PathBuf};

use clap::Args;
use nextrung_store::error::StoreError;
use nextrung_store::log::Place;
use nextrung_store::sqlite::{BackedUp, back_up};
use serde_json::{Map, json};

use super::{Database, Trust, make_folder};
use crate::arguments::HELP;
use crate::failure::Failure;
use crate::output::Output;
use crate::service::{chain, not_started};

pub(super) const BACKUP: &str = "Examples:
  nextrung database backup --database hall.db --to hall-2026-11-28.db";
pub(super) const BACKUP_AFTER: &str = "The service may go on meanwhile: the copy is the database as it was at one moment, and every write \
that was acknowledged before the command began is in it. It is checked as a whole before it gets its name. It holds people's data as \
it was then, of those erased later too: keep it as safe as the database, and erase them again after a restore. For a PostgreSQL \
database see deploy/README.md.";
pub(super) const RESTORE: &str = "Examples:
  nextrung database restore --from hall-2026-11-28.db --to hall.db";
pub(super) const RESTORE_AFTER: &str = "Nothing is ever overwritten: move an old database away first, with its -wal, and stop its service. \
Whoever was erased after the backup was made is back then: erase them again.";

/// What to copy.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = BACKUP, after_help = BACKUP_AFTER)]
pub(crate) struct BackupArguments {
    /// The database's file
    #[arg(
        long,
        value_name = "FILE",
        env = "NEXTRUNG_DATABASE",
        hide_env_values = true,
        default_value = "nextrung.db",
        value_parser = Database::read
    )]
    database: Database,
    /// The file to make; it must not be there yet
    #[arg(long, value_name = "FILE")]
    to: PathBuf,
}

/// What to bring back.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = RESTORE, after_help = RESTORE_AFTER)]
pub(crate) struct RestoreArguments {
    /// The backup
    #[arg(long, value_name = "FILE")]
    from: PathBuf,
    /// The database's file to make; it must not be there yet
    #[arg(long, value_name = "FILE")]
    to: PathBuf,
}

/// Makes a backup.
pub(super) fn run(arguments: &BackupArguments, output: &mut Output) -> Result<(), Failure> {
    let Place::File(from) = arguments.database.place("--database", Trust::default())? else {
        return Err(Failure::usage(
            "a PostgreSQL database is backed up by its own programs",
            "See pg_dump in deploy/README.md.",
        ));
    };
    make_folder(&arguments.to)?;
    let copied = back_up(&from, &arguments.to).map_err(|error| refused(&error, &from))?;
    tell(&copied, (&from, &arguments.to), output)
}

/// Makes a database of a backup, with the lock of a service.
pub(super) fn restore(arguments: &RestoreArguments, output: &mut Output) -> Result<(), Failure> {
    let RestoreArguments { from, to } = arguments;
    make_folder(to)?;
    let _lock = nextrung_server::lock(to).map_err(|error| not_started(&error))?;
    let copied = back_up(from, to).map_err(|error| refused(&error, from))?;
    tell(&copied, (from, to), output)
}

fn refused(error: &StoreError, from: &Path) -> Failure {
    let message = chain(error);
    let advice = "Name the file of a service's database.";
    if matches!(error, StoreError::AlreadyExists { .. }) {
        Failure::usage(message, "Nothing is overwritten: name another file, or move that one away.")
    } else if matches!(error, StoreError::Foreign { .. } | StoreError::UnknownSchema { .. }) {
        Failure::usage(message, advice)
    } else if matches!(error, StoreError::Corrupt { .. } | StoreError::Unproven { .. }) {
        Failure::usage(
            format!("{} is damaged: {message}", from.display()),
            "Nothing was made. Take an older backup, and look at the disk it lay on.",
        )
    } else if !from.is_file() {
        Failure::usage(format!("there is no database {}", from.display()), advice)
    } else {
        Failure::internal(&message)
    }
}

fn tell(copied: &BackedUp, (from, to): (&Path, &Path), output: &mut Output) -> Result<(), Failure> {
    if output.is_json {
        let rows = copied.rows.iter().map(|(table, rows)| (table.clone(), json!(rows)));
        let told = json!({
            "file": to,
            "bytes": copied.bytes,
            "schema": copied.schema,
            "rows": Map::from_iter(rows),
        });
        return output.json(&told);
    }
    let rows =
        copied.rows.iter().map(|(table, rows)| format!("{rows} {table}")).collect::<Vec<_>>().join(", ");
    output.page(&format!(
        "{} has everything of {}, checked: {} bytes, {rows}\n",
        to.display(),
        from.display(),
        copied.bytes
    ))
}
