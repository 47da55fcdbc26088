//! Patience: how often an address may ask in vain, or without a key, before its connections are read slowly; and how often it
//! may connect before it has to wait.

use std::net::IpAddr;
use std::num::NonZeroU32;
use std::sync::Arc;

use governor::clock::{Clock, DefaultClock};
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};

/// How often something may be done at once after a rest, and a second over time.
type Often = (NonZeroU32, NonZeroU32);

/// Calls in vain; common practice, no source.
const CALLS: Often = (NonZeroU32::MIN.saturating_add(999), NonZeroU32::MIN.saturating_add(9));
/// Connections; common practice, no source. Each costs as much as some calls, and with TLS as some dozen.
const CONNECTIONS: Often = (NonZeroU32::MIN.saturating_add(499), NonZeroU32::MIN.saturating_add(99));
/// Questions of browsers before calls of a page; common practice, no source.
const PREFLIGHTS: Often = (NonZeroU32::MIN.saturating_add(1999), NonZeroU32::MIN.saturating_add(199));
/// Addresses that are remembered before those that have rested are forgotten.
const MANY: usize = 10_000;

/// What is left of the patience with every address.
#[derive(Clone)]
pub(crate) struct Patience(Arc<DefaultKeyedRateLimiter<IpAddr>>);

impl Patience {
    /// With calls that are made in vain.
    pub(crate) fn with_calls() -> Self {
        Self::new(CALLS)
    }

    /// With connections.
    pub(crate) fn with_connections() -> Self {
        Self::new(CONNECTIONS)
    }

    /// With questions of browsers.
    pub(crate) fn with_preflights() -> Self {
        Self::new(PREFLIGHTS)
    }

    fn new((at_once, a_second): Often) -> Self {
        Self(Arc::new(RateLimiter::keyed(Quota::per_second(a_second).allow_burst(at_once))))
    }

    /// Notes that an address did it. False when the patience with it is over.
    pub(crate) fn bears(&self, address: IpAddr) -> bool {
        self.forget();
        self.0.check_key(&address.to_canonical()).is_ok()
    }

    /// Waits until the patience with an address is there again, and notes that it did it.
    pub(crate) async fn until_borne(&self, address: IpAddr) {
        self.forget();
        while let Err(early) = self.0.check_key(&address.to_canonical()) {
            tokio::time::sleep(early.wait_time_from(DefaultClock::default().now())).await;
        }
    }

    fn forget(&self) {
        if self.0.len() > MANY {
            self.0.retain_recent();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patience_ends_with_one_address_and_not_with_others() {
        let patience = Patience::with_calls();
        let at = |text: &str| text.parse::<IpAddr>().unwrap();
        assert!((0..CALLS.0.get()).all(|_| patience.bears(at("10.0.0.1"))));
        // What comes back meanwhile is spent first.
        assert!((0..100).any(|_| !patience.bears(at("::ffff:10.0.0.1"))));
        assert!(patience.bears(at("10.0.0.2")));
    }

    #[tokio::test]
    async fn who_connects_too_often_waits_and_others_do_not() {
        let patience = Patience::with_connections();
        let (one, other) = (IpAddr::from([10, 0, 0, 1]), IpAddr::from([10, 0, 0, 2]));
        let mut waits = false;
        // A turn comes back every 10 ms, on a busy machine before it is asked for.
        for _ in 0..100 {
            while patience.bears(one) {}
            waits |=
                tokio::time::timeout(std::time::Duration::ZERO, patience.until_borne(one)).await.is_err();
        }
        assert!(waits);
        patience.until_borne(other).await;
        patience.until_borne(one).await;
    }
}
