//! Access: who may call what, and about whom. Every call of the contract passes here when keys are asked for.

use std::sync::Arc;
use std::time::Duration;

use http::header::AUTHORIZATION;
use http::{HeaderMap, Request};
use nextrung_engine::clock::Clock;
use nextrung_engine::engine::Engine;
use nextrung_store::error::StoreError;
use nextrung_store::key::{KeyId, KeyRecord};
use nextrung_store::store::Store;
use tokio::sync::SemaphorePermit;
use tonic::Status;
use tonic::body::Body;

use crate::names;
use crate::settings::Limits;
use crate::status::{
    key_missing, key_over, key_unknown, method_unknown, of_store, out_of_reach, role_missing,
};

mod allowance;
mod contract;
pub mod keeper;
pub mod key_text;
mod lease;
pub(crate) mod parts;
pub(crate) mod register;
mod request_field;
pub(crate) mod room;
pub mod rules;
pub(crate) mod target;
pub(crate) mod translation;

use allowance::Allowances;
use key_text::KeyText;
use lease::Lease;
use register::About;
use room::Taken;
use target::{Arrival, Arrived};

pub use nextrung_store::key::{KeyRecord as Key, Reach, Role};
pub use target::Told;

/// How often it is looked whether the key of a call that goes on is still good.
const LOOK: Duration = Duration::from_secs(2);

/// Who calls, as the services see it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Caller {
    /// The key.
    pub(crate) key: KeyId,
    /// What its holder does.
    pub(crate) role: Role,
}

impl Caller {
    /// The key within whose reach a list is; nothing for those who see all of it.
    pub(crate) fn within<T>(request: &tonic::Request<T>) -> Option<KeyId> {
        let caller = request.extensions().get::<Self>()?;
        (caller.role != Role::Operator).then(|| caller.key.clone())
    }
}

/// Asks every caller for a key.
pub(crate) struct Access<S> {
    store: Arc<S>,
    clock: Arc<dyn Clock>,
    allowances: Arc<Allowances>,
    arrival: Arrival,
}

/// A call that is allowed.
pub(crate) struct Admitted {
    /// The call, with its [`Caller`].
    pub(crate) request: Request<Body>,
    /// What its answer is to be given on.
    pub(crate) lease: Lease,
    /// The room its message takes, to be kept until it is answered.
    pub(crate) room: Option<Taken>,
}

impl<S> Clone for Access<S> {
    fn clone(&self) -> Self {
        let Self { store, clock, allowances, arrival } = self;
        Self {
            store: Arc::clone(store),
            clock: Arc::clone(clock),
            allowances: Arc::clone(allowances),
            arrival: arrival.clone(),
        }
    }
}

impl<S: Store> Access<S> {
    /// Access by the keys in an engine's store.
    pub(crate) fn new(engine: &Engine<S>, limits: &Limits) -> Self {
        Self {
            store: engine.shared_store(),
            clock: engine.shared_clock(),
            allowances: Arc::new(Allowances::new(limits.key)),
            arrival: Arrival::of(limits),
        }
    }

    /// A call that is allowed; or why it is not. The turn is kept while the key is looked up. What is known of the call by then
    /// is in `about`.
    pub(crate) async fn admit(
        &self,
        request: Request<Body>,
        turn: Option<SemaphorePermit<'_>>,
        about: &mut About,
    ) -> Result<Admitted, Status> {
        let rule = rules::of(request.uri().path()).ok_or_else(method_unknown)?;
        let now_ms = self.clock.now_ms();
        let key = self.holder(request.headers(), now_ms).await?;
        drop(turn);
        about.key = Some(key.id.clone());
        let allowance = self.allowances.of_key(&key.id);
        let place = allowance.take(rule.points)?;
        if !rule.roles.contains(&key.role) {
            return Err(role_missing(key.role, rule.roles));
        }
        let arrival = self.arrival.of_key(allowance.long_messages());
        let Arrived { mut request, told, room } = arrival.read(request, rule.target).await?;
        let told = told?;
        about.take(&told);
        for name in told.names {
            // A name of another shape is a bad field, which the service names with all others.
            let Some((roster, athlete)) = names::reach(&name) else { continue };
            let reached = self.store.reaches((&key.id, now_ms), &roster, athlete.as_ref()).await;
            // An operator keeps all rosters; what that is the rules say, and nothing of it tells how anybody trains.
            let is_kept = key.role == Role::Operator;
            if !reached.map_err(of_store)? && !is_kept {
                return Err(out_of_reach(&name));
            }
        }
        request.extensions_mut().insert(Caller { key: key.id.clone(), role: key.role });
        let over = self.clone().over(key.id);
        Ok(Admitted { request, lease: Lease::new(Box::pin(over), place), room })
    }

    /// Waits until a key is not good any more, and says why.
    async fn over(self, id: KeyId) -> Status {
        loop {
            tokio::time::sleep(LOOK).await;
            match self.store.key(&id).await {
                Ok(key) if is_over(&key, self.clock.now_ms()) => return key_over(&key),
                Err(StoreError::NotFound { .. }) => return key_unknown(),
                // What the store cannot say now it says later.
                Ok(_) | Err(_) => (),
            }
        }
    }

    /// The key of a call, when it is known, its own, and neither over nor revoked.
    async fn holder(&self, headers: &HeaderMap, now_ms: i64) -> Result<KeyRecord, Status> {
        let told = headers.get(AUTHORIZATION).ok_or_else(key_missing)?;
        let text =
            told.to_str().ok().and_then(|told| told.strip_prefix("Bearer ")).ok_or_else(key_missing)?;
        let shown = KeyText::parse(text).ok_or_else(key_unknown)?;
        let kept = match self.store.key(shown.id()).await {
            Ok(kept) => kept,
            Err(StoreError::NotFound { .. }) => return Err(key_unknown()),
            Err(error) => return Err(of_store(error)),
        };
        if !shown.is_of(&kept.secret_hash) {
            return Err(key_unknown());
        }
        if is_over(&kept, now_ms) { Err(key_over(&kept)) } else { Ok(kept) }
    }
}

/// Whether a key was revoked or has expired.
fn is_over(key: &KeyRecord, now_ms: i64) -> bool {
    key.revoked_at_ms.is_some() || key.expires_at_ms.is_some_and(|ends| ends <= now_ms)
}
