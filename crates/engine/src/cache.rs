//! Cache: heads of the athletes used last, bounded by count.

use std::num::NonZeroUsize;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use lru::LruCache;
use nextrung_domain::ids::AthleteRef;

use crate::fold::Head;

/// Heads of the athletes used last. What is dropped is folded again from the log when asked for.
#[derive(Debug)]
pub struct Cache {
    heads: Mutex<LruCache<AthleteRef, Arc<Head>>>,
}

impl Cache {
    /// An empty cache for at most `athletes` heads.
    pub fn new(athletes: NonZeroUsize) -> Self {
        Self { heads: Mutex::new(LruCache::new(athletes)) }
    }

    fn lock(&self) -> MutexGuard<'_, LruCache<AthleteRef, Arc<Head>>> {
        self.heads.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A head, marked as used.
    pub fn get(&self, athlete: &AthleteRef) -> Option<Arc<Head>> {
        self.lock().get(athlete).cloned()
    }

    /// Keeps a copy of a head, which is without the spare room that folding leaves. The caller has the athlete's turn, so
    /// that no later head is there.
    pub fn keep(&self, athlete: &AthleteRef, head: &Head) -> Arc<Head> {
        let kept = Arc::new(head.clone());
        self.lock().put(athlete.clone(), kept.clone());
        kept
    }

    /// Takes a head out.
    pub fn take(&self, athlete: &AthleteRef) -> Option<Arc<Head>> {
        self.lock().pop(athlete)
    }

    /// How many heads are held, and how many bytes they take, about.
    pub fn size(&self) -> (usize, usize) {
        let heads = self.lock();
        (heads.len(), heads.iter().map(|(_, head)| head.bytes()).sum())
    }
}
