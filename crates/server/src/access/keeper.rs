//! Keeper: makes, lists and revokes keys in a database, whether a service runs on it or not.

use nextrung_domain::ids::{AthleteId, RosterId};
use nextrung_domain::problem::Problem;
use nextrung_engine::clock::{Clock, SystemClock};
use nextrung_store::error::StoreError;
use nextrung_store::key::{KeyId, KeyRecord, Reach, Role};
use nextrung_store::log::{Log, LogOptions, Place};
use nextrung_store::page::Page;
use nextrung_store::store::Store;

use super::key_text::KeyText;
use crate::fields::{Read, quoted};

/// Longest title, bytes.
const MAX_TITLE: usize = 120;
/// Keys read at a time.
const CHUNK: u32 = 500;

/// Why keys could not be kept.
#[derive(Debug, thiserror::Error)]
pub enum KeeperError {
    /// What was asked for makes no key.
    #[error("{}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    BadKey {
        /// Every bad part.
        problems: Vec<Problem>,
    },
    /// The store did not do it.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The machine gives no random bits.
    #[error("no random bits for a key: {source}")]
    Random {
        /// What the system said.
        source: getrandom::Error,
    },
}

/// A key to make.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewKey {
    /// What its holder does, by its word.
    pub role: String,
    /// Whose it is, in words.
    pub title: String,
    /// Rosters by their ids.
    pub rosters: Vec<String>,
    /// Athlete by its id.
    pub athlete: Option<String>,
    /// From then on it is not taken any more, milliseconds since 1970-01-01 UTC.
    pub expires_at_ms: Option<i64>,
}

impl NewKey {
    /// Role, title and reach, or everything that is wrong with them; `now_ms` is when it is made.
    fn read(self, now_ms: i64) -> Read<(Role, String, Vec<Reach>)> {
        let mut problems = Vec::new();
        if self.expires_at_ms.is_some_and(|end| end <= now_ms) {
            problems.push(Problem::new("until", "a day that is over", "today, in UTC, or a later day"));
        }
        let words = Role::ALL.map(Role::word).join(", ");
        let role = Role::named(&self.role);
        if role.is_none() {
            problems.push(Problem::new("role", quoted(&self.role), format!("one of {words}")));
        }
        let title = self.title.trim();
        if !(1..=MAX_TITLE).contains(&title.len()) {
            let expected = format!("whose key it is, in 1 to {MAX_TITLE} bytes");
            problems.push(Problem::new("title", format!("{} bytes", title.len()), expected));
        }
        let athlete = self.athlete.as_deref().map(AthleteId::new);
        if let (Some(Err(_)), Some(id)) = (&athlete, &self.athlete) {
            problems.push(Problem::new("athlete", quoted(id), "the id of an athlete, such as wren"));
        }
        let mut reaches = Vec::new();
        for id in &self.rosters {
            match RosterId::new(id) {
                Ok(roster) => reaches.push(Reach { roster, athlete: athlete.clone().and_then(Result::ok) }),
                Err(_) => problems.push(Problem::new("of", quoted(id), "the id of a roster, such as hall")),
            }
        }
        reaches.sort();
        reaches.dedup();
        match role {
            Some(role) if problems.is_empty() => Ok((role, title.to_owned(), reaches)),
            _ => Err(problems),
        }
    }
}

/// Makes a key; the text is shown this once and kept nowhere.
///
/// # Errors
///
/// [`KeeperError::BadKey`], [`KeeperError::Random`], and [`KeeperError::Store`] with [`StoreError::Refused`] when the reach does
/// not fit the role, [`StoreError::NotFound`] for a roster or athlete that is not there.
pub async fn make(database: &Place, new: NewKey) -> Result<(KeyText, KeyRecord), KeeperError> {
    let expires_at_ms = new.expires_at_ms;
    let now_ms = SystemClock.now_ms();
    let (role, title, reaches) = new.read(now_ms).map_err(|problems| KeeperError::BadKey { problems })?;
    let text = KeyText::random().map_err(|source| KeeperError::Random { source })?;
    let key = KeyRecord {
        id: text.id().clone(),
        secret_hash: text.secret_hash(),
        role,
        title,
        reaches,
        created_at_ms: now_ms,
        expires_at_ms,
        revoked_at_ms: None,
    };
    let store = open(database).await?;
    let made = store.create_key(key).await;
    store.close().await?;
    Ok((text, made?))
}

/// True when a key has come to its end by itself.
pub fn is_over(key: &KeyRecord) -> bool {
    key.expires_at_ms.is_some_and(|end| end <= SystemClock.now_ms())
}

/// Every key, in the order of their ids.
///
/// # Errors
///
/// [`KeeperError::Store`].
pub async fn list(database: &Place) -> Result<Vec<KeyRecord>, KeeperError> {
    let store = open(database).await?;
    let mut all = Vec::new();
    let mut page = Page::first(CHUNK);
    loop {
        let found = store.keys(&page).await?;
        all.extend(found.items);
        let Some(next) = found.next else { break };
        page = Page::after(CHUNK, next);
    }
    store.close().await?;
    Ok(all)
}

/// Revokes a key for good; a running service refuses it from its next call on.
///
/// # Errors
///
/// [`KeeperError::BadKey`] when `id` is none, [`KeeperError::Store`] with [`StoreError::NotFound`] when there is no such key.
pub async fn revoke(database: &Place, id: &str) -> Result<KeyRecord, KeeperError> {
    let read = KeyId::new(id).ok_or_else(|| KeeperError::BadKey {
        problems: vec![Problem::new(
            "id",
            quoted(id),
            "the 16 digits of a key's id, as `nextrung key list` shows",
        )],
    })?;
    let store = open(database).await?;
    let revoked = store.revoke_key(&read, SystemClock.now_ms()).await;
    store.close().await?;
    Ok(revoked?)
}

async fn open(database: &Place) -> Result<Log, StoreError> {
    Log::open(database, LogOptions::default()).await
}
