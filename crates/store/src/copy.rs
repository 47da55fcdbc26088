//! Copy: rosters from one log into another, all or nothing, with the proof that both are equal.

use std::collections::BTreeSet;

use nextrung_domain::ids::RosterId;
use tokio::sync::mpsc::{self, Sender};

use crate::error::StoreError;
use crate::key::KeyId;
use crate::page::Page;
use crate::row::{Parcel, QUEUE, Rows, Seal, Sealing, seal_of};

pub mod keys;

/// Rosters listed at once.
const PAGE: u32 = 1000;

/// A roster that both logs have now, equal row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Copied {
    /// The roster.
    pub roster: RosterId,
    /// What its rows come to in both logs.
    pub seal: Seal,
    /// True when the target had it already.
    pub was_there: bool,
}

/// Why nothing was copied.
#[derive(Debug, Clone, thiserror::Error)]
pub enum CopyError {
    /// The target has rosters of these names with other content.
    #[error("the target has other content under {}", list(rosters))]
    Differ {
        /// The rosters.
        rosters: Vec<RosterId>,
    },
    /// The target has keys of these ids with other content.
    #[error("the target has other content under the keys {}", ids(keys))]
    KeysDiffer {
        /// The keys.
        keys: Vec<KeyId>,
    },
    /// Somebody wrote to the source while it was read.
    #[error("{} was written to while it was copied; nothing was kept", list(std::slice::from_ref(roster)))]
    Moved {
        /// The roster.
        roster: RosterId,
    },
    /// One of the logs did not do as it was asked.
    #[error(transparent)]
    Store(#[from] StoreError),
}

fn list(rosters: &[RosterId]) -> String {
    rosters.iter().map(|roster| format!("`rosters/{roster}`")).collect::<Vec<_>>().join(", ")
}

fn ids(keys: &[KeyId]) -> String {
    keys.iter().map(KeyId::as_str).collect::<Vec<_>>().join(", ")
}

/// Copies rosters, or all when none is named, with everything that is kept about them. A roster that the target has with equal content is
/// passed over, so that a copy can be repeated; one that differs stops all before anything is written.
pub async fn copy(from: &impl Rows, to: &impl Rows, only: &[RosterId]) -> Result<Vec<Copied>, CopyError> {
    let wanted = if only.is_empty() { all_of(from).await? } else { these(from, only).await? };
    let (mut copied, mut missing, mut differ) = (Vec::new(), Vec::new(), Vec::new());
    for roster in wanted {
        match seal_of(to, &roster).await {
            Err(StoreError::NotFound { .. }) => missing.push(roster),
            Err(error) => return Err(error.into()),
            Ok(seal) if seal == seal_of(from, &roster).await? => {
                copied.push(Copied { roster, seal, was_there: true });
            }
            Ok(_) => differ.push(roster),
        }
    }
    if !differ.is_empty() {
        return Err(CopyError::Differ { rosters: differ });
    }
    if !missing.is_empty() {
        let (sender, parcels) = mpsc::channel(QUEUE);
        let (sent, taken) = tokio::join!(send(from, missing, sender), to.take(parcels));
        let sent = match (sent, taken) {
            // The one who sends ends early when the one who takes has failed, and the other way round.
            (Ok(_), Err(error)) => return Err(error.into()),
            (Err(error), _) => return Err(error),
            (Ok(sent), Ok(())) => sent,
        };
        copied.extend(sent.into_iter().map(|(roster, seal)| Copied { roster, seal, was_there: false }));
        copied.sort_by(|a, b| a.roster.cmp(&b.roster));
    }
    Ok(copied)
}

/// Each of some rosters once. Fails when one is not there.
async fn these(log: &impl Rows, only: &[RosterId]) -> Result<Vec<RosterId>, StoreError> {
    let only: BTreeSet<&RosterId> = only.iter().collect();
    let mut found = Vec::with_capacity(only.len());
    for roster in only {
        found.push(log.roster(roster).await?.id);
    }
    Ok(found)
}

async fn all_of(log: &impl Rows) -> Result<Vec<RosterId>, StoreError> {
    let mut found = Vec::new();
    let mut page = Page::first(PAGE);
    loop {
        let listing = log.rosters(&page, None).await?;
        found.extend(listing.items.into_iter().map(|record| record.id));
        match listing.next {
            Some(after) => page = Page::after(PAGE, after),
            None => return Ok(found),
        }
    }
}

/// Sends every row of some rosters, and the end once they have been read again and were the same.
async fn send(
    from: &impl Rows,
    rosters: Vec<RosterId>,
    to: Sender<Parcel>,
) -> Result<Vec<(RosterId, Seal)>, CopyError> {
    let mut sent = Vec::with_capacity(rosters.len());
    for roster in rosters {
        let seal = send_one(from, &roster, &to).await?;
        sent.push((roster, seal));
    }
    for (roster, seal) in &sent {
        if !to.is_closed() && seal_of(from, roster).await? != *seal {
            return Err(CopyError::Moved { roster: roster.clone() });
        }
    }
    // Whoever takes them has said why when it takes no more.
    drop(to.send(Parcel::End(sent.clone())).await);
    Ok(sent)
}

async fn send_one(from: &impl Rows, roster: &RosterId, to: &Sender<Parcel>) -> Result<Seal, StoreError> {
    let (sender, mut rows) = mpsc::channel(QUEUE);
    let pass = async move {
        let mut sealing = Sealing::default();
        while let Some(row) = rows.recv().await {
            sealing.add(&row)?;
            if to.send(Parcel::Row(roster.clone(), row)).await.is_err() {
                break;
            }
        }
        Ok::<_, StoreError>(sealing.seal())
    };
    let (given, seal) = tokio::join!(from.give(roster, sender), pass);
    given?;
    seal
}
