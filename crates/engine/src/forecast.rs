//! Forecast: when the first clean unit on a goal rung is likely.

use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::problem::Problem;
use nextrung_prescribe::forecast::{Forecast, MOST_WEEKS, forecast};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::goal::goal_of;
use crate::lookback::Lookback;
use crate::review::SpanQuestion;
use crate::trend::tasks;

/// Weeks ahead when none are asked for.
pub const USUAL_WEEKS: u16 = 12;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ForecastQuestion<'a> {
    /// The day to forecast from; sets up to and on it count.
    pub date: CivilDate,
    /// The rung as `ladder/rung`; the athlete's first goal when empty.
    pub rung: &'a str,
    /// Weeks ahead; [`USUAL_WEEKS`] when 0.
    pub weeks: i32,
}

/// A forecast and the position it was made from.
#[derive(Debug, Clone, PartialEq)]
pub struct ForecastReport {
    /// The day it starts from.
    pub date: CivilDate,
    /// Sequence of the last event it rests on.
    pub position: u64,
    /// The forecast.
    pub forecast: Forecast,
}

impl<S: Store> Engine<S> {
    /// Forecasts the first clean unit on a rung. Fails when the athlete does not exist, on a day out of range, an unknown
    /// rung or a number of weeks out of range, and when no rung is named and there is no goal.
    pub async fn estimate_forecast(
        &self,
        athlete: &AthleteRef,
        question: &ForecastQuestion<'_>,
    ) -> Result<ForecastReport, EngineError> {
        let head = self.head(athlete).await?;
        let ForecastQuestion { date, rung, weeks } = *question;
        let days = self.bad_days(&SpanQuestion { start: None, end: date, rung }, &head.profile);
        let mut problems: Vec<Problem> =
            days.into_iter().map(|bad| Problem { field: "date".to_owned(), ..bad }).collect();
        let goal = goal_of(&self.model.catalog, (athlete, &head.profile), rung);
        if let Err(EngineError::BadFields { problems: more }) = &goal {
            problems.extend(more.iter().cloned());
        }
        let ahead = u16::try_from(weeks).ok().filter(|weeks| *weeks <= MOST_WEEKS);
        if ahead.is_none() {
            let expected = format!("1 to {MOST_WEEKS}, or 0 for {USUAL_WEEKS}");
            problems.push(Problem::new("weeks", weeks.to_string(), expected));
        }
        if !problems.is_empty() {
            return Err(EngineError::BadFields { problems });
        }
        let (goal, ahead) = (goal?, ahead.filter(|weeks| *weeks > 0).unwrap_or(USUAL_WEEKS));
        let position = head.position;
        let made = move |past: &Lookback| {
            let at = past.situation();
            forecast(&at, &tasks(&at, &past.sets()), goal, ahead)
        };
        let forecast = self.look_back((athlete, head), date, made).await?;
        Ok(ForecastReport { date, position, forecast })
    }
}
