//! Bad sets: what is wrong with the sets of a request that cannot be done anyway.

use std::collections::BTreeSet;

use nextrung_domain::draft::SetDraft;
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_domain::measure::Grams;
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::{Limits, Profile, Weekdays};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::record::check_size;

impl<S: Store> Engine<S> {
    /// What is wrong with a batch, for a request that cannot be done anyway. Without an athlete, what depends on one is
    /// left out.
    pub async fn batch_problems(&self, athlete: Option<&AthleteRef>, drafts: &[SetDraft]) -> Vec<Problem> {
        let profile = self.profile_or_any(athlete).await;
        let checked = check_size(drafts.len()).and_then(|()| self.check_batch(drafts, &profile).map(drop));
        problems_of(checked)
    }

    /// What is wrong with a correction, for a request that cannot be done anyway.
    pub async fn correction_problems(
        &self,
        set: Option<&(AthleteRef, ClientSetId)>,
        draft: &SetDraft,
        reason: &str,
    ) -> Vec<Problem> {
        let profile = self.profile_or_any(set.map(|(athlete, _)| athlete)).await;
        let any = ClientSetId::new(if draft.client_set_id.is_empty() { "any" } else { &draft.client_set_id });
        match set.map(|(_, id)| id.clone()).or(any.ok()) {
            Some(id) => problems_of(self.check_replacement(&id, draft, reason, &profile).map(drop)),
            None => Vec::new(),
        }
    }

    /// An athlete's profile, or one that refuses nothing on its own account.
    async fn profile_or_any(&self, athlete: Option<&AthleteRef>) -> Profile {
        let known = match athlete {
            Some(athlete) => self.head(athlete).await.ok(),
            None => None,
        };
        known.map_or_else(anybody, |head| head.profile.clone())
    }
}

/// An athlete of no known age and more body mass than any load asks for.
fn anybody() -> Profile {
    Profile {
        display_name: String::new(),
        birth_date: None,
        body_mass: Grams::from_kg(300.0, 20.0, 300.0),
        goals: Vec::new(),
        equipment: BTreeSet::new(),
        days: Weekdays::ALL,
        limits: Limits::default(),
        clearances: Vec::new(),
        bands: None,
    }
}

fn problems_of(checked: Result<(), EngineError>) -> Vec<Problem> {
    match checked {
        Err(EngineError::BadFields { problems }) => problems,
        _ => Vec::new(),
    }
}
