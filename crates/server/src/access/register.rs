//! Register: keeps who asked about whom, in groups and beside the calls, which never wait for it.
//!
//! What a crash can lose is what ended in its last second, or since the store was last reachable, up to [`WAITING`] calls;
//! what does not fit any more is counted and told in the log. Nothing is lost when the service ends as it should.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use nextrung_domain::ids::{AthleteId, RosterId};
use nextrung_engine::clock::Clock;
use nextrung_store::access::AccessRecord;
use nextrung_store::key::KeyId;
use nextrung_store::store::Store;
use tokio::sync::mpsc::{self, Receiver, Sender};
use tokio::task::JoinHandle;
use tonic::Code;

use super::target::Told;
use crate::{names, traces};

/// Calls that wait to be kept, at most.
const WAITING: usize = 65_536;
/// Calls kept at once, at most.
const GROUP: usize = 1024;
/// How long a call waits for others to be kept with.
const GATHER: Duration = Duration::from_millis(500);
/// How long to wait before the store is tried again.
const RETRY: Duration = Duration::from_secs(1);
/// How often the last calls are tried to be kept when the service ends.
const LAST_TRIES: u32 = 3;

/// What is known of a call when it comes in.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct About {
    /// Whom it asks about: rosters, and athletes in them.
    pub(crate) names: Vec<(RosterId, Option<AthleteId>)>,
    /// The key shown.
    pub(crate) key: Option<KeyId>,
    /// SHA-256 of the id of its request.
    pub(crate) request: Option<[u8; 32]>,
}

impl About {
    /// Takes in what a message tells. A name of another shape is nobody's.
    pub(crate) fn take(&mut self, told: &Told) {
        self.names = told.names.iter().filter_map(|name| names::reach(name)).collect();
        self.request = told.request;
    }
}

/// Takes in every call that ended.
pub(crate) struct Register {
    clock: Arc<dyn Clock>,
    /// Tells the entries of this run from those of others in the same moment.
    run: String,
    count: AtomicU64,
    sender: Mutex<Option<Sender<AccessRecord>>>,
    keeper: Mutex<Option<JoinHandle<()>>>,
}

impl Register {
    /// A register in a store. Must be called within a tokio runtime.
    pub(crate) fn begin(store: Arc<impl Store>, clock: Arc<dyn Clock>) -> Arc<Self> {
        let (sender, waiting) = mpsc::channel(WAITING);
        let keeper = tokio::spawn(keep(store, waiting));
        let run = traces::random_hex().chars().take(8).collect();
        let (sender, keeper) = (Mutex::new(Some(sender)), Mutex::new(Some(keeper)));
        Arc::new(Self { clock, run, count: AtomicU64::new(0), sender, keeper })
    }

    /// Takes in a call that ended.
    pub(crate) fn tell(&self, about: &About, (method, code): (&str, Code)) {
        let at_ms = self.clock.now_ms();
        for (roster, athlete) in &about.names {
            let number = self.count.fetch_add(1, Ordering::Relaxed);
            let access = AccessRecord {
                entry: format!("{at_ms:014}-{}-{number:012}", self.run),
                at_ms,
                roster: roster.clone(),
                athlete: athlete.clone(),
                key: about.key.clone(),
                method: method.to_owned(),
                code: i32::from(code),
                request: about.request,
            };
            let sender = self.sender.lock().unwrap_or_else(PoisonError::into_inner);
            if sender.as_ref().is_none_or(|sender| sender.try_send(access).is_err()) {
                tracing::warn!("a call is missing from the record of accesses: too many wait to be kept");
            }
        }
    }

    /// Keeps all that is left; takes in nothing more.
    pub(crate) async fn close(&self) {
        drop(self.sender.lock().unwrap_or_else(PoisonError::into_inner).take());
        let keeper = self.keeper.lock().unwrap_or_else(PoisonError::into_inner).take();
        if let Some(keeper) = keeper {
            // It ends by itself, or has ended.
            drop(keeper.await);
        }
    }
}

/// Keeps calls in groups until there are no more to come.
async fn keep(store: Arc<impl Store>, mut waiting: Receiver<AccessRecord>) {
    let mut group = Vec::new();
    while let Some(first) = waiting.recv().await {
        group.push(first);
        let full = async {
            while group.len() < GROUP
                && let Some(next) = waiting.recv().await
            {
                group.push(next);
            }
        };
        // Whether it was full, or the time was over, or nothing more comes: what there is is kept.
        drop(tokio::time::timeout(GATHER, full).await);
        let mut tries = 0;
        while let Err(error) = store.record_accesses(group.clone()).await {
            tries += 1;
            let is_over = waiting.is_closed() && tries >= LAST_TRIES;
            tracing::warn!(error = error.kind(), is_over, "the record of accesses is not kept");
            if is_over {
                return;
            }
            tokio::time::sleep(RETRY).await;
        }
        group.clear();
    }
}
