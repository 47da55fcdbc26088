//! Review: what holds an athlete back, from the log of a span of days.

use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::Profile;
use nextrung_prescribe::limiter::{Review, Span, review};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::goal::goal_of;
use crate::lookback::Lookback;

/// Days of a span of which only the end is given.
pub const USUAL_DAYS: i32 = 84;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpanQuestion<'a> {
    /// The first day; [`USUAL_DAYS`] with the last one when absent.
    pub start: Option<CivilDate>,
    /// The last day.
    pub end: CivilDate,
    /// The goal rung as `ladder/rung`; the athlete's first goal when empty.
    pub rung: &'a str,
}

/// What holds an athlete back.
#[derive(Debug, Clone, PartialEq)]
pub struct LimiterReview {
    /// The athlete.
    pub athlete: AthleteRef,
    /// The first day of the span.
    pub start: CivilDate,
    /// The last day of the span.
    pub end: CivilDate,
    /// Sequence of the last event it rests on.
    pub position: u64,
    /// The review.
    pub review: Review,
}

impl<S: Store> Engine<S> {
    /// Reviews a span of days. Fails when the athlete does not exist, on dates the wrong way round or out of range, on an
    /// unknown rung, and when no rung is named and there is no goal.
    pub async fn review_limiters(
        &self,
        athlete: &AthleteRef,
        question: &SpanQuestion<'_>,
    ) -> Result<LimiterReview, EngineError> {
        let head = self.head(athlete).await?;
        let catalog: &Catalog = &self.model.catalog;
        let goal = goal_of(catalog, (athlete, &head.profile), question.rung);
        let mut problems = self.bad_days(question, &head.profile);
        let goal = match goal {
            Ok(goal) if problems.is_empty() => goal,
            Ok(_) => return Err(EngineError::BadFields { problems }),
            Err(EngineError::BadFields { problems: more }) => {
                problems.extend(more);
                return Err(EngineError::BadFields { problems });
            }
            Err(_) if !problems.is_empty() => return Err(EngineError::BadFields { problems }),
            Err(other) => return Err(other),
        };
        let SpanQuestion { start, end, .. } = *question;
        let start = start.unwrap_or_else(|| end.plus_days(1 - USUAL_DAYS));
        let position = head.position;
        let made =
            move |past: &Lookback| review(&past.situation(), goal, &Span { start, end, sets: &past.sets() });
        let review = self.look_back((athlete, head), end, made).await?;
        Ok(LimiterReview { athlete: athlete.clone(), start, end, position, review })
    }

    pub(crate) fn bad_days(&self, question: &SpanQuestion<'_>, profile: &Profile) -> Vec<Problem> {
        let SpanQuestion { start, end, .. } = *question;
        let tomorrow = self.clock.today().plus_days(1);
        let mut problems = Vec::new();
        if end > tomorrow {
            problems.push(Problem::new(
                "end_date",
                end.to_string(),
                format!("a day not after {tomorrow}, tomorrow"),
            ));
        }
        if let Some(birth) = profile.birth_date.filter(|birth| end < *birth) {
            let expected = format!("a day not before the athlete's birth on {birth}");
            problems.push(Problem::new("end_date", end.to_string(), expected));
        }
        if let Some(start) = start.filter(|start| *start > end) {
            problems.push(Problem::new(
                "start_date",
                start.to_string(),
                format!("a day not after {end}, the last"),
            ));
        }
        problems
    }
}
