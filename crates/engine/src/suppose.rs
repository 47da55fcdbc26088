//! Suppose: what would be prescribed if things were otherwise. Nothing is written.

use nextrung_capacity::filter::Scratch;
use nextrung_domain::band::Bands;
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::{SetDraft, Setting};
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::{Goal, Profile, Word};
use nextrung_domain::profile_draft::{BandsDraft, DateParts, ProfileDraft};
use nextrung_domain::set::SetEntry;
use nextrung_prescribe::influence::change;
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::session::prescribe;
use nextrung_prescribe::situation::Situation;
use nextrung_prescribe::supposition::{Supposition, sentences};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::fold::{Folded, Head};
use crate::issued::Issued;
use crate::prescribe::MAX_DAYS_AHEAD;
use crate::record::check_sets;
use crate::set_log::{LoggedSet, SetStatus};

/// Most sets supposed at once.
pub const MAX_SUPPOSED: usize = 200;

/// Days after its today that the check of a set lets pass.
const CHECKED_AHEAD: i32 = 1;

/// What is supposed, as it comes in. Field names are those of the contract.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SuppositionDraft {
    /// Sets as if they had been recorded.
    pub sets: Vec<SetDraft>,
    /// Days of pause.
    pub pause_days: i64,
    /// Other bands.
    pub bands: BandsDraft,
    /// Other goals as `ladder/rung`, with the day wished for.
    pub goals: Vec<(String, Option<DateParts>)>,
    /// Rungs to insist on as `ladder/rung`.
    pub insisted: Vec<String>,
}

/// What would be prescribed.
#[derive(Debug, Clone, PartialEq)]
pub struct Supposed {
    /// As things are.
    pub as_is: Issued,
    /// As supposed.
    pub supposed: Issued,
    /// What would change, in a sentence.
    pub change: String,
    /// What was supposed, a sentence each.
    pub sentences: Vec<String>,
}

impl<S: Store> Engine<S> {
    /// What would be prescribed for a day if things were as supposed: the same as if the sets had been recorded and the profile
    /// changed. Fails with every bad field, or when there is no such athlete.
    pub async fn suppose(
        &self,
        athlete: &AthleteRef,
        date: CivilDate,
        draft: &SuppositionDraft,
    ) -> Result<Supposed, EngineError> {
        let head = self.head(athlete).await?;
        let (supposition, profile) = self.check_supposition((athlete, &head), date, draft).await?;
        let as_is = self.preview_from(athlete, &head, date).await?;
        let moved = date.plus_days(supposition.pause_days);
        let policy = match supposition.bands {
            Some(bands) => Policy { bands, ..as_is.policy.clone() },
            None => as_is.policy.clone(),
        };
        let folded = self.folded_with(athlete, &head, (date, &supposition.sets)).await?;
        let state = folded.state.on(&self.model.parameters, moved.day_number());
        let situation = Situation {
            model: &self.model,
            state: &state,
            history: &folded.history,
            profile: &profile,
            policy: &policy,
            date: moved,
        };
        let prescription = prescribe(&situation);
        let told = change(&self.model.catalog, &as_is.prescription, &prescription);
        Ok(Supposed {
            change: format!("It would be: {told}."),
            sentences: sentences(&situation, &supposition, date),
            supposed: Issued { prescription, policy, ..as_is.clone() },
            as_is,
        })
    }

    /// The fold over the sets trained before a day, with more of them as if they had been recorded next.
    async fn folded_with(
        &self,
        athlete: &AthleteRef,
        head: &Head,
        (date, more): (CivilDate, &[SetEntry]),
    ) -> Result<Folded, EngineError> {
        let mut more: Vec<LoggedSet> = (head.position + 1..).zip(more).map(as_logged).collect();
        more.sort_unstable_by_key(LoggedSet::order_key);
        let mut scratch = Scratch::default();
        let known = self.folded_for(athlete, head, date).await?;
        if more.first().is_none_or(|first| known.last.is_none_or(|last| last < first.order_key())) {
            let mut folded = known.into_owned();
            more.iter().for_each(|set| folded.take(&self.model, &mut scratch, set));
            return Ok(folded);
        }
        let log = self.read_log(athlete, Some(head.position)).await?;
        let before = log.ordered().into_iter().filter(|set| set.counts() && set.set.date < date);
        let mut all: Vec<&LoggedSet> = before.chain(&more).collect();
        all.sort_unstable_by_key(|set| set.order_key());
        let mut folded = Folded::new(&self.model);
        all.into_iter().for_each(|set| folded.take(&self.model, &mut scratch, set));
        Ok(folded)
    }

    /// The supposition and the profile it makes. Fails with every bad field.
    async fn check_supposition(
        &self,
        (athlete, head): (&AthleteRef, &Head),
        date: CivilDate,
        draft: &SuppositionDraft,
    ) -> Result<(Supposition, Profile), EngineError> {
        let mut bad: Vec<Problem> = Vec::new();
        if let Err(EngineError::BadFields { problems }) = self.check_day(date, &head.profile) {
            bad.extend(problems);
        }
        let last = self.clock.today().plus_days(MAX_DAYS_AHEAD);
        let pause_days =
            i32::try_from(draft.pause_days).ok().filter(|days| (0..=MAX_DAYS_AHEAD).contains(days));
        if pause_days.is_none_or(|days| days > 0 && date.plus_days(days) > last) {
            let expected = format!("0 to {MAX_DAYS_AHEAD} days, so that the day is not after {last}");
            bad.push(Problem::new("pause_days", draft.pause_days.to_string(), expected));
        }
        let sets = self.check_supposed_sets((athlete, head), date, &draft.sets, &mut bad).await?;
        let (goals, bands, insisted) = self.check_supposed_profile(draft, &mut bad);
        if !bad.is_empty() {
            return Err(EngineError::BadFields { problems: bad });
        }
        let mut profile = head.profile.clone();
        if !goals.is_empty() {
            profile.goals.clone_from(&goals);
        }
        profile.bands = bands.or(profile.bands);
        let is_replaced = |ladder| insisted.iter().any(|new: &Word| new.rung.ladder == ladder);
        profile.limits.pins.retain(|old| !is_replaced(old.rung.ladder.clone()));
        profile.limits.pins.extend(insisted.iter().cloned());
        let insisted = insisted.into_iter().map(|word| word.rung).collect();
        let pause_days = pause_days.unwrap_or_default();
        Ok((Supposition { sets, pause_days, bands, goals, insisted }, profile))
    }

    async fn check_supposed_sets(
        &self,
        (athlete, head): (&AthleteRef, &Head),
        date: CivilDate,
        drafts: &[SetDraft],
        bad: &mut Vec<Problem>,
    ) -> Result<Vec<SetEntry>, EngineError> {
        if drafts.len() > MAX_SUPPOSED {
            let expected = format!("at most {MAX_SUPPOSED} sets");
            bad.push(Problem::new("sets", format!("{} sets", drafts.len()), expected));
            return Ok(Vec::new());
        }
        let setting = Setting { catalog: &self.model.catalog, profile: &head.profile, today: date };
        let entries = check_sets(&setting, drafts).unwrap_or_else(|problems| {
            bad.extend(problems);
            Vec::new()
        });
        for (i, draft) in drafts.iter().enumerate() {
            let day = draft.training_date.and_then(|(y, m, d)| CivilDate::from_parts(y, m, d).ok());
            // Later days than the check of a set allows are named by it.
            let late = day.filter(|day| *day >= date && *day <= date.plus_days(CHECKED_AHEAD));
            bad.extend(late.map(|day| {
                let expected = format!("a day before {date}, the one prescribed for");
                Problem::new(format!("sets[{i}].training_date"), day.to_string(), expected)
            }));
        }
        let ids: Vec<ClientSetId> = entries.iter().map(|set| set.client_set_id.clone()).collect();
        let known = self.sets_of(athlete, &ids, None).await?;
        for (i, draft) in drafts.iter().enumerate() {
            if known.keys().any(|id| id.as_str() == draft.client_set_id) {
                let expected = "a key that is not in the log yet";
                let found = format!("`{}`", draft.client_set_id);
                bad.push(Problem::new(format!("sets[{i}].client_set_id"), found, expected));
            }
        }
        Ok(entries)
    }

    /// Goals, bands and pins that are supposed; fields are named as the contract of a supposition has them.
    fn check_supposed_profile(
        &self,
        draft: &SuppositionDraft,
        bad: &mut Vec<Problem>,
    ) -> (Vec<Goal>, Option<Bands>, Vec<Word>) {
        let why = "supposed";
        let profile = ProfileDraft {
            display_name: why.to_owned(),
            goals: draft.goals.clone(),
            bands: draft.bands,
            pins: draft.insisted.iter().map(|rung| (rung.clone(), why.to_owned())).collect(),
            ..ProfileDraft::default()
        };
        match profile.check(&self.model.catalog, self.clock.today()) {
            Ok(found) => (found.goals, found.bands, found.limits.pins),
            Err(problems) => {
                bad.extend(problems.into_iter().map(|problem| {
                    let of_pin = problem.field.strip_prefix("limits.pinned_rungs");
                    match of_pin.map(|rest| format!("insisted_rungs{}", rest.trim_end_matches(".rung"))) {
                        Some(field) => Problem { field, ..problem },
                        None => problem,
                    }
                }));
                (Vec::new(), None, Vec::new())
            }
        }
    }
}

fn as_logged((first_sequence, set): (u64, &SetEntry)) -> LoggedSet {
    LoggedSet { set: set.clone(), first_sequence, arrived_at_ms: 0, status: SetStatus::Active }
}
