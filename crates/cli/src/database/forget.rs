//! Forget verb: takes the oldest part out of the record of accesses.

use clap::Args;
use nextrung_domain::date::CivilDate;
use nextrung_store::error::StoreError;
use nextrung_store::log::{Log, LogOptions};
use nextrung_store::page::Page;
use nextrung_store::store::Store;
use serde_json::json;

use crate::arguments::HELP;
use crate::calendar;
use crate::failure::Failure;
use crate::key::{DAY_MS, DatabaseFlag};
use crate::output::Output;
use crate::service::{chain, not_started};

const FORGET: &str = "Examples:
  nextrung database forget-accesses --before 2026-01-01 --database hall.db
  nextrung database forget-accesses --before 2026-01-01 --database postgres://USER@HOST/DATABASE";
const FORGET_AFTER: &str = "Who asked about whom is kept for good otherwise (nextrung athlete accesses). Services may go on meanwhile. \
The room of what is gone is used again; a file does not grow shorter.";

/// Rosters read at a time.
const PAGE: u32 = 500;

/// What to forget.
#[derive(Debug, Args)]
#[command(help_template = HELP, before_help = FORGET, after_help = FORGET_AFTER)]
pub(crate) struct ForgetArguments {
    /// The first day, in UTC, of which accesses are kept
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    before: CivilDate,
    #[command(flatten)]
    database: DatabaseFlag,
}

/// Forgets, and tells how much.
pub(super) async fn run(arguments: &ForgetArguments, output: &mut Output) -> Result<(), Failure> {
    let ForgetArguments { before, database } = arguments;
    let opened = Log::open(&database.there()?, LogOptions::default()).await;
    let log = opened.map_err(|error| not_started(&nextrung_server::StartError::Store(error)))?;
    let gone = forget(&log, i64::from(before.day_number()) * DAY_MS).await;
    let ended = log.close().await;
    let gone =
        gone.and_then(|gone| ended.map(|()| gone)).map_err(|error| Failure::internal(&chain(&error)))?;
    if output.is_json {
        return output.json(&json!({ "forgotten": gone }));
    }
    output.page(&format!("{gone} accesses before {before} are forgotten\n"))
}

async fn forget(log: &Log, before_ms: i64) -> Result<u64, StoreError> {
    let (mut gone, mut page) = (0, Page::first(PAGE));
    loop {
        let listing = log.rosters(&page, None).await?;
        for roster in listing.items {
            gone += log.forget_accesses(&roster.id, before_ms).await?;
        }
        match listing.next {
            Some(after) => page = Page::after(PAGE, after),
            None => return Ok(gone),
        }
    }
}
