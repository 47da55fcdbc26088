//! Order: writes to one place begin in the order in which they were called for, one after another.

use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll, Waker};

use tokio::sync::{Mutex, OwnedMutexGuard};

/// Queues that all places share.
const STRIPES: usize = 64;

/// The queues of all places. What holds writers of different processes apart is the athlete's row; this keeps those of one
/// process from waiting for it with a connection each, and keeps their order.
pub(super) struct Order {
    stripes: Vec<Arc<Mutex<()>>>,
}

/// A place in a queue: ready when those before have gone.
type Queued = Pin<Box<dyn Future<Output = OwnedMutexGuard<()>> + Send>>;

impl Order {
    pub(super) fn new() -> Self {
        Self { stripes: (0..STRIPES).map(|_| Arc::default()).collect() }
    }

    /// Takes a place in the queue at once, before it is waited for.
    pub(super) fn queue(&self, place: [&str; 2]) -> Queued {
        let bytes = place.iter().flat_map(|part| part.bytes());
        let hash = bytes.fold(0_usize, |hash, byte| hash.wrapping_mul(31).wrapping_add(usize::from(byte)));
        let mut waiting: Queued = Box::pin(Arc::clone(&self.stripes[hash % STRIPES]).lock_owned());
        // The first poll is what queues a waiter.
        match waiting.as_mut().poll(&mut Context::from_waker(Waker::noop())) {
            Poll::Ready(turn) => Box::pin(std::future::ready(turn)),
            Poll::Pending => waiting,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn those_who_queued_first_go_first() {
        let order = Order::new();
        let first = order.queue(["a", "b"]);
        let (second, third) = (order.queue(["a", "b"]), order.queue(["a", "b"]));
        let (told, mut heard) = tokio::sync::mpsc::unbounded_channel();
        let after = |turn: Queued, number: u8| {
            let told = told.clone();
            tokio::spawn(async move {
                let _turn = turn.await;
                told.send(number)
            })
        };
        let tasks = [after(third, 3), after(second, 2)];
        tokio::task::yield_now().await;
        assert!(heard.try_recv().is_err(), "they wait for the first");
        drop(first.await);
        for task in tasks {
            task.await.unwrap().unwrap();
        }
        assert_eq!((heard.recv().await, heard.recv().await), (Some(2), Some(3)));
        drop(order.queue(["a", "b"]).await);
    }
}
