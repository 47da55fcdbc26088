//! Rosters in SQL. A title is kept as JSON text, because PostgreSQL's own text cannot hold every sign.

use deadpool_postgres::{GenericClient, Transaction};
use nextrung_domain::ids::RosterId;
use tokio_postgres::Row;

use super::query::{all, change, column, corrupt, first, from_json, to_json};
use super::writer::Write;
use crate::error::StoreError;
use crate::key::KeyId;
use crate::page::{Listing, Page};
use crate::record::{NewRoster, RosterChange, RosterRecord, Written};

fn name(id: &RosterId) -> String {
    format!("rosters/{id}")
}

fn missing(id: &RosterId) -> StoreError {
    StoreError::NotFound { what: "roster", name: name(id) }
}

fn read(row: &Row) -> Result<RosterRecord, StoreError> {
    let id = RosterId::new(column(row, 0)?).map_err(|error| corrupt("a roster's id", error))?;
    let bands = column::<Option<&str>>(row, 2)?;
    let bands = bands.map(|bands| from_json(bands, || format!("the bands of {}", name(&id)))).transpose()?;
    Ok(RosterRecord {
        title: from_json(column(row, 1)?, || format!("the title of {}", name(&id)))?,
        bands,
        created_at_ms: column(row, 3)?,
        updated_at_ms: column(row, 4)?,
        id,
    })
}

impl Write for NewRoster {
    type Done = Written<RosterRecord>;

    fn place(&self) -> [&str; 2] {
        [self.id.as_str(), ""]
    }

    async fn run(&self, tx: &Transaction<'_>) -> Result<Self::Done, StoreError> {
        let Self { id, title, bands, created_at_ms } = self;
        let sql = "INSERT INTO rosters (roster, title, bands, created_at_ms, updated_at_ms)
                   VALUES ($1, $2, $3, $4, $4) ON CONFLICT DO NOTHING";
        let text = bands.as_ref().map(to_json).transpose()?;
        if change(tx, sql, &[&id.as_str(), &to_json(title)?, &text, created_at_ms]).await? == 0 {
            return Err(StoreError::AlreadyExists { what: "roster", name: name(id) });
        }
        let (created_at_ms, updated_at_ms) = (*created_at_ms, *created_at_ms);
        let (id, title, bands) = (id.clone(), title.clone(), *bands);
        let record = RosterRecord { id, title, bands, created_at_ms, updated_at_ms };
        Ok(Written { record, was_replay: false })
    }
}

impl Write for RosterChange {
    type Done = Written<RosterRecord>;

    fn place(&self) -> [&str; 2] {
        [self.id.as_str(), ""]
    }

    async fn run(&self, tx: &Transaction<'_>) -> Result<Self::Done, StoreError> {
        let Self { id, title, bands, updated_at_ms } = self;
        let sql = "UPDATE rosters SET title = coalesce($2, title), updated_at_ms = $5,
                     bands = CASE WHEN $3 THEN $4 ELSE bands END
                   WHERE roster = $1 RETURNING roster, title, bands, created_at_ms, updated_at_ms";
        let title = title.as_ref().map(to_json).transpose()?;
        let text = bands.as_ref().and_then(Option::as_ref).map(to_json).transpose()?;
        let found = first(tx, sql, &[&id.as_str(), &title, &bands.is_some(), &text, updated_at_ms]).await?;
        let record = read(&found.ok_or_else(|| missing(id))?)?;
        Ok(Written { record, was_replay: false })
    }
}

pub(super) async fn get(conn: &impl GenericClient, id: &RosterId) -> Result<RosterRecord, StoreError> {
    let sql = "SELECT roster, title, bands, created_at_ms, updated_at_ms FROM rosters WHERE roster = $1";
    read(&first(conn, sql, &[&id.as_str()]).await?.ok_or_else(|| missing(id))?)
}

/// Fails with [`StoreError::NotFound`].
pub(super) async fn check(conn: &impl GenericClient, id: &RosterId) -> Result<(), StoreError> {
    let sql = "SELECT 1 FROM rosters WHERE roster = $1";
    first(conn, sql, &[&id.as_str()]).await?.map(drop).ok_or_else(|| missing(id))
}

/// Rosters in the order of their ids; with a key, those of which it reaches everybody.
pub(super) async fn list(
    conn: &impl GenericClient,
    page: &Page,
    within: Option<&KeyId>,
) -> Result<Listing<RosterRecord>, StoreError> {
    let sql = "SELECT roster, title, bands, created_at_ms, updated_at_ms FROM rosters
               WHERE roster > $1 AND ($3::TEXT IS NULL OR EXISTS (
                 SELECT 1 FROM reaches WHERE reaches.roster = rosters.roster AND key = $3 AND athlete = ''))
               ORDER BY roster LIMIT $2";
    let after = page.after.as_deref().unwrap_or_default();
    let found = all(conn, sql, &[&after, &page.rows()?, &within.map(KeyId::as_str)]).await?;
    let found = found.iter().map(read).collect::<Result<_, _>>()?;
    Ok(Listing::cut(found, page, |roster| roster.id.as_str()))
}
