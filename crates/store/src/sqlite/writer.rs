//! Writer: one thread that writes, many writes to a commit.
//!
//! While a commit waits for the disk, further writes queue; the next commit takes them all. Each write has a savepoint of
//! its own, so that one that fails leaves the others alone.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use rusqlite::{Connection, ErrorCode};
use tokio::sync::mpsc::{self, Receiver, Sender};
use tokio::sync::oneshot;
use tokio::task::spawn_blocking;

use super::file::CHECKPOINT;
use super::job::{self, Job};
use super::query::{code, failed};
use crate::error::StoreError;
use crate::plain::Plain;

#[cfg(test)]
mod tests;

/// How much the writer has done since the log was opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WriteCounts {
    /// Transactions committed.
    pub transactions: u64,
    /// Writes in them that worked.
    pub writes: u64,
}

#[derive(Default)]
struct Counters {
    transactions: AtomicU64,
    writes: AtomicU64,
}

/// A write on its way to the thread.
struct Queued {
    job: Box<dyn Job>,
    /// True when it is done outside of any transaction, after those before it.
    is_alone: bool,
}

pub(super) struct Writer {
    queue: Mutex<Option<Sender<Queued>>>,
    thread: Mutex<Option<JoinHandle<Result<(), StoreError>>>>,
    counters: Arc<Counters>,
}

impl Writer {
    /// Starts the thread: at most `group` writes to a commit, at most `queue` waiting.
    pub(super) fn start(conn: Connection, group: usize, queue: usize) -> Result<Self, StoreError> {
        let (sender, jobs) = mpsc::channel(queue.max(1));
        let counters = Arc::new(Counters::default());
        let service = Service { conn, jobs, group: group.max(1), counters: Arc::clone(&counters) };
        let thread = thread::Builder::new()
            .name("log-writer".to_owned())
            .spawn(|| service.serve())
            .map_err(|error| StoreError::Backend { doing: "starting the writer", source: Arc::new(error) })?;
        Ok(Self { queue: Mutex::new(Some(sender)), thread: Mutex::new(Some(thread)), counters })
    }

    /// Queues `work` and waits for its commit. Once queued it is done even if nobody waits.
    pub(super) async fn write<T, F>(&self, work: F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Connection) -> Result<T, StoreError> + Send + 'static,
    {
        answer(self.queue(work).await?).await
    }

    /// Queues `work`; its answer comes after its commit.
    pub(super) async fn queue<T, F>(&self, work: F) -> Result<Answer<T>, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Connection) -> Result<T, StoreError> + Send + 'static,
    {
        self.send(work, false).await
    }

    /// Queues `work` that is done outside of any transaction.
    pub(super) async fn queue_alone<T, F>(&self, work: F) -> Result<Answer<T>, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Connection) -> Result<T, StoreError> + Send + 'static,
    {
        self.send(work, true).await
    }

    async fn send<T, F>(&self, work: F, is_alone: bool) -> Result<Answer<T>, StoreError>
    where
        T: Send + 'static,
        F: FnOnce(&Connection) -> Result<T, StoreError> + Send + 'static,
    {
        let queue = self.queue.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let (job, answer) = job::new(work);
        let queued = Queued { job, is_alone };
        queue.ok_or(StoreError::Stopped)?.send(queued).await.map_err(|_| StoreError::Stopped)?;
        Ok(answer)
    }

    /// Takes no more writes, waits for those queued. Fails when a commit or the last checkpoint failed.
    pub(super) async fn close(&self) -> Result<(), StoreError> {
        drop(self.queue.lock().unwrap_or_else(PoisonError::into_inner).take());
        let thread = self.thread.lock().unwrap_or_else(PoisonError::into_inner).take();
        let Some(thread) = thread else { return Ok(()) };
        let ended = spawn_blocking(|| thread.join()).await;
        ended.map_err(|_| StoreError::Stopped)?.map_err(|_| StoreError::Stopped)?
    }

    pub(super) fn counts(&self) -> WriteCounts {
        WriteCounts {
            transactions: self.counters.transactions.load(Ordering::Relaxed),
            writes: self.counters.writes.load(Ordering::Relaxed),
        }
    }
}

/// Where the answer to something queued will come.
pub(super) type Answer<T> = oneshot::Receiver<Result<T, StoreError>>;

/// Waits for an answer.
pub(super) async fn answer<T>(answer: Answer<T>) -> Result<T, StoreError> {
    answer.await.map_err(|_| StoreError::Stopped)?
}

/// What the thread owns.
struct Service {
    conn: Connection,
    jobs: Receiver<Queued>,
    group: usize,
    counters: Arc<Counters>,
}

impl Service {
    fn serve(mut self) -> Result<(), StoreError> {
        let mut next = None;
        while let Some(Queued { mut job, is_alone }) = next.take().or_else(|| self.jobs.blocking_recv()) {
            if is_alone {
                // What went wrong is in its answer.
                let done = job.run(&self.conn);
                job.answer(None);
                match done {
                    Err(error) if matches!(code(&error), Some(ErrorCode::SystemIoFailure)) => {
                        return Err(stopped(error));
                    }
                    Ok(()) | Err(_) => continue,
                }
            }
            let mut group = vec![job];
            while group.len() < self.group
                && let Ok(queued) = self.jobs.try_recv()
            {
                if queued.is_alone {
                    next = Some(queued);
                    break;
                }
                group.push(queued.job);
            }
            let committed = self.commit(&mut group);
            let ended = committed.and_then(|()| {
                group.drain(..).for_each(|job| job.answer(None));
                self.shorten()
            });
            let Err(error) = ended else { continue };
            let may_go_on = self.is_clean_after(&error);
            for job in group {
                job.answer(Some(error.clone()));
            }
            if !may_go_on {
                return Err(stopped(error));
            }
        }
        checkpoint(&self.conn)
    }

    fn commit(&self, group: &mut [Box<dyn Job>]) -> Result<(), StoreError> {
        let step = |sql| {
            let run = || self.conn.prepare_cached(sql)?.execute(());
            run().map(drop).map_err(failed("committing"))
        };
        step("BEGIN IMMEDIATE")?;
        let mut writes = 0;
        for job in group {
            step("SAVEPOINT one")?;
            match job.run(&self.conn) {
                Ok(()) => writes += 1,
                // SQLite itself ended the whole transaction, as it does when the disk is full.
                Err(error) if self.conn.is_autocommit() => return Err(error),
                Err(_) => step("ROLLBACK TO one")?,
            }
            step("RELEASE one")?;
        }
        step("COMMIT")?;
        self.counters.transactions.fetch_add(1, Ordering::Relaxed);
        self.counters.writes.fetch_add(writes, Ordering::Relaxed);
        Ok(())
    }

    /// Moves a long write-ahead log into the file, as far as readers let it.
    fn shorten(&self) -> Result<(), StoreError> {
        let pages = |sql| {
            let run = || self.conn.prepare_cached(sql)?.query_row((), |row| row.get::<_, i64>(1));
            run().map_err(failed("moving the log into its file"))
        };
        if pages("PRAGMA wal_checkpoint(NOOP)")? >= CHECKPOINT {
            pages("PRAGMA wal_checkpoint(PASSIVE)")?;
        }
        Ok(())
    }

    /// True when nothing of the failed commit lingers and its cause may pass: another process held the file, or the
    /// disk was full. After any other failure, above all a failed sync, the kernel may have dropped pages that a second
    /// try would take for written; so there is none.
    fn is_clean_after(&self, error: &StoreError) -> bool {
        let may_pass = matches!(code(error), Some(ErrorCode::DatabaseBusy | ErrorCode::DiskFull));
        let is_out = self.conn.is_autocommit() || self.conn.execute_batch("ROLLBACK").is_ok();
        may_pass && is_out
    }
}

/// An error after which nothing is written any more, which the log is told.
fn stopped(error: StoreError) -> StoreError {
    let Plain { kind, doing, code } = error.plain();
    tracing::error!(kind, doing, code, "the log takes no more writes");
    error
}

/// Moves everything from the write-ahead log into the file; readers still at work may keep it from emptying it. It does
/// not wait for them: holding the right to write, it would wait for a connection that waits for that right.
fn checkpoint(conn: &Connection) -> Result<(), StoreError> {
    let run = || {
        conn.busy_timeout(Duration::ZERO)?;
        conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", (), |_| Ok(()))
    };
    run().map_err(failed("moving the log's tail"))
}
