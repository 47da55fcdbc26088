//! Peers: what each address may take up, however many connections it has: so many connections, and so many looks at keys at
//! a time.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::Semaphore;

use super::throttle::Brake;

/// Keys of one address that are looked up at a time. Further calls of it wait here and not before the database, where
/// everybody would wait behind them.
const LOOKS: usize = 8;

/// The addresses with open connections.
#[derive(Clone, Default)]
pub(super) struct Peers(Arc<Mutex<BTreeMap<IpAddr, Arc<Semaphore>>>>);

/// A connection of an address, which counts until this is dropped.
pub(crate) struct Peer {
    address: IpAddr,
    looks: Arc<Semaphore>,
    brake: Brake,
    peers: Peers,
}

impl Peers {
    /// Counts a connection of an address, unless it has `most` open already.
    pub(super) fn enter(&self, address: IpAddr, most: usize) -> Option<Peer> {
        // One machine, whichever way it came.
        let address = address.to_canonical();
        let mut open = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let looks = open.entry(address).or_insert_with(|| Arc::new(Semaphore::new(LOOKS)));
        // One more has the map itself.
        (Arc::strong_count(looks) <= most).then(|| Peer {
            address,
            looks: Arc::clone(looks),
            brake: Brake::default(),
            peers: self.clone(),
        })
    }
}

impl Peer {
    /// Whose connection it is.
    pub(crate) fn address(&self) -> IpAddr {
        self.address
    }

    /// Has its connection read slowly for a while.
    pub(crate) fn slow_down(&self) {
        self.brake.pull();
    }

    /// What slows its connection down.
    pub(super) fn brake(&self) -> &Brake {
        &self.brake
    }

    /// How many connections its address has open.
    pub(super) fn connections(&self) -> usize {
        // One more has the map itself.
        Arc::strong_count(&self.looks).saturating_sub(1)
    }

    /// Where looks at keys take turns.
    pub(crate) fn looks(&self) -> &Semaphore {
        &self.looks
    }
}

#[cfg(test)]
impl Peer {
    /// A connection of an address without others.
    pub(crate) fn alone() -> Self {
        let peers = Peers::default();
        peers.enter(IpAddr::from([127, 0, 0, 1]), 1).unwrap()
    }

    /// Whether its connection is read slowly.
    pub(crate) fn is_slow(&self) -> bool {
        self.brake.is_on()
    }
}

impl Drop for Peer {
    fn drop(&mut self) {
        let mut open = self.peers.0.lock().unwrap_or_else(PoisonError::into_inner);
        // The map has one and this one the other.
        if Arc::strong_count(&self.looks) == 2 {
            open.remove(&self.address);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_address_has_as_many_and_gets_them_back() {
        let peers = Peers::default();
        let one: IpAddr = "10.0.0.1".parse().unwrap();
        let same: IpAddr = "::ffff:10.0.0.1".parse().unwrap();
        let other: IpAddr = "10.0.0.2".parse().unwrap();
        let first = peers.enter(one, 2).unwrap();
        let second = peers.enter(same, 2).unwrap();
        assert!(peers.enter(one, 2).is_none());
        assert_eq!((first.connections(), peers.enter(other, 2).unwrap().connections()), (2, 1));
        drop(first);
        let third = peers.enter(one, 2).unwrap();
        assert!(peers.enter(one, 2).is_none());
        drop((second, third));
        assert!(peers.0.lock().unwrap().is_empty(), "nothing is remembered of who has gone");
    }
}
