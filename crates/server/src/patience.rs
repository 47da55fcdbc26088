//! Patience: how often an address may ask in vain, or without a key, before its connections are read slowly.

use std::net::IpAddr;
use std::num::NonZeroU32;
use std::sync::Arc;

use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};

/// Calls that an address may make in vain at once after a rest, and a second over time; common practice, no source.
const AT_ONCE: NonZeroU32 = NonZeroU32::MIN.saturating_add(999);
const A_SECOND: NonZeroU32 = NonZeroU32::MIN.saturating_add(9);
/// Addresses that are remembered before those that have rested are forgotten.
const MANY: usize = 10_000;

/// What is left of the patience with every address.
#[derive(Clone)]
pub(crate) struct Patience(Arc<DefaultKeyedRateLimiter<IpAddr>>);

impl Patience {
    pub(crate) fn new() -> Self {
        Self(Arc::new(RateLimiter::keyed(Quota::per_second(A_SECOND).allow_burst(AT_ONCE))))
    }

    /// Notes a call in vain. False when the patience with its address is over.
    pub(crate) fn bears(&self, address: IpAddr) -> bool {
        if self.0.len() > MANY {
            self.0.retain_recent();
        }
        self.0.check_key(&address.to_canonical()).is_ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patience_ends_with_one_address_and_not_with_others() {
        let patience = Patience::new();
        let at = |text: &str| text.parse::<IpAddr>().unwrap();
        assert!((0..AT_ONCE.get()).all(|_| patience.bears(at("10.0.0.1"))));
        // What comes back meanwhile is spent first.
        assert!((0..100).any(|_| !patience.bears(at("::ffff:10.0.0.1"))));
        assert!(patience.bears(at("10.0.0.2")));
    }
}
