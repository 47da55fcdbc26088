//! Set score: how good one prediction of one set was, by every score.

use crate::evaluate::entry::Entry;
use crate::evaluate::outcome::Outcome;
use crate::score::ending::Endings;
use crate::score::interval::Interval;
use crate::score::{ScoreError, edge, log, rank, ranked};

/// Levels of the central intervals looked at.
pub const LEVELS: [f64; 3] = [0.5, 0.8, 0.95];
/// Largest log score, nats: a set that was given no chance, or less than a computer can tell from none, counts as this.
pub const MOST_NATS: f64 = 700.0;

/// Scores of one prediction; losses, smaller is better.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetScore {
    /// Log score of the ending with its cause, nats, at most [`MOST_NATS`].
    pub log_ending: f64,
    /// Log score of the count alone, nats, at most [`MOST_NATS`].
    pub log_count: f64,
    /// What only a set shows that went on to its target or a failure.
    pub whole: Option<WholeScore>,
}

/// Scores of a whole set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WholeScore {
    /// Ranked probability score, units.
    pub ranked: f64,
    /// Place of the count in what was foretold, from 0 to 1, ties broken by lot.
    pub rank: f64,
    /// At the low and the high edge of the working band: the chance given to reaching it, and whether it was reached.
    pub edges: [Option<(f64, bool)>; 2],
    /// Central intervals at [`LEVELS`]: the chance given to each, and whether it holds the count.
    pub intervals: [(f64, bool); 3],
    /// The central 80 % interval, units.
    pub middle: (usize, usize),
}

/// Scores a prediction; `lot` breaks ties of the rank, between 0 and 1.
///
/// # Errors
///
/// [`ScoreError::Ending`] and [`ScoreError::Cause`] when the prediction does not speak of what happened.
pub fn score(
    endings: &Endings<3>,
    entry: &Entry,
    outcome: &Outcome,
    lot: f64,
) -> Result<SetScore, ScoreError> {
    let counts = endings.counts();
    let log_ending = log::of_ending(endings, outcome.ending)?.min(MOST_NATS);
    let count = outcome.count;
    let log_count = if outcome.has_failed() {
        log::of_count(&counts, count)
    } else {
        // Nothing is told of the cause of a failure that was not seen.
        log_ending
    };
    let whole = if outcome.is_whole {
        let [half, middle, most] = LEVELS.map(|level| Interval::central(&counts, level));
        let (half, middle, most) = (half?, middle?, most?);
        Some(WholeScore {
            ranked: ranked::of_count(&counts, count),
            rank: rank::at(&counts, count, lot),
            edges: edge::events(&counts, count, entry.band).map(|event| event.map(|e| (e.chance, e.came))),
            intervals: [half, middle, most].map(|interval| (interval.chance, interval.holds(count))),
            middle: (middle.low, middle.high),
        })
    } else {
        None
    };
    Ok(SetScore { log_ending, log_count: log_count.min(MOST_NATS), whole })
}
