//! Foretold: what somebody who knows the truth would have said of a set just before it.

use std::fmt::Write;

use nextrung_domain::ids::ClientSetId;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Stop;

use crate::score::ScoreError;
use crate::score::ending::{Ending, Endings};
use crate::simulate::standing::Standing;

/// What the truth gives to one logged set.
#[derive(Debug, Clone, PartialEq)]
pub struct OracleSet {
    /// The set's key in the log.
    pub client_set_id: ClientSetId,
    /// What was true as the set began.
    pub standing: Standing,
    /// How it could end, by strength, balance and line: up to its target, or, of a set without one, up to the fewest units
    /// above those done that are rarer than 1 in 10,000 ([`Standing::open_top`]).
    pub endings: Endings<3>,
    /// How it ended, as the log says at its end.
    pub ending: Ending,
}

impl OracleSet {
    /// From a set as it stands and what was true as it began.
    ///
    /// # Errors
    ///
    /// [`ScoreError`] when the truth is no number.
    pub fn new(set: &SetEntry, standing: Standing) -> Result<Self, ScoreError> {
        let top = set.target.unwrap_or_else(|| standing.open_top(set.done, set.unit.most()));
        Ok(Self {
            client_set_id: set.client_set_id.clone(),
            standing,
            endings: standing.endings(top)?,
            ending: ending(set),
        })
    }

    /// Chance given to how the set ended.
    ///
    /// # Errors
    ///
    /// [`ScoreError::Ending`] when the set as logged goes beyond its target.
    pub fn chance(&self) -> Result<f64, ScoreError> {
        self.endings.of(self.ending)
    }

    /// The predictors and scales in a few words, ability by ability, from which [`Standing::endings`] makes the distribution
    /// anew: `strength:1.53:0.04 line:2.1:0.14`.
    pub fn words(&self) -> String {
        let mut text = String::new();
        for (n, d) in self.standing.demands().iter().enumerate() {
            let gap = if n == 0 { "" } else { " " };
            // Writing to a text cannot fail.
            let _ = write!(text, "{gap}{}:{}:{}", d.kind.word(), d.eta, d.scale);
        }
        text
    }
}

/// How a set ended, as far as it tells what the athlete could do (F-05): a set that ended otherwise than by failure shows
/// that the units done were there.
pub fn ending(set: &SetEntry) -> Ending {
    let units = usize::from(set.done);
    match set.stop {
        Stop::Strength => Ending::Failed { units, cause: 0 },
        Stop::Balance => Ending::Failed { units, cause: 1 },
        Stop::Line => Ending::Failed { units, cause: 2 },
        Stop::Failed => Ending::FailedSomehow { units },
        Stop::Target | Stop::Chosen | Stop::Pain | Stop::Interrupted | Stop::Other => {
            Ending::Reached { units }
        }
    }
}
