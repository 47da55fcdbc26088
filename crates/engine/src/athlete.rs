//! Athletes: create, get, list, update.

use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::{AthleteRef, RosterId};
use nextrung_domain::profile_draft::ProfileDraft;
use nextrung_store::append::Append;
use nextrung_store::page::{Listing, Page};
use nextrung_store::record::{AthleteRecord, NewAthlete};
use nextrung_store::request::Answer;
use nextrung_store::store::Store;

use crate::engine::{Change, Engine};
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
        change: impl FnOnce(&AthleteRecord) -> ProfileDraft + Send,
        request: &Request,
    ) -> Result<AthleteRecord, EngineError> {
        let key = request.key(&id.roster)?;
        let _turn = self.write_turn(id).await;
        if self.store.requested(&key).await?.is_some() {
            return self.athlete(id).await;
        }
        let before = self.athlete(id).await?;
        let profile = self.checked(&change(&before))?;
        let body = EventBody::Profiled { profile: Box::new(profile) };
        let append = Append {
            athlete: id.clone(),
            request: Some(key),
            expected_sequence: Some(before.last_sequence),
            arrived_at_ms: self.clock.now_ms(),
            events: vec![body.clone()],
        };
        let appended = self.store.append(append).await?;
        let event =
            StoredEvent { sequence: appended.first_sequence, arrived_at_ms: appended.arrived_at_ms, body };
        self.advance(id, Change { events: &[event], from: None }).await?;
        self.athlete(id).await
    }

    fn checked(&self, draft: &ProfileDraft) -> Result<nextrung_domain::profile::Profile, EngineError> {
        let found = draft.check(&self.model.catalog, self.clock.today());
        found.map_err(|problems| EngineError::BadFields {
            problems: problems.into_iter().map(|p| p.under("athlete")).collect(),
        })
    }
}
