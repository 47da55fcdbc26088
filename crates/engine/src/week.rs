//! Week: what each day of a week is for.

use nextrung_capacity::model::Model;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::Profile;
use nextrung_prescribe::history::MEMORY_DAYS;
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::week::load::trained_days;
use nextrung_prescribe::week::{Ask, WeekPlan, plan};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::fold::folded_before;
use crate::prescribe::MAX_DAYS_AHEAD;
use crate::set_log::SetLog;

/// Days of a week.
const DAYS: i32 = 7;

/// A week's plan and what it was made from.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedWeek {
    /// The plan.
    pub plan: WeekPlan,
    /// Sequence of the last event it rests on.
    pub position: u64,
    /// The rules' version.
    pub policy_version: String,
}

impl<S: Store> Engine<S> {
    /// Plans the week that starts on a day, from the sets trained before its first open day; all of it is open when that
    /// is not given. Fails when the athlete does not exist, on a start before birth or too far ahead, and when the first
    /// open day is none of the seven; every bad field is named.
    pub async fn plan_week(
        &self,
        athlete: &AthleteRef,
        start: CivilDate,
        from: Option<CivilDate>,
    ) -> Result<PlannedWeek, EngineError> {
        let head = self.head(athlete).await?;
        self.check_week(start, from, &head.profile)?;
        let from = from.unwrap_or(start);
        let place = self.benches.place().await?;
        let policy = self.policy_for(athlete, &head).await?;
        let log = self.read_log(athlete, Some(head.position)).await?;
        let model = self.model.clone();
        let job = move || {
            let made_from = (&model, &log, (&head.profile, &policy));
            let earlier = (from > start).then(|| planned(made_from, (start, start), None));
            let plan = planned(made_from, (start, from), earlier.as_ref());
            PlannedWeek { plan, position: head.position, policy_version: policy.version }
        };
        place.work(job).await
    }

    fn check_week(
        &self,
        start: CivilDate,
        from: Option<CivilDate>,
        profile: &Profile,
    ) -> Result<(), EngineError> {
        let mut problems = Vec::new();
        let last = self.clock.today().plus_days(MAX_DAYS_AHEAD);
        if start > last {
            let expected = format!("a day not after {last}, {MAX_DAYS_AHEAD} days from today");
            problems.push(Problem::new("start_date", start.to_string(), expected));
        } else if let Some(birth) = profile.birth_date.filter(|birth| start < *birth) {
            let expected = format!("a day not before the athlete's birth on {birth}");
            problems.push(Problem::new("start_date", start.to_string(), expected));
        }
        let end = start.plus_days(DAYS - 1);
        if let Some(from) = from.filter(|from| *from < start || *from > end) {
            let expected = format!("one of the seven days from {start} to {end}");
            problems.push(Problem::new("from_date", from.to_string(), expected));
        }
        if problems.is_empty() { Ok(()) } else { Err(EngineError::BadFields { problems }) }
    }
}

/// The plan made from what the log has before the first open day.
fn planned(
    (model, log, (profile, policy)): (&Model, &SetLog, (&Profile, &Policy)),
    (start, from): (CivilDate, CivilDate),
    earlier: Option<&WeekPlan>,
) -> WeekPlan {
    let folded = folded_before(model, log, from);
    let oldest = start.plus_days(-MEMORY_DAYS);
    let sets = log.ordered().into_iter().filter(|s| s.counts()).map(|s| &s.set);
    let lately = sets.filter(|set| set.date >= oldest && set.date < from);
    let trained = trained_days(&model.catalog, lately);
    let (state, history) = (&folded.state, &folded.history);
    plan(&Ask { model, state, history, trained: &trained, profile, policy, start, from }, earlier)
}
