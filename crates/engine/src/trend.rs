//! Trend: capacity and failures of an athlete over time.

use nextrung_capacity::done::Done;
use nextrung_capacity::model::Model;
use nextrung_capacity::task::Task;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::problem::Problem;
use nextrung_prescribe::trend::{RungTrend, Span, rungs_of_interest, trends};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::goal::rung_of;
use crate::review::{SpanQuestion, USUAL_DAYS};
use crate::set_log::SetLog;

/// Most rungs of one question.
pub const MOST_RUNGS: usize = 20;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TrendQuestion<'a> {
    /// The first day; [`USUAL_DAYS`] with the last one when absent.
    pub start: Option<CivilDate>,
    /// The last day.
    pub end: CivilDate,
    /// Rungs as `ladder/rung`; the goals and the rungs trained most when empty.
    pub rungs: &'a [String],
}

/// How capacity and failures went.
#[derive(Debug, Clone, PartialEq)]
pub struct TrendReport {
    /// The first day.
    pub start: CivilDate,
    /// The last day.
    pub end: CivilDate,
    /// Sequence of the last event it rests on.
    pub position: u64,
    /// By rung.
    pub rungs: Vec<RungTrend>,
}

impl<S: Store> Engine<S> {
    /// Capacity and failures over a span of days, from the whole log up to its last day. Fails when the athlete does not
    /// exist, on dates the wrong way round or out of range, and on unknown rungs, rungs named twice or too many.
    pub async fn estimate_trend(
        &self,
        athlete: &AthleteRef,
        question: &TrendQuestion<'_>,
    ) -> Result<TrendReport, EngineError> {
        let head = self.head(athlete).await?;
        let TrendQuestion { start, end, rungs } = *question;
        let mut problems = self.bad_days(&SpanQuestion { start, end, rung: "" }, &head.profile);
        let named = self.rungs_named(rungs, &mut problems);
        if !problems.is_empty() {
            return Err(EngineError::BadFields { problems });
        }
        let log = self.read_log(athlete, Some(head.position)).await?;
        let sets = sets_until(&self.model, &log, end);
        let start = start.unwrap_or_else(|| end.plus_days(1 - USUAL_DAYS));
        let span = Span { first: start.day_number(), last: end.day_number() };
        let wanted = match named {
            named if named.is_empty() => rungs_of_interest(&self.model, &head.profile, &sets, span),
            named => named,
        };
        let rungs = trends(&self.model, &sets, span, &wanted);
        Ok(TrendReport { start, end, position: head.position, rungs })
    }

    fn rungs_named(&self, rungs: &[String], problems: &mut Vec<Problem>) -> Vec<RungIx> {
        if rungs.len() > MOST_RUNGS {
            let found = format!("{} rungs", rungs.len());
            problems.push(Problem::new("rungs", found, format!("at most {MOST_RUNGS}")));
            return Vec::new();
        }
        let mut named: Vec<RungIx> = Vec::new();
        for (at, text) in rungs.iter().enumerate() {
            let field = format!("rungs[{at}]");
            match rung_of(&self.model.catalog, &field, text) {
                Ok(rung) if named.contains(&rung) => {
                    problems.push(Problem::new(field, format!("`{text}` again"), "each rung once"));
                }
                Ok(rung) => named.push(rung),
                Err(problem) => problems.push(problem),
            }
        }
        named
    }
}

/// The sets that count and were trained up to a day, in training order, as the model reads them.
pub(crate) fn sets_until(model: &Model, log: &SetLog, end: CivilDate) -> Vec<(Task, Done)> {
    let counting = log.ordered().into_iter().filter(|logged| logged.counts() && logged.set.date <= end);
    counting.filter_map(|logged| model.read(&logged.set)).collect()
}
