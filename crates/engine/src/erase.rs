//! Erase: takes an athlete out of the log and out of memory.

use nextrung_domain::ids::AthleteRef;
use nextrung_store::erasure::{Erased, Erasure};
use nextrung_store::error::StoreError;
use nextrung_store::request::RequestKey;
use nextrung_store::store::Store;
use sha2::{Digest, Sha256};

use crate::engine::Engine;
use crate::error::EngineError;
use crate::request::Request;

impl<S: Store> Engine<S> {
    /// Erases an athlete with everything that is kept about them, and tells those who watch. Of those erased before it says
    /// when. Fails when there never was such an athlete, and with [`StoreError::Unswept`] when the athlete is erased but bytes
    /// may be left.
    pub async fn erase_athlete(
        &self,
        athlete: &AthleteRef,
        request: &Request,
    ) -> Result<Erased, EngineError> {
        let key = unnamed(request.key(&athlete.roster)?);
        let erasure = Erasure { athlete: athlete.clone(), erased_at_ms: self.clock.now_ms() };
        let turn = self.turn(athlete).await;
        self.forget(athlete);
        let store = self.store.clone();
        let (done, _turn) = turn.finish(async move { store.erase_athlete(erasure, Some(key)).await }).await?;
        // Whoever was asked meanwhile may have kept an answer.
        self.forget(athlete);
        self.moves.tell(&athlete.roster, Some(athlete));
        match done {
            Ok(written) => Ok(written.record),
            Err(StoreError::RequestReused { .. }) => {
                Err(StoreError::RequestReused { request_id: request.id.clone() }.into())
            }
            Err(error) => Err(error.into()),
        }
    }

    /// Remembers nothing of an athlete any more. What is left out here is never answered from, because no later log has its
    /// sequences; this is for those who look into memory.
    pub(crate) fn forget(&self, athlete: &AthleteRef) {
        drop(self.cache.take(athlete));
        drop(self.tails.take(athlete));
        self.answers.forget(athlete);
    }
}

/// A key that outlives whom its request was about: a digest of the client's id, which may say anything.
fn unnamed(key: RequestKey) -> RequestKey {
    let id = Sha256::digest(&key.id).iter().map(|byte| format!("{byte:02x}")).collect();
    RequestKey { id, ..key }
}
