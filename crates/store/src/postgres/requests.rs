//! Requests in SQL: what makes a write happen once, whoever sends it through whichever replica.

use std::sync::Arc;

use deadpool_postgres::{GenericClient, Transaction};

use super::prescriptions;
use super::query::{change, column, first, from_json, to_json};
use super::writer::Write;
use crate::append::Appended;
use crate::error::StoreError;
use crate::request::{Answer, Receipt, Replayable, RequestKey};

/// The same request was done by another transaction in the middle of this one, which must begin anew to see its answer.
#[derive(Debug, thiserror::Error)]
#[error("the same request was done at the same time")]
pub(super) struct Overtaken;

/// Does `write` and keeps its answer, or gives the answer kept for the same request.
///
/// Two transactions that do the same request meet in the primary key of the requests, where the later waits for the end of
/// the earlier; on their way there they may meet in what they write, which the later then finds taken.
pub(super) async fn once<W: Write>(
    tx: &Transaction<'_>,
    request: Option<&RequestKey>,
    write: &W,
) -> Result<W::Done, StoreError> {
    let Some(key) = request else { return write.run(tx).await };
    if let Some(answer) = answered(tx, key).await? {
        return W::Done::again(answer).ok_or_else(|| key.reused());
    }
    let done = match write.run(tx).await {
        Ok(done) => done,
        Err(error) if is_answer(&error) => {
            return match answered(tx, key).await? {
                Some(answer) => W::Done::again(answer).ok_or_else(|| key.reused()),
                None => Err(error),
            };
        }
        Err(error) => return Err(error),
    };
    if insert(tx, key, &done.receipt()).await? {
        return Ok(done);
    }
    Err(StoreError::Backend { doing: "keeping an answer", source: Arc::new(Overtaken) })
}

/// True when an error says what the log holds, so that the transaction can go on.
fn is_answer(error: &StoreError) -> bool {
    matches!(
        error,
        StoreError::NotFound { .. }
            | StoreError::AlreadyExists { .. }
            | StoreError::Moved { .. }
            | StoreError::SetIdTaken { .. }
            | StoreError::SetUnknown { .. }
    )
}

/// What the request was answered, if it was done.
pub(super) async fn answered(
    conn: &impl GenericClient,
    key: &RequestKey,
) -> Result<Option<Answer>, StoreError> {
    key.check()?;
    let RequestKey { roster, method, id, fingerprint } = key;
    let sql =
        "SELECT fingerprint, receipt FROM requests WHERE roster = $1 AND method = $2 AND request_id = $3";
    let Some(row) = first(conn, sql, &[&roster.as_str(), method, id]).await? else { return Ok(None) };
    if column::<&[u8]>(&row, 0)? != fingerprint {
        return Err(key.reused());
    }
    let receipt = from_json(column(&row, 1)?, || format!("the answer to request {id} of rosters/{roster}"))?;
    answer(conn, receipt).await.map(Some)
}

async fn answer(conn: &impl GenericClient, receipt: Receipt) -> Result<Answer, StoreError> {
    Ok(match receipt {
        Receipt::Roster { roster } => Answer::Roster(roster),
        Receipt::Athlete { athlete } => Answer::Athlete(athlete),
        Receipt::Appended { athlete, first, last, arrived_at_ms } => {
            let appended =
                Appended { first_sequence: first, last_sequence: last, arrived_at_ms, was_replay: true };
            Answer::Appended(athlete, appended)
        }
        Receipt::Prescription { athlete, id } => {
            Answer::Prescription(prescriptions::get(conn, &athlete, id.as_str()).await?)
        }
        Receipt::Erased { erased } => Answer::Erased(erased),
    })
}

/// False when another transaction has kept an answer to the same request.
async fn insert(tx: &Transaction<'_>, key: &RequestKey, receipt: &Receipt) -> Result<bool, StoreError> {
    let RequestKey { roster, method, id, fingerprint } = key;
    let sql = "INSERT INTO requests (roster, method, request_id, fingerprint, receipt)
               VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING";
    let digest = fingerprint.as_slice();
    let kept = change(tx, sql, &[&roster.as_str(), method, id, &digest, &to_json(receipt)?]).await?;
    Ok(kept == 1)
}
