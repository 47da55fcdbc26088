//! Athletes: create, get, list, update.

use nextrung_domain::event::EventBody;
use nextrung_domain::ids::{AthleteRef, RosterId};
use nextrung_domain::problem::Problem;
use nextrung_domain::profile_draft::ProfileDraft;
use nextrung_store::append::{Append, Appended};
use nextrung_store::page::{Listing, Page};
use nextrung_store::record::{AthleteRecord, NewAthlete};
use nextrung_store::request::{Answer, RequestKey};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::request::Request;

impl<S: Store> Engine<S> {
    /// Creates an athlete with a profile. Fails with every bad field, or when the athlete exists.
    pub async fn create_athlete(
        &self,
        id: AthleteRef,
        draft: &ProfileDraft,
        request: &Request,
    ) -> Result<AthleteRecord, EngineError> {
        let key = request.key(&id.roster)?;
        if let Some(Answer::Athlete(record)) = self.store.requested(&key).await? {
            return Ok(record);
        }
        let profile = self.checked(draft)?;
        let athlete = NewAthlete { id, profile, created_at_ms: self.clock.now_ms() };
        Ok(self.store.create_athlete(athlete, Some(key)).await?.record)
    }

    /// An athlete. Fails when there is none.
    pub async fn athlete(&self, id: &AthleteRef) -> Result<AthleteRecord, EngineError> {
        Ok(self.store.athlete(id).await?)
    }

    /// Athletes of a roster in id order. Fails when there is no such roster.
    pub async fn athletes(
        &self,
        roster: &RosterId,
        page: &Page,
    ) -> Result<Listing<AthleteRecord>, EngineError> {
        Ok(self.store.athletes(roster, page).await?)
    }

    /// Replaces an athlete's profile by what `change` makes of it. Fails with every bad field, or when there is no such
    /// athlete.
    pub async fn update_athlete(
        &self,
        id: &AthleteRef,
        change: impl Fn(&AthleteRecord) -> ProfileDraft + Send + Sync,
        request: &Request,
    ) -> Result<AthleteRecord, EngineError> {
        let key = request.key(&id.roster)?;
        self.checked_write(&key, || self.update_once(id, &change, &key)).await
    }

    async fn update_once(
        &self,
        id: &AthleteRef,
        change: &(impl Fn(&AthleteRecord) -> ProfileDraft + Send + Sync),
        key: &RequestKey,
    ) -> Result<AthleteRecord, EngineError> {
        let turn = self.turn(id).await;
        if let Some(appended) = self.appended_before(id, key).await? {
            return self.as_changed(id, appended).await;
        }
        let before = self.athlete(id).await?;
        let profile = self.checked(&change(&before))?;
        let body = EventBody::Profiled { profile: Box::new(profile) };
        let append = Append {
            athlete: id.clone(),
            request: Some(key.clone()),
            expected_sequence: Some(before.last_sequence),
            arrived_at_ms: self.clock.now_ms(),
            events: vec![body],
        };
        let appended = self.append(turn, append, None).await?;
        self.as_changed(id, appended).await
    }

    /// An athlete as a change left it, whatever was changed later.
    async fn as_changed(&self, id: &AthleteRef, appended: Appended) -> Result<AthleteRecord, EngineError> {
        let mut record = self.athlete(id).await?;
        let (first, last) = (appended.first_sequence, appended.last_sequence);
        let events = self.store.events(id, first.saturating_sub(1), Some(last), 1).await?;
        for event in events {
            if let EventBody::Profiled { profile } = event.body {
                record.profile = *profile;
                record.updated_at_ms = event.arrived_at_ms;
                record.last_sequence = last;
            }
        }
        Ok(record)
    }

    /// What is wrong with a profile, for a request that cannot be done anyway.
    pub fn profile_problems(&self, draft: &ProfileDraft) -> Vec<Problem> {
        match self.checked(draft) {
            Err(EngineError::BadFields { problems }) => problems,
            _ => Vec::new(),
        }
    }

    fn checked(&self, draft: &ProfileDraft) -> Result<nextrung_domain::profile::Profile, EngineError> {
        let found = draft.check(&self.model.catalog, self.clock.today());
        found.map_err(|problems| EngineError::BadFields {
            problems: problems.into_iter().map(|p| p.under("athlete")).collect(),
        })
    }
}
