//! Trend: capacity and failures of an athlete over time.

use nextrung_capacity::done::Done;
use nextrung_capacity::task::Task;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::problem::Problem;
use nextrung_domain::set::SetEntry;
use nextrung_prescribe::situation::Situation;
use nextrung_prescribe::trend::{RungTrend, Span, rungs_of_interest, trends};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::goal::rung_of;
use crate::lookback::Lookback;
use crate::review::{SpanQuestion, USUAL_DAYS};

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
        let start = start.unwrap_or_else(|| end.plus_days(1 - USUAL_DAYS));
        let span = Span { first: start.day_number(), last: end.day_number() };
        let position = head.position;
        let made = move |past: &Lookback| {
            let at = past.situation();
            let sets = tasks(&at, &past.sets());
            let wanted =
                if named.is_empty() { rungs_of_interest(at.model, at.profile, &sets, span) } else { named };
            trends(at.model, &sets, span, &wanted)
        };
        let rungs = self.look_back((athlete, head), end, made).await?;
        Ok(TrendReport { start, end, position, rungs })
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

/// Sets as the model reads them; those of rungs that no ladder has are left out.
pub(crate) fn tasks(at: &Situation<'_>, sets: &[&SetEntry]) -> Vec<(Task, Done)> {
    sets.iter().filter_map(|set| at.model.read(set)).collect()
}
