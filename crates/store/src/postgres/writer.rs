//! Writer: each write is a transaction of its own, done once whatever happens on its way.
//!
//! A write is begun anew when it lost to another one or lost its connection before its commit: nothing of it was kept then.
//! A connection lost during the commit leaves open whether it was kept. A write with a request key is begun anew even so,
//! because its first step is to look for the answer kept with that key, and its last waits in the key's index for a
//! transaction that may still be on its way; one without a key is given up, and its caller told.

use std::sync::{Arc, Mutex, PoisonError};

use deadpool_postgres::Transaction;
use tokio_postgres::error::SqlState;
use tokio_util::task::TaskTracker;

use super::connections::Connections;
use super::order::Order;
use super::query::{code, failed};
use super::requests;
use super::tries::{Tries, is_lost_to_another};
use crate::error::StoreError;
use crate::request::{Replayable, RequestKey};

/// Something to write.
pub(super) trait Write: Send + Sync + 'static {
    /// What it is answered.
    type Done: Replayable + Send + 'static;
    /// Roster and athlete written to; writes to the same place are begun in the order of their calls.
    fn place(&self) -> [&str; 2];
    /// Does it within a transaction. After an error that says what the log holds, the transaction can go on.
    fn run(&self, tx: &Transaction<'_>) -> impl Future<Output = Result<Self::Done, StoreError>> + Send;
}

/// How a try ended that did not work.
enum Ending {
    /// For good; nothing was kept.
    Refused(StoreError),
    /// Nothing was kept, and another try may work.
    Passing(StoreError),
    /// It may have been kept.
    Unknown(StoreError),
}

pub(super) struct Writer {
    connections: Connections,
    order: Order,
    tasks: TaskTracker,
    is_closed: Mutex<bool>,
}

impl Writer {
    pub(super) fn new(connections: Connections) -> Arc<Self> {
        let (order, tasks, is_closed) = (Order::new(), TaskTracker::new(), Mutex::new(false));
        Arc::new(Self { connections, order, tasks, is_closed })
    }

    /// Does a write on a task of its own, to its end even if nobody waits.
    pub(super) async fn write<W: Write>(
        self: &Arc<Self>,
        write: W,
        request: Option<RequestKey>,
    ) -> Result<W::Done, StoreError> {
        let running = {
            let is_closed = self.is_closed.lock().unwrap_or_else(PoisonError::into_inner);
            if *is_closed {
                return Err(StoreError::Stopped);
            }
            let turn = self.order.queue(write.place());
            let writer = Arc::clone(self);
            self.tasks.spawn(async move {
                let _turn = turn.await;
                writer.persist(&write, request.as_ref()).await
            })
        };
        running.await.map_err(|_| StoreError::Stopped)?
    }

    /// Takes no more writes and waits for those begun.
    pub(super) async fn close(&self) {
        *self.is_closed.lock().unwrap_or_else(PoisonError::into_inner) = true;
        self.tasks.close();
        self.tasks.wait().await;
    }

    async fn persist<W: Write>(
        &self,
        write: &W,
        request: Option<&RequestKey>,
    ) -> Result<W::Done, StoreError> {
        let mut tries = Tries::begin();
        loop {
            let error = match self.attempt(write, request).await {
                Ok(done) => return Ok(done),
                Err(Ending::Refused(error)) => return Err(error),
                Err(Ending::Unknown(error)) if request.is_none() => return Err(error),
                Err(Ending::Passing(error) | Ending::Unknown(error)) => error,
            };
            tracing::debug!(error = error.kind(), "a write did not come through");
            if !tries.again().await {
                return Err(error);
            }
        }
    }

    async fn attempt<W: Write>(&self, write: &W, request: Option<&RequestKey>) -> Result<W::Done, Ending> {
        let mut conn = self.connections.get().await.map_err(before_commit)?;
        let tx = conn.transaction().await.map_err(failed("beginning")).map_err(before_commit)?;
        // Dropped on an error, a transaction rolls back.
        let done = requests::once(&tx, request, write).await.map_err(before_commit)?;
        tx.commit().await.map_err(failed("committing")).map_err(at_commit)?;
        Ok(done)
    }
}

/// What an error before the commit means: nothing was kept.
fn before_commit(error: StoreError) -> Ending {
    if is_lost_to_another(&error) || matches!(error, StoreError::Unreachable { .. }) {
        Ending::Passing(error)
    } else {
        Ending::Refused(error)
    }
}

/// What an error of the commit itself means. Only a server's own word tells that nothing was kept.
fn at_commit(error: StoreError) -> Ending {
    if is_lost_to_another(&error) {
        return Ending::Passing(error);
    }
    let is_told = code(&error).is_some_and(|code| *code != SqlState::T_R_STATEMENT_COMPLETION_UNKNOWN);
    if is_told && !matches!(error, StoreError::Unreachable { .. }) {
        return Ending::Refused(error);
    }
    Ending::Unknown(if let StoreError::Backend { doing, source } = error {
        StoreError::Unreachable { doing, source }
    } else {
        error
    })
}
