//! Forecaster: somebody who says before each set how it may end, and learns from how it did.
//!
//! [`service`] is the model as the service uses it, whole or with a part taken out; [`oracle`] knows the truth of simulated
//! athletes. All others are baselines: [`climatology`], [`last_session`], [`running_rate`], [`rating`], [`regression`]. What
//! those learn from all athletes together is a [`lesson`], taught in blocks of past arrivals only.

use crate::evaluate::entry::Entry;
use crate::forecaster::foretold::Foretold;

pub mod climatology;
pub mod foretold;
pub mod last_session;
pub mod lesson;
pub mod mixture;
pub mod oracle;
pub mod rating;
pub mod regression;
pub mod running_rate;
pub mod service;

/// Somebody who foretells sets of one athlete.
pub trait Forecaster: Send + Sync {
    /// Takes in the next set in training order, having said before how it may end if `foretell` is given. Of the set itself,
    /// what is foretold may hang on what was planned alone: rung, shadings, load, target, purpose, rest and day.
    fn take(&mut self, set: &Entry, foretell: Option<&mut Foretold>);

    /// The same forecaster once more, to lead it back to later.
    fn again(&self) -> Box<dyn Forecaster>;
}

impl Clone for Box<dyn Forecaster> {
    fn clone(&self) -> Self {
        self.again()
    }
}
