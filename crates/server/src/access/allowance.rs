//! Allowance: how much one key may ask for, so that none of them leaves nothing to the others.

use std::collections::BTreeMap;
use std::num::NonZeroU32;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use governor::clock::{Clock, DefaultClock};
use governor::{DefaultDirectRateLimiter, Quota, RateLimiter};
use nextrung_store::key::KeyId;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tonic::Status;

use crate::settings::KeyLimits;
use crate::status::key_too_busy;

/// How long a key with too many calls at a time is told to wait.
pub(super) const LITTLE_WHILE: Duration = Duration::from_secs(1);

/// The allowances of all keys that have called; keys are made by operators alone, so these are few.
pub(super) struct Allowances {
    limits: KeyLimits,
    of: Mutex<BTreeMap<KeyId, Arc<Allowance>>>,
}

/// What one key may ask for.
pub(super) struct Allowance {
    points: DefaultDirectRateLimiter,
    burst: NonZeroU32,
    places: Arc<Semaphore>,
    long_messages: Arc<Semaphore>,
}

impl Allowances {
    /// Allowances within these limits, nothing of them spent yet.
    pub(super) fn new(limits: KeyLimits) -> Self {
        Self { limits, of: Mutex::new(BTreeMap::new()) }
    }

    /// What a key may ask for.
    pub(super) fn of_key(&self, key: &KeyId) -> Arc<Allowance> {
        let mut all = self.of.lock().unwrap_or_else(PoisonError::into_inner);
        let allowance = all.entry(key.clone()).or_insert_with(|| {
            let quota = Quota::per_second(self.limits.points).allow_burst(self.limits.burst);
            let [places, long_messages] =
                [self.limits.calls, self.limits.long_messages].map(|most| Arc::new(Semaphore::new(most)));
            let points = RateLimiter::direct(quota);
            Arc::new(Allowance { points, burst: self.limits.burst, places, long_messages })
        });
        Arc::clone(allowance)
    }
}

impl Allowance {
    /// A place for a call that costs some points. The place is held until it is dropped, the points are spent.
    pub(super) fn take(&self, points: NonZeroU32) -> Result<OwnedSemaphorePermit, Status> {
        let place = Arc::clone(&self.places).try_acquire_owned().map_err(|_| key_too_busy(LITTLE_WHILE))?;
        // A method that costs more than the whole burst takes all of it.
        let points = points.min(self.burst);
        match self.points.check_n(points) {
            Ok(Err(early)) => Err(key_too_busy(early.wait_time_from(DefaultClock::default().now()))),
            Ok(Ok(())) | Err(_) => Ok(place),
        }
    }

    /// Places for its long messages.
    pub(super) fn long_messages(&self) -> Arc<Semaphore> {
        Arc::clone(&self.long_messages)
    }
}

#[cfg(test)]
mod tests {
    use tonic_types::StatusExt;

    use super::*;

    /// One point a second over time.
    fn allowances(calls: usize, burst: u32) -> Allowances {
        let points = NonZeroU32::MIN;
        let burst = NonZeroU32::new(burst).unwrap();
        Allowances::new(KeyLimits { calls, points, burst, ..KeyLimits::default() })
    }

    fn points(points: u32) -> NonZeroU32 {
        NonZeroU32::new(points).unwrap()
    }

    fn key(digit: char) -> KeyId {
        KeyId::new(&digit.to_string().repeat(16)).unwrap()
    }

    #[test]
    fn a_key_that_has_spent_its_points_waits_and_others_do_not() {
        let all = allowances(10, 1000);
        drop(all.of_key(&key('a')).take(points(600)).unwrap());
        drop(all.of_key(&key('a')).take(points(400)).unwrap());
        let status = all.of_key(&key('a')).take(points(200)).unwrap_err();
        let wait = status.get_details_retry_info().unwrap().retry_delay.unwrap();
        let (least, most) = (Duration::from_secs(190), Duration::from_secs(200));
        assert!((least..=most).contains(&wait), "{wait:?}");
        drop(all.of_key(&key('b')).take(points(1000)).unwrap());
    }

    #[test]
    fn a_place_is_given_back_when_the_call_has_ended() {
        let all = allowances(2, 1000);
        let places =
            [all.of_key(&key('a')).take(points(1)).unwrap(), all.of_key(&key('a')).take(points(1)).unwrap()];
        assert!(all.of_key(&key('a')).take(points(1)).is_err());
        drop(all.of_key(&key('b')).take(points(1)).unwrap());
        drop(places);
        drop(all.of_key(&key('a')).take(points(1)).unwrap());
    }

    #[test]
    fn what_costs_more_than_the_burst_is_done_after_a_rest() {
        let all = allowances(10, 100);
        drop(all.of_key(&key('a')).take(points(200)).unwrap());
        assert!(all.of_key(&key('a')).take(points(200)).is_err());
    }
}
