//! Keys: those that reach nothing but copied rosters, put beside these, with the proof that both logs have the same.

use nextrung_domain::ids::RosterId;

use super::CopyError;
use crate::error::StoreError;
use crate::key::KeyRecord;
use crate::page::Page;
use crate::store::Store;

/// Keys read at a time.
const PAGE: u32 = 500;

/// Keys that a copy is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Keys {
    /// Those that the target lacks, in the order of their ids.
    missing: Vec<KeyRecord>,
    /// How many the target has already, the same.
    pub there: usize,
    /// How many stay where they are, since they reach rosters that are not copied, or none.
    pub left: usize,
}

impl Keys {
    /// Looks for the keys that go along with some rosters: those that reach nothing else, and all, those of operators among
    /// them, when no roster is named. Nothing is written. Fails with [`CopyError::KeysDiffer`] when the target has other
    /// content under the id of one.
    pub async fn find(from: &impl Store, to: &impl Store, only: &[RosterId]) -> Result<Self, CopyError> {
        let (mut keys, mut differ) = (Self { missing: Vec::new(), there: 0, left: 0 }, Vec::new());
        for key in all_of(from).await? {
            if !goes_along(&key, only) {
                keys.left += 1;
                continue;
            }
            match to.key(&key.id).await {
                Err(StoreError::NotFound { .. }) => keys.missing.push(key),
                Err(error) => return Err(error.into()),
                Ok(there) if there == key => keys.there += 1,
                Ok(there) => differ.push(there.id),
            }
        }
        if differ.is_empty() { Ok(keys) } else { Err(CopyError::KeysDiffer { keys: differ }) }
    }

    /// Puts those that the target lacks there, once it has their rosters, and reads them back; how many. What was put there
    /// before a failure stays, and is found there by a repeat. Fails with [`StoreError::Unproven`] among others.
    pub async fn put(&self, to: &impl Store) -> Result<usize, CopyError> {
        for key in &self.missing {
            to.create_key(key.clone()).await?;
        }
        for key in &self.missing {
            if to.key(&key.id).await? != *key {
                return Err(StoreError::Unproven { name: format!("keys/{}", key.id) }.into());
            }
        }
        Ok(self.missing.len())
    }
}

fn goes_along(key: &KeyRecord, only: &[RosterId]) -> bool {
    let is_copied = |roster: &RosterId| only.contains(roster);
    only.is_empty() || (!key.reaches.is_empty() && key.reaches.iter().all(|reach| is_copied(&reach.roster)))
}

async fn all_of(log: &impl Store) -> Result<Vec<KeyRecord>, StoreError> {
    let mut found = Vec::new();
    let mut page = Page::first(PAGE);
    loop {
        let listing = log.keys(&page).await?;
        found.extend(listing.items);
        match listing.next {
            Some(after) => page = Page::after(PAGE, after),
            None => return Ok(found),
        }
    }
}
