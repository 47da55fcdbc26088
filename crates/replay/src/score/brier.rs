//! Brier score of yes-or-no events, and its parts.
//!
//! `S = sum w (p - y)^2 / sum w` (Brier 1950, from memory), taken apart as Dimitriadis, Gneiting and Jordan 2021 do (CORP,
//! PNAS 118(8):e2016191118, from memory): with `c` the isotonic regression of what came on what was predicted and `m` the
//! weighted mean of what came,
//!
//! - miscalibration `MCB = S - sum w (c - y)^2 / sum w`: what is lost by saying `p` where `c` comes true;
//! - discrimination `DSC = sum w (c - m)^2 / sum w`: what is gained by telling events apart;
//! - uncertainty `UNC = m (1 - m)`: the score of always saying `m`.
//!
//! `S = MCB - DSC + UNC`, and all four are never negative.

use crate::score::edge::Event;
use crate::score::isotonic::{Point, isotonic};
use crate::score::{ScoreError, chance};

/// A mean Brier score and its parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parts {
    /// The mean score: miscalibration less discrimination plus uncertainty.
    pub score: f64,
    /// Lost by chances that do not come true as often as they say.
    pub miscalibration: f64,
    /// Gained by telling events apart.
    pub discrimination: f64,
    /// Score of always predicting the mean.
    pub uncertainty: f64,
}

/// Brier score of one event.
pub fn of_event(event: &Event) -> f64 {
    let gap = event.chance - outcome(event);
    gap * gap
}

/// Weighted mean score of events and its parts.
///
/// # Errors
///
/// [`ScoreError::Empty`] without events, [`ScoreError::Chance`] and [`ScoreError::Weight`] when an event has none.
pub fn parts(events: &[Event]) -> Result<Parts, ScoreError> {
    let mut points = Vec::with_capacity(events.len());
    let (mut sum, mut came, mut total) = (0.0, 0.0, 0.0);
    for event in events {
        points.push(Point { at: chance(event.chance)?, value: outcome(event), weight: event.weight });
        sum += event.weight * of_event(event);
        came += event.weight * outcome(event);
        total += event.weight;
    }
    let steps = isotonic(&points)?;
    let mean = came / total;
    let over_steps =
        |part: &dyn Fn(f64) -> f64| steps.iter().map(|s| s.weight * part(s.value())).sum::<f64>() / total;
    // What comes is 0 or 1 and has the mean `c` on a step, so that the squares about it sum to `c (1 - c)` a unit of weight.
    let calibrated = over_steps(&|c| c * (1.0 - c));
    let score = sum / total;
    Ok(Parts {
        score,
        // The regression is the best of all rising functions and `p` is one: below zero is rounding.
        miscalibration: (score - calibrated).max(0.0),
        discrimination: over_steps(&|c| (c - mean) * (c - mean)),
        uncertainty: mean * (1.0 - mean),
    })
}

fn outcome(event: &Event) -> f64 {
    if event.came { 1.0 } else { 0.0 }
}
