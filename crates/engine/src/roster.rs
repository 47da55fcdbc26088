//! Rosters: create, get, list, update.

use nextrung_domain::band::Bands;
use nextrung_domain::ids::RosterId;
use nextrung_store::key::KeyId;
use nextrung_store::page::{Listing, Page};
use nextrung_store::record::{NewRoster, RosterChange, RosterRecord};
use nextrung_store::store::Store;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::request::Request;

impl<S: Store> Engine<S> {
    /// Creates a roster. Fails when it exists.
    pub async fn create_roster(
        &self,
        id: RosterId,
        (title, bands): (String, Option<Bands>),
        request: &Request,
    ) -> Result<RosterRecord, EngineError> {
        let key = request.key(&id)?;
        let roster = NewRoster { id, title, bands, created_at_ms: self.clock.now_ms() };
        let written = self.store.create_roster(roster, Some(key)).await?;
        Ok(written.record)
    }

    /// A roster. Fails when there is none.
    pub async fn roster(&self, id: &RosterId) -> Result<RosterRecord, EngineError> {
        self.roster_record(id).await
    }

    /// Rosters in id order; with a key, those of which it reaches everybody.
    pub async fn rosters(
        &self,
        page: &Page,
        within: Option<&KeyId>,
    ) -> Result<Listing<RosterRecord>, EngineError> {
        Ok(self.store.rosters(page, within).await?)
    }

    /// Changes the given fields of a roster. Fails when there is none.
    pub async fn update_roster(
        &self,
        id: RosterId,
        (title, bands): (Option<String>, Option<Option<Bands>>),
        request: &Request,
    ) -> Result<RosterRecord, EngineError> {
        let key = request.key(&id)?;
        let turn = self.turns.of(&[id.as_str()]).await;
        self.known_rosters().remove(&id);
        let change = RosterChange { id, title, bands, updated_at_ms: self.clock.now_ms() };
        let store = self.store.clone();
        let roster = change.id.clone();
        let (written, _turn) =
            turn.finish(async move { store.update_roster(change, Some(key)).await }).await?;
        let written = written?;
        self.moves.tell(&roster, None);
        Ok(written.record)
    }
}
