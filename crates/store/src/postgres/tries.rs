//! Tries: how often work that lost to another one's, or lost its connection, is begun anew, and how long it waits in between.

use std::time::{Duration, Instant};

use tokio_postgres::error::SqlState;

use super::query::code;
use super::requests::Overtaken;
use crate::error::StoreError;

/// How often a piece of work is begun at most.
const MOST: u32 = 12;
/// How long after its begin it may still be begun anew.
const PATIENCE: Duration = Duration::from_secs(10);
/// The first wait between two tries; each is twice the one before, up to [`LONGEST`].
const FIRST: Duration = Duration::from_millis(5);
const LONGEST: Duration = Duration::from_millis(320);

/// The tries of one piece of work.
pub(super) struct Tries {
    begun: Instant,
    patience: Duration,
    count: u32,
    pause: Duration,
}

impl Tries {
    /// Those of work that is begun now.
    pub(super) fn begin() -> Self {
        Self { begun: Instant::now(), patience: PATIENCE, count: 1, pause: FIRST }
    }

    /// Those of work that waits for others as long as they take.
    pub(super) fn of_whoever_waits() -> Self {
        Self { patience: Duration::MAX, ..Self::begin() }
    }

    /// Waits until it may be begun anew; false at once when it was tried enough.
    pub(super) async fn again(&mut self) -> bool {
        let Some(pause) = self.pause_after(self.begun.elapsed()) else { return false };
        tokio::time::sleep(pause).await;
        true
    }

    /// The wait before the next try, so long after the begin; nothing when there is none.
    fn pause_after(&mut self, since: Duration) -> Option<Duration> {
        if self.count == MOST || since > self.patience {
            return None;
        }
        self.count += 1;
        let next = (2 * self.pause).min(LONGEST);
        Some(std::mem::replace(&mut self.pause, next))
    }
}

/// True when another transaction came first and the same work may be done now.
pub(super) fn is_lost_to_another(error: &StoreError) -> bool {
    if let StoreError::Backend { source, .. } = error
        && source.is::<Overtaken>()
    {
        return true;
    }
    code(error).is_some_and(|code| {
        *code == SqlState::T_R_SERIALIZATION_FAILURE || *code == SqlState::T_R_DEADLOCK_DETECTED
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn work_is_begun_twelve_times_with_waits_that_grow_to_a_bound() {
        let mut tries = Tries::begin();
        let waits = std::iter::from_fn(|| tries.pause_after(Duration::from_secs(2)));
        let waits: Vec<u128> = waits.map(|wait| wait.as_millis()).collect();
        assert_eq!(waits, [5, 10, 20, 40, 80, 160, 320, 320, 320, 320, 320]);
    }

    #[test]
    fn whoever_waited_long_enough_is_told() {
        let mut tries = Tries::begin();
        assert!(tries.pause_after(PATIENCE).is_some());
        assert!(tries.pause_after(PATIENCE + Duration::from_millis(1)).is_none());
        let mut waiting = Tries::of_whoever_waits();
        assert!(waiting.pause_after(Duration::from_secs(3600)).is_some());
    }
}
