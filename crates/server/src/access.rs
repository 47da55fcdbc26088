//! Access: who may call what, and about whom. Every call of the contract passes here when keys are asked for.

use std::sync::Arc;

use http::header::AUTHORIZATION;
use http::{HeaderMap, Request};
use nextrung_engine::clock::Clock;
use nextrung_engine::engine::Engine;
use nextrung_store::error::StoreError;
use nextrung_store::key::{KeyId, KeyRecord};
use nextrung_store::store::Store;
use tonic::Status;
use tonic::body::Body;

use crate::names;
use crate::status::{
    key_missing, key_over, key_unknown, method_unknown, of_store, out_of_reach, role_missing,
};

pub mod keeper;
pub mod key_text;
pub(crate) mod register;
mod request_field;
pub mod rules;
pub(crate) mod target;

use key_text::KeyText;
use register::About;

pub use nextrung_store::key::{KeyRecord as Key, Reach, Role};

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
    longest: usize,
}

impl<S> Clone for Access<S> {
    fn clone(&self) -> Self {
        Self { store: Arc::clone(&self.store), clock: Arc::clone(&self.clock), longest: self.longest }
    }
}

impl<S: Store> Access<S> {
    /// Access by the keys in an engine's store; `longest` is the largest message, bytes.
    pub(crate) fn new(engine: &Engine<S>, longest: usize) -> Self {
        Self { store: engine.shared_store(), clock: engine.shared_clock(), longest }
    }

    /// A call that is allowed, with its [`Caller`]; or why it is not. What is known of it by then is in `about`.
    pub(crate) async fn admit(
        &self,
        request: Request<Body>,
        about: &mut About,
    ) -> Result<Request<Body>, Status> {
        let rule = rules::of(request.uri().path()).ok_or_else(method_unknown)?;
        let now_ms = self.clock.now_ms();
        let key = self.holder(request.headers(), now_ms).await?;
        about.key = Some(key.id.clone());
        if !rule.roles.contains(&key.role) {
            return Err(role_missing(key.role, rule.roles));
        }
        let (mut request, told) = target::read(request, rule.target, self.longest).await?;
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
        request.extensions_mut().insert(Caller { key: key.id, role: key.role });
        Ok(request)
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
        if kept.revoked_at_ms.is_some() || kept.expires_at_ms.is_some_and(|ends| ends <= now_ms) {
            return Err(key_over(&kept));
        }
        Ok(kept)
    }
}
