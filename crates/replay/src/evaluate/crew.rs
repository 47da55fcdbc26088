//! Crew: threads that work on athletes side by side, and hand in what they made in the athletes' order.

use std::collections::BTreeMap;
use std::num::NonZero;
use std::panic::resume_unwind;
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::sync::{Mutex, PoisonError};
use std::thread::{self, ScopedJoinHandle};

/// Athletes under way for each thread: enough to keep every one busy while the next is being read.
const AHEAD: usize = 4;

/// How many threads work; by default as many as the machine has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Crew {
    threads: usize,
}

impl Default for Crew {
    fn default() -> Self {
        Self::of(thread::available_parallelism().map_or(1, NonZero::get))
    }
}

/// What came of one job, by its number.
type Done<Made, Fault> = (usize, Result<Made, Fault>);
/// Where jobs are given out, by their numbers, and where what came of them arrives.
type Ends<'e, Job, Made, Fault> = (SyncSender<(usize, Job)>, &'e Receiver<Done<Made, Fault>>);

/// The work of a crew: each thread has a bench of its own, made anew, on which it works on one job after another.
pub struct Work<New, Do> {
    /// Makes a bench.
    pub new: New,
    /// Does a job on it.
    pub each: Do,
}

impl Crew {
    /// So many threads, at least one.
    pub fn of(threads: usize) -> Self {
        Self { threads: threads.max(1) }
    }

    /// Has every job done and returns the benches. `hand_in` is told what was made in the order of the jobs, on the calling
    /// thread; it and a job may fail, which ends the work.
    ///
    /// # Errors
    ///
    /// The first fault in the order of the jobs, of reading one, doing it or handing it in.
    pub fn run<Job, Bench, Made, Fault>(
        self,
        jobs: impl Iterator<Item = Result<Job, Fault>>,
        work: &Work<impl Fn() -> Bench + Sync, impl Fn(&mut Bench, Job) -> Result<Made, Fault> + Sync>,
        hand_in: impl FnMut(Made) -> Result<(), Fault>,
    ) -> Result<Vec<Bench>, Fault>
    where
        Job: Send,
        Bench: Send,
        Made: Send,
        Fault: Send,
    {
        let (job_out, job_in) = sync_channel::<(usize, Job)>(self.threads * AHEAD);
        let (done_out, done_in) = channel();
        let queue = Mutex::new(job_in);
        thread::scope(|scope| {
            let hands: Vec<_> = (0..self.threads)
                .map(|_| {
                    let (queue, done_out) = (&queue, done_out.clone());
                    scope.spawn(move || hand(queue, &done_out, work))
                })
                .collect();
            drop(done_out);
            let told = foreman(jobs, (job_out, &done_in), self.threads * AHEAD, hand_in);
            let bench =
                |hand: ScopedJoinHandle<'_, Bench>| hand.join().unwrap_or_else(|panic| resume_unwind(panic));
            let benches = hands.into_iter().map(bench).collect();
            told.map(|()| benches)
        })
    }
}

/// One thread: takes jobs until there are no more.
fn hand<Job, Bench, Made, Fault>(
    queue: &Mutex<Receiver<(usize, Job)>>,
    done: &Sender<Done<Made, Fault>>,
    work: &Work<impl Fn() -> Bench, impl Fn(&mut Bench, Job) -> Result<Made, Fault>>,
) -> Bench {
    let mut bench = (work.new)();
    loop {
        let next = queue.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok((number, job)) = next else { return bench };
        if done.send((number, (work.each)(&mut bench, job))).is_err() {
            return bench;
        }
    }
}

/// Gives out jobs, never too many at a time, and hands in what was made in order. Ends when all is handed in or something
/// failed; either way the queue is closed, so that every thread ends.
fn foreman<Job, Made, Fault>(
    mut jobs: impl Iterator<Item = Result<Job, Fault>>,
    (out, done): Ends<'_, Job, Made, Fault>,
    most: usize,
    mut hand_in: impl FnMut(Made) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let (mut given, mut handed_in) = (0, 0);
    let mut waiting: BTreeMap<usize, Result<Made, Fault>> = BTreeMap::new();
    let mut is_over = false;
    loop {
        while !is_over && given - handed_in < most {
            match jobs.next() {
                Some(job) => {
                    let job = match job {
                        Ok(job) => job,
                        Err(fault) => {
                            // What came before it is handed in first, so that the same fault is told on every run.
                            waiting.insert(given, Err(fault));
                            given += 1;
                            is_over = true;
                            continue;
                        }
                    };
                    if out.send((given, job)).is_err() {
                        is_over = true;
                    } else {
                        given += 1;
                    }
                }
                None => is_over = true,
            }
        }
        while let Some(made) = waiting.remove(&handed_in) {
            hand_in(made?)?;
            handed_in += 1;
        }
        if is_over && given == handed_in {
            return Ok(());
        }
        if given - handed_in < most && !is_over {
            continue;
        }
        // Every thread is gone only when one of them panicked, which is passed on.
        let Ok((number, made)) = done.recv() else { return Ok(()) };
        waiting.insert(number, made);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(threads: usize, fail_at: Option<usize>) -> (Result<usize, usize>, Vec<usize>) {
        let mut order = Vec::new();
        let work = Work {
            new: || 0_usize,
            each: |sum: &mut usize, job: usize| {
                thread::sleep(std::time::Duration::from_micros(u64::try_from(job * 37 % 11).unwrap() * 50));
                *sum += job;
                if Some(job) == fail_at { Err(job) } else { Ok(job * 2) }
            },
        };
        let benches = Crew::of(threads).run((0..100).map(Ok), &work, |made| {
            order.push(made);
            Ok(())
        });
        (benches.map(|sums| sums.into_iter().sum()), order)
    }

    #[test]
    fn what_is_made_comes_in_order_from_any_number_of_threads() {
        for threads in [1, 2, 5] {
            let (sum, order) = run(threads, None);
            assert_eq!(sum, Ok(4950));
            assert_eq!(order, (0..100).map(|n| n * 2).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_fault_ends_the_work_after_what_came_before_it() {
        for threads in [1, 3] {
            let (sum, order) = run(threads, Some(40));
            assert_eq!(sum, Err(40));
            assert_eq!(order, (0..40).map(|n| n * 2).collect::<Vec<_>>());
        }
        let none = Work { new: || (), each: |(): &mut (), job: usize| Ok(job) };
        let unread = [Ok(1), Err("unread"), Ok(3)].into_iter();
        let mut seen = Vec::new();
        let told = Crew::of(2).run(unread, &none, |made| {
            seen.push(made);
            Ok(())
        });
        assert_eq!((told.err(), seen), (Some("unread"), vec![1]));
    }
}
