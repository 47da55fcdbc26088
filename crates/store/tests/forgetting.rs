//! Accesses that are forgotten: the oldest of one roster, in either backend, however many.

#![cfg(unix)]

use std::error::Error;

use nextrung_domain::ids::RosterId;
use nextrung_store::access::AccessRecord;
use nextrung_store::conformance::scene;
use nextrung_store::log::{Log, LogOptions, Place};
use nextrung_store::page::Page;
use nextrung_store::postgres::throwaway;
use nextrung_store::store::Store;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

/// More than are forgotten at once.
const MANY: i64 = 12_000;

fn access(roster: &str, number: i64) -> Outcome<AccessRecord> {
    Ok(AccessRecord {
        entry: format!("e{number:06}"),
        at_ms: scene::NOW + number,
        roster: RosterId::new(roster)?,
        athlete: None,
        key: None,
        method: "nextrung.v1.SetLogService/ListSets".to_owned(),
        code: 0,
        request: None,
    })
}

async fn forgets(place: &Place) -> Outcome<()> {
    let log = Log::open(place, LogOptions::default()).await?;
    for roster in ["hall", "pier"] {
        log.create_roster(scene::roster(roster)?, None).await?;
        let all = (0..MANY).map(|number| access(roster, number)).collect::<Outcome<Vec<_>>>()?;
        log.record_accesses(all).await?;
    }
    let (hall, pier) = (RosterId::new("hall")?, RosterId::new("pier")?);
    assert_eq!(log.forget_accesses(&hall, scene::NOW).await?, 0, "none is older");
    assert_eq!(log.forget_accesses(&hall, scene::NOW + MANY - 2).await?, u64::try_from(MANY - 2)?);
    let left = log.accesses(&hall, None, &Page::first(9)).await?.items;
    assert_eq!(left, [access("hall", MANY - 1)?, access("hall", MANY - 2)?], "the last, the latest first");
    let there = log.accesses(&pier, None, &Page { size: 1, after: Some("e000001".to_owned()) }).await?.items;
    assert_eq!(there, [access("pier", 0)?], "nothing of another roster");
    log.close().await?;
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_oldest_go_from_a_file() -> Outcome<()> {
    let dir = tempfile::tempdir()?;
    forgets(&Place::File(dir.path().join("log.sqlite"))).await
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_oldest_go_from_a_database() -> Outcome<()> {
    forgets(&Place::parse(&throwaway::schema().await?)?).await
}
