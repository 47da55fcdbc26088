//! Readiness: whether the service takes calls, and whether there is a reason to start it anew.

use std::sync::Mutex;
use std::sync::PoisonError;
use std::time::{Duration, Instant};

use tokio_util::sync::CancellationToken;

/// How long a failed write counts as a failing store. Who is not ready gets no calls, so that nothing would show that it works
/// again.
const WRITE_DOUBT: Duration = Duration::from_secs(5);

/// Where the service is between its start and its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Phase {
    Starting,
    Serving,
    Draining,
}

#[derive(Debug, Clone, Copy)]
struct State {
    phase: Phase,
    /// The store answered when it was last asked.
    answers: bool,
    /// When a write last failed for a reason that may pass.
    write_failed: Option<Instant>,
}

/// Whether the service takes calls, and whether there is a reason to start it anew.
#[derive(Debug)]
pub(crate) struct Readiness {
    state: Mutex<State>,
    /// Cancelled when the store takes no more writes before a new start.
    broken: CancellationToken,
}

impl Readiness {
    /// Of a service that starts.
    pub(crate) fn starting() -> Self {
        let state = State { phase: Phase::Starting, answers: true, write_failed: None };
        Self { state: Mutex::new(state), broken: CancellationToken::new() }
    }

    fn change(&self, change: impl FnOnce(&mut State)) {
        change(&mut self.state.lock().unwrap_or_else(PoisonError::into_inner));
    }

    fn state(&self) -> State {
        *self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Calls are taken from now on.
    pub(crate) fn serve(&self) {
        self.change(|state| state.phase = Phase::Serving);
    }

    /// No further calls are wanted, for good.
    pub(crate) fn drain(&self) {
        self.change(|state| state.phase = Phase::Draining);
    }

    /// The store was asked whether it answers.
    pub(crate) fn store_answers(&self, answers: bool) {
        self.change(|state| state.answers = answers);
    }

    /// A write failed for a reason that may pass.
    pub(crate) fn write_failed(&self) {
        self.change(|state| state.write_failed = Some(Instant::now()));
    }

    /// The store takes no more writes. Said while draining, it is as it should be.
    pub(crate) fn store_stopped(&self) {
        if self.state().phase != Phase::Draining {
            self.broken.cancel();
        }
    }

    /// Waits until nothing but a new start helps.
    pub(crate) async fn broken(&self) {
        self.broken.cancelled().await;
    }

    /// Why no calls should come, in one word; nothing when they should.
    pub(crate) fn objection(&self) -> Option<&'static str> {
        let State { phase, answers, write_failed } = self.state();
        let is_broken = self.broken.is_cancelled();
        let in_doubt = write_failed.is_some_and(|at| at.elapsed() < WRITE_DOUBT);
        match phase {
            Phase::Starting => Some("starting"),
            Phase::Draining => Some("draining"),
            Phase::Serving if is_broken || !answers || in_doubt => Some("store"),
            Phase::Serving => None,
        }
    }

    /// True until nothing but a new start helps.
    pub(crate) fn is_alive(&self) -> bool {
        !self.broken.is_cancelled()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ready_between_start_and_drain_while_the_store_works() {
        let readiness = Readiness::starting();
        assert_eq!(readiness.objection(), Some("starting"));
        readiness.serve();
        assert_eq!(readiness.objection(), None);
        readiness.store_answers(false);
        assert_eq!(readiness.objection(), Some("store"));
        readiness.store_answers(true);
        assert_eq!(readiness.objection(), None);
        readiness.write_failed();
        assert_eq!(readiness.objection(), Some("store"));
        assert!(readiness.is_alive(), "what may pass needs no new start");
        readiness.drain();
        assert_eq!(readiness.objection(), Some("draining"));
        readiness.store_stopped();
        assert!(readiness.is_alive(), "a store that is closed at the end is no fault");
    }

    #[test]
    fn a_store_that_stopped_by_itself_needs_a_new_start() {
        let readiness = Readiness::starting();
        readiness.serve();
        readiness.store_stopped();
        assert_eq!((readiness.objection(), readiness.is_alive()), (Some("store"), false));
        readiness.store_answers(true);
        assert!(!readiness.is_alive());
    }
}
