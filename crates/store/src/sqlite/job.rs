//! Job: a write on its way through the writer's queue.

use rusqlite::Connection;
use tokio::sync::oneshot::{self, Receiver, Sender};

use crate::error::StoreError;

/// A write whose result type the queue need not know.
pub(super) trait Job: Send {
    /// Does the write.
    fn run(&mut self, conn: &Connection) -> Result<(), StoreError>;
    /// Answers the caller: with the result or, when the commit took it away, with `lost`; even an error may have come
    /// from what was lost. A caller that went away is no reason to stop.
    fn answer(self: Box<Self>, lost: Option<StoreError>);
}

struct Pending<T, F> {
    work: Option<F>,
    done: Result<T, StoreError>,
    caller: Sender<Result<T, StoreError>>,
}

/// A job for `work`, and where its answer will come.
pub(super) fn new<T, F>(work: F) -> (Box<dyn Job>, Receiver<Result<T, StoreError>>)
where
    T: Send + 'static,
    F: FnOnce(&Connection) -> Result<T, StoreError> + Send + 'static,
{
    let (caller, answer) = oneshot::channel();
    (Box::new(Pending { work: Some(work), done: Err(StoreError::Stopped), caller }), answer)
}

impl<T, F> Job for Pending<T, F>
where
    T: Send,
    F: FnOnce(&Connection) -> Result<T, StoreError> + Send,
{
    fn run(&mut self, conn: &Connection) -> Result<(), StoreError> {
        if let Some(work) = self.work.take() {
            self.done = work(conn);
        }
        self.done.as_ref().map(drop).map_err(StoreError::clone)
    }

    fn answer(self: Box<Self>, lost: Option<StoreError>) {
        drop(self.caller.send(lost.map_or(self.done, Err)));
    }
}
