//! Moves: tells those who watch that something an answer rests on was written.

use nextrung_domain::ids::{AthleteRef, RosterId};
use tokio::sync::broadcast;

/// Moves remembered for a watcher who is busy; one who falls further behind looks at everybody anew.
const REMEMBERED: usize = 256;

/// What was written to: the log of an athlete, or a whole roster.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Move {
    roster: RosterId,
    athlete: Option<AthleteRef>,
}

impl Move {
    /// True when what is prescribed for the athlete may have changed.
    pub(crate) fn touches(&self, athlete: &AthleteRef) -> bool {
        self.roster == athlete.roster && self.athlete.as_ref().is_none_or(|moved| moved == athlete)
    }
}

/// The moves of a running engine.
pub(crate) struct Moves {
    sender: broadcast::Sender<Move>,
}

impl Moves {
    pub(crate) fn new() -> Self {
        Self { sender: broadcast::Sender::new(REMEMBERED) }
    }

    /// Tells of a write that was acknowledged.
    pub(crate) fn tell(&self, roster: &RosterId, athlete: Option<&AthleteRef>) {
        // Nobody watching is no failure.
        drop(self.sender.send(Move { roster: roster.clone(), athlete: athlete.cloned() }));
    }

    pub(crate) fn watch(&self) -> broadcast::Receiver<Move> {
        self.sender.subscribe()
    }
}
