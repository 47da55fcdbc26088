//! Events in SQL.

use std::collections::BTreeSet;

use deadpool_postgres::{GenericClient, Transaction};
use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use tokio_postgres::Row;

use super::athletes;
use super::query::{all, change, column, corrupt, count, integer, to_json};
use super::writer::Write;
use crate::append::{Append, Appended};
use crate::error::StoreError;
use crate::event_text::Reader;
use crate::{batch, event_text};

/// Adds rows to the events of one athlete: one statement, however many.
pub(super) const INSERT: &str =
    "INSERT INTO events (roster, athlete, sequence, kind, client_set_id, arrived_at_ms, body)
     SELECT $1, $2, one.sequence, one.kind, one.client_set_id, one.arrived_at_ms, one.body
     FROM unnest($3::bigint[], $4::text[], $5::text[], $6::bigint[], $7::text[])
       AS one (sequence, kind, client_set_id, arrived_at_ms, body)";

fn read(rows: &[Row], athlete: &AthleteRef) -> Result<Vec<StoredEvent>, StoreError> {
    let mut bodies = Reader::new();
    let mut one = |row: &Row| {
        let sequence = count(row, 0)?;
        let body = bodies
            .read(column(row, 1)?, column(row, 3)?)
            .map_err(|error| corrupt(format!("event {sequence} of {athlete}"), error))?;
        Ok(StoredEvent { sequence, arrived_at_ms: column(row, 2)?, body })
    };
    rows.iter().map(&mut one).collect()
}

pub(super) async fn insert(
    tx: &Transaction<'_>,
    athlete: &AthleteRef,
    first: u64,
    arrived_at_ms: i64,
    bodies: &[EventBody],
) -> Result<(), StoreError> {
    let sequences: Vec<i64> = (first..).map(integer).take(bodies.len()).collect();
    let kinds: Vec<&str> = bodies.iter().map(event_text::kind).collect();
    let sets: Vec<Option<&str>> =
        bodies.iter().map(|body| body.client_set_id().map(ClientSetId::as_str)).collect();
    let arrivals = vec![arrived_at_ms; bodies.len()];
    let texts = bodies.iter().map(to_json).collect::<Result<Vec<_>, _>>()?;
    let (roster, id) = (athlete.roster.as_str(), athlete.athlete.as_str());
    change(tx, INSERT, &[&roster, &id, &sequences, &kinds, &sets, &arrivals, &texts]).await?;
    Ok(())
}

impl Write for Append {
    type Done = (AthleteRef, Appended);

    fn place(&self) -> [&str; 2] {
        [self.athlete.roster.as_str(), self.athlete.athlete.as_str()]
    }

    async fn run(&self, tx: &Transaction<'_>) -> Result<Self::Done, StoreError> {
        let Self { athlete, request: _, expected_sequence, arrived_at_ms, events } = self;
        let before = athletes::lock(tx, athlete).await?;
        if let Some(expected) = expected_sequence.filter(|expected| *expected != before) {
            return Err(StoreError::Moved { expected, actual: before });
        }
        batch::check(events, recorded(tx, athlete, events).await?)?;
        insert(tx, athlete, before + 1, *arrived_at_ms, events).await?;
        let last = (before..).nth(events.len()).unwrap_or(u64::MAX);
        let profile = batch::last_profile(events).map(|profile| (profile, *arrived_at_ms));
        athletes::advance(tx, athlete, last, profile).await?;
        let appended = Appended {
            first_sequence: before + 1,
            last_sequence: last,
            arrived_at_ms: *arrived_at_ms,
            was_replay: false,
        };
        Ok((athlete.clone(), appended))
    }
}

/// Whether the log has an event with that sequence.
pub(super) async fn has(
    conn: &impl GenericClient,
    athlete: &AthleteRef,
    sequence: u64,
) -> Result<bool, StoreError> {
    let sql = "SELECT 1 FROM events WHERE roster = $1 AND athlete = $2 AND sequence = $3";
    let (roster, id) = (athlete.roster.as_str(), athlete.athlete.as_str());
    Ok(super::query::first(conn, sql, &[&roster, &id, &integer(sequence)]).await?.is_some())
}

/// Those sets of `events` that the log has already.
async fn recorded<'e>(
    tx: &Transaction<'_>,
    athlete: &AthleteRef,
    events: &'e [EventBody],
) -> Result<BTreeSet<&'e ClientSetId>, StoreError> {
    let mut sets = batch::sets(events);
    if sets.is_empty() {
        return Ok(sets);
    }
    let sql = "SELECT client_set_id FROM events
               WHERE roster = $1 AND athlete = $2 AND kind = 'recorded' AND client_set_id = ANY($3)";
    let ids: Vec<&str> = sets.iter().map(|set| set.as_str()).collect();
    let rows = all(tx, sql, &[&athlete.roster.as_str(), &athlete.athlete.as_str(), &ids]).await?;
    let found = rows.iter().map(|row| column(row, 0)).collect::<Result<BTreeSet<&str>, _>>()?;
    sets.retain(|set| found.contains(set.as_str()));
    Ok(sets)
}

pub(super) async fn list(
    conn: &impl GenericClient,
    athlete: &AthleteRef,
    (after, up_to): (u64, Option<u64>),
    limit: u32,
) -> Result<Vec<StoredEvent>, StoreError> {
    let sql = "SELECT sequence, kind, arrived_at_ms, body FROM events
               WHERE roster = $1 AND athlete = $2 AND sequence > $3 AND sequence <= $4
               ORDER BY sequence LIMIT $5";
    let (roster, id) = (athlete.roster.as_str(), athlete.athlete.as_str());
    let (after, up_to, limit) = (integer(after), integer(up_to.unwrap_or(u64::MAX)), i64::from(limit));
    let values: [&(dyn tokio_postgres::types::ToSql + Sync); 5] = [&roster, &id, &after, &up_to, &limit];
    // Both go out at once and are answered in this order. Of an athlete erased in between there are no events, as at the
    // end of the log before; of one made anew there is a gap in front of them.
    let (_, rows) = tokio::try_join!(athletes::last_sequence(conn, athlete), all(conn, sql, &values))?;
    read(&rows, athlete)
}

pub(super) async fn of_sets(
    conn: &impl GenericClient,
    athlete: &AthleteRef,
    sets: &[ClientSetId],
) -> Result<Vec<StoredEvent>, StoreError> {
    // Each half has an index of its own; one statement sees one moment.
    let sql = "SELECT sequence, kind, arrived_at_ms, body FROM events
               WHERE roster = $1 AND athlete = $2 AND kind = 'recorded' AND client_set_id = ANY($3)
               UNION ALL
               SELECT sequence, kind, arrived_at_ms, body FROM events
               WHERE roster = $1 AND athlete = $2 AND kind IN ('corrected', 'withdrawn')
                 AND client_set_id = ANY($3)
               ORDER BY sequence";
    let ids: Vec<&str> = sets.iter().map(ClientSetId::as_str).collect();
    let (roster, id) = (athlete.roster.as_str(), athlete.athlete.as_str());
    let values: [&(dyn tokio_postgres::types::ToSql + Sync); 3] = [&roster, &id, &ids];
    let (_, rows) = tokio::try_join!(athletes::last_sequence(conn, athlete), all(conn, sql, &values))?;
    read(&rows, athlete)
}
