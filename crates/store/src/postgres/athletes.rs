//! Athletes in SQL.

use std::collections::BTreeMap;

use deadpool_postgres::{GenericClient, Transaction};
use nextrung_domain::event::EventBody;
use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
use nextrung_domain::profile::Profile;
use tokio_postgres::Row;

use super::query::{all, change, column, corrupt, count, first, from_json, integer, to_json};
use super::writer::Write;
use super::{erasures, events, rosters};
use crate::error::StoreError;
use crate::page::{Listing, Page};
use crate::record::{AthleteRecord, NewAthlete, Written};

fn missing(id: &AthleteRef) -> StoreError {
    StoreError::NotFound { what: "athlete", name: id.to_string() }
}

fn read(row: &Row, roster: &RosterId) -> Result<AthleteRecord, StoreError> {
    let athlete = AthleteId::new(column(row, 0)?).map_err(|error| corrupt("an athlete's id", error))?;
    let id = AthleteRef { roster: roster.clone(), athlete };
    Ok(AthleteRecord {
        profile: from_json(column(row, 1)?, || format!("the profile of {id}"))?,
        created_at_ms: column(row, 2)?,
        updated_at_ms: column(row, 3)?,
        last_sequence: count(row, 4)?,
        id,
    })
}

impl Write for NewAthlete {
    type Done = Written<AthleteRecord>;

    fn place(&self) -> [&str; 2] {
        [self.id.roster.as_str(), self.id.athlete.as_str()]
    }

    async fn run(&self, tx: &Transaction<'_>) -> Result<Self::Done, StoreError> {
        let Self { id, profile, created_at_ms } = self.clone();
        rosters::check(tx, &id.roster).await?;
        let sql =
            "INSERT INTO athletes (roster, athlete, profile, created_at_ms, updated_at_ms, last_sequence)
                   VALUES ($1, $2, $3, $4, $4, 1) ON CONFLICT DO NOTHING";
        let (roster, athlete) = (id.roster.as_str(), id.athlete.as_str());
        if change(tx, sql, &[&roster, &athlete, &to_json(&profile)?, &created_at_ms]).await? == 0 {
            return Err(StoreError::AlreadyExists { what: "athlete", name: id.to_string() });
        }
        let body = EventBody::Profiled { profile: Box::new(profile.clone()) };
        // Only now is every erasure of this id over and seen: the row had to wait for it.
        let last_sequence = erasures::first_sequence(tx, &id.roster).await?;
        events::insert(tx, &id, last_sequence, created_at_ms, &[body]).await?;
        if last_sequence > 1 {
            advance(tx, &id, last_sequence, None).await?;
        }
        let record =
            AthleteRecord { id, profile, created_at_ms, updated_at_ms: created_at_ms, last_sequence };
        Ok(Written { record, was_replay: false })
    }
}

pub(super) async fn get(conn: &impl GenericClient, id: &AthleteRef) -> Result<AthleteRecord, StoreError> {
    let sql = "SELECT athlete, profile, created_at_ms, updated_at_ms, last_sequence FROM athletes
               WHERE roster = $1 AND athlete = $2";
    let found = first(conn, sql, &[&id.roster.as_str(), &id.athlete.as_str()]).await?;
    read(&found.ok_or_else(|| missing(id))?, &id.roster)
}

/// Sequence of the log's last event. Fails with [`StoreError::NotFound`].
pub(super) async fn last_sequence(conn: &impl GenericClient, id: &AthleteRef) -> Result<u64, StoreError> {
    let sql = "SELECT last_sequence FROM athletes WHERE roster = $1 AND athlete = $2";
    let found = first(conn, sql, &[&id.roster.as_str(), &id.athlete.as_str()]).await?;
    count(&found.ok_or_else(|| missing(id))?, 0)
}

/// Sequences of the logs' last events, in the order asked; one statement for each roster.
pub(super) async fn positions(
    conn: &impl GenericClient,
    athletes: &[AthleteRef],
) -> Result<Vec<u64>, StoreError> {
    let mut by_roster: BTreeMap<&RosterId, Vec<&str>> = BTreeMap::new();
    for id in athletes {
        by_roster.entry(&id.roster).or_default().push(id.athlete.as_str());
    }
    let sql = "SELECT athlete, last_sequence FROM athletes WHERE roster = $1 AND athlete = ANY($2)";
    let mut found = BTreeMap::new();
    for (roster, ids) in by_roster {
        for row in all(conn, sql, &[&roster.as_str(), &ids]).await? {
            found.insert((roster, column::<String>(&row, 0)?), count(&row, 1)?);
        }
    }
    let position = |id: &AthleteRef| found.get(&(&id.roster, id.athlete.to_string())).copied();
    athletes.iter().map(|id| position(id).ok_or_else(|| missing(id))).collect()
}

/// Keeps everybody else from writing to the athlete's log, and from erasing it, until the transaction ends; the sequence of its
/// last event. Fails with [`StoreError::NotFound`].
pub(super) async fn lock(tx: &Transaction<'_>, id: &AthleteRef) -> Result<u64, StoreError> {
    let sql = "SELECT last_sequence FROM athletes WHERE roster = $1 AND athlete = $2 FOR NO KEY UPDATE";
    let found = first(tx, sql, &[&id.roster.as_str(), &id.athlete.as_str()]).await?;
    count(&found.ok_or_else(|| missing(id))?, 0)
}

/// The same, and waits for everybody who holds the athlete.
pub(super) async fn lock_whole(tx: &Transaction<'_>, id: &AthleteRef) -> Result<u64, StoreError> {
    let sql = "SELECT last_sequence FROM athletes WHERE roster = $1 AND athlete = $2 FOR UPDATE";
    let found = first(tx, sql, &[&id.roster.as_str(), &id.athlete.as_str()]).await?;
    count(&found.ok_or_else(|| missing(id))?, 0)
}

/// Keeps the athlete from being erased until the transaction ends; the sequence of the last event. Fails with
/// [`StoreError::NotFound`].
pub(super) async fn hold(tx: &Transaction<'_>, id: &AthleteRef) -> Result<u64, StoreError> {
    let sql = "SELECT last_sequence FROM athletes WHERE roster = $1 AND athlete = $2 FOR KEY SHARE";
    let found = first(tx, sql, &[&id.roster.as_str(), &id.athlete.as_str()]).await?;
    count(&found.ok_or_else(|| missing(id))?, 0)
}

pub(super) async fn list(
    conn: &impl GenericClient,
    roster: &RosterId,
    page: &Page,
) -> Result<Listing<AthleteRecord>, StoreError> {
    rosters::check(conn, roster).await?;
    let sql = "SELECT athlete, profile, created_at_ms, updated_at_ms, last_sequence FROM athletes
               WHERE roster = $1 AND athlete > $2 ORDER BY athlete LIMIT $3";
    let after = page.after.as_deref().unwrap_or_default();
    let found = all(conn, sql, &[&roster.as_str(), &after, &page.rows()?]).await?;
    let found = found.iter().map(|row| read(row, roster)).collect::<Result<_, _>>()?;
    Ok(Listing::cut(found, page, |record: &AthleteRecord| record.id.athlete.as_str()))
}

/// Moves the log's end to `last`, and puts a profile in force when it has a new one.
pub(super) async fn advance(
    tx: &Transaction<'_>,
    id: &AthleteRef,
    last: u64,
    profile: Option<(&Profile, i64)>,
) -> Result<(), StoreError> {
    let (roster, athlete, last) = (id.roster.as_str(), id.athlete.as_str(), integer(last));
    let changed = match profile {
        None => {
            let sql = "UPDATE athletes SET last_sequence = $3 WHERE roster = $1 AND athlete = $2";
            change(tx, sql, &[&roster, &athlete, &last]).await?
        }
        Some((profile, arrived_at_ms)) => {
            let sql = "UPDATE athletes SET last_sequence = $3, profile = $4, updated_at_ms = $5
                       WHERE roster = $1 AND athlete = $2";
            change(tx, sql, &[&roster, &athlete, &last, &to_json(profile)?, &arrived_at_ms]).await?
        }
    };
    if changed == 1 { Ok(()) } else { Err(missing(id)) }
}
