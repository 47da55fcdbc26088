//! Row: one prediction of one set, as it is written to files.

use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};

use crate::evaluate::set_score::WholeScore;
use crate::evaluate::walk::Predicted;

/// One prediction.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The athlete.
    pub athlete: String,
    /// The set's own key.
    pub set: String,
    /// Training date.
    pub date: CivilDate,
    /// Session of the day.
    pub session: u8,
    /// Set of the session.
    pub number: u16,
    /// When it arrived, milliseconds since 1970-01-01 UTC.
    pub arrived_at_ms: i64,
    /// `ladder/rung`.
    pub rung: String,
    /// Its unit.
    pub unit: Unit,
    /// What the set was for.
    pub purpose: Purpose,
    /// The target set before.
    pub target: Option<u16>,
    /// Clean units done.
    pub done: u16,
    /// How it ended.
    pub stop: Stop,
    /// Place of the forecaster.
    pub forecaster: usize,
    /// Units up to which was foretold.
    pub top: u16,
    /// Log score of the ending with its cause, nats.
    pub log_ending: f64,
    /// Log score of the count, nats.
    pub log_count: f64,
    /// Chances to fail before the top by strength, balance and line.
    pub failed: [f64; 3],
    /// What only a whole set shows.
    pub whole: Option<WholeScore>,
}

impl Row {
    /// From a prediction.
    pub fn of(predicted: &Predicted<'_>) -> Self {
        let set = &predicted.entry.set;
        Self {
            athlete: predicted.athlete.to_owned(),
            set: set.client_set_id.to_string(),
            date: set.date,
            session: set.session.get(),
            number: set.number.get(),
            arrived_at_ms: predicted.entry.arrived_at_ms,
            rung: set.rung.to_string(),
            unit: set.unit,
            purpose: set.purpose,
            target: set.target,
            done: set.done,
            stop: set.stop,
            forecaster: predicted.forecaster,
            top: predicted.entry.top(),
            log_ending: predicted.score.log_ending,
            log_count: predicted.score.log_count,
            failed: predicted.endings.failed_by_cause(),
            whole: predicted.score.whole,
        }
    }
}
