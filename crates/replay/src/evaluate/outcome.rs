//! Outcome: what a set showed of what was foretold.

use nextrung_capacity::task::Task;
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::stop::Stop;

use crate::evaluate::entry::Entry;
use crate::score::ending::Ending;

/// What a set showed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outcome {
    /// How it ended, causes by [`AbilityKind::index`].
    pub ending: Ending,
    /// Units done, at most the top.
    pub count: usize,
    /// True when the set went on to its target or to a failure, so that its count is what the prediction speaks of. A set that
    /// was ended by choice, for pain or from outside says "at least" and is scored by the log score alone.
    pub is_whole: bool,
    /// True when a cause was told that the rung does not know: the failure is scored without it.
    pub is_strange: bool,
}

impl Outcome {
    /// What a set showed; nothing when no unit was done or tried.
    pub fn of(entry: &Entry) -> Option<Self> {
        let done = &entry.done;
        if !done.is_effort() {
            return None;
        }
        let (top, units) = (usize::from(entry.top()), usize::from(done.units));
        let count = units.min(top);
        let reached = Ending::Reached { units: count };
        let whole = |ending| Self { ending, count, is_whole: true, is_strange: false };
        if units >= top {
            return Some(whole(reached));
        }
        if !done.stop.is_failure() {
            // A target that was lowered in hindsight is no target that was set before.
            return Some(Self { is_whole: false, ..whole(reached) });
        }
        let somehow = Ending::FailedSomehow { units };
        Some(match kind_of(done.stop) {
            Some(kind) if asks(&entry.task, kind) => whole(Ending::Failed { units, cause: kind.index() }),
            Some(_) => Self { is_strange: true, ..whole(somehow) },
            None => whole(somehow),
        })
    }

    /// True when the unit after the count was seen to fail.
    pub fn has_failed(&self) -> bool {
        !matches!(self.ending, Ending::Reached { .. })
    }
}

/// The kind of ability that gave out; nothing when no failure was seen or its cause was not said.
pub fn kind_of(stop: Stop) -> Option<AbilityKind> {
    match stop {
        Stop::Strength => Some(AbilityKind::Strength),
        Stop::Balance => Some(AbilityKind::Balance),
        Stop::Line => Some(AbilityKind::Line),
        Stop::Target | Stop::Failed | Stop::Chosen | Stop::Pain | Stop::Interrupted | Stop::Other => None,
    }
}

/// True when a task asks for an ability of the kind.
pub fn asks(task: &Task, kind: AbilityKind) -> bool {
    task.demands().iter().any(|demand| demand.kind == kind)
}
