//! Requests: what identifies a write, before the store sees it.

use nextrung_domain::ids::RosterId;
use nextrung_domain::problem::Problem;
use nextrung_store::request::{MAX_REQUEST_ID, RequestKey};

use crate::error::EngineError;

/// A client's request: its id, the method, and a digest of its content.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Request {
    /// The client's id.
    pub id: String,
    /// The method called.
    pub method: &'static str,
    /// Digest of the content, the name written to included, without the id.
    pub fingerprint: [u8; 32],
}

impl Request {
    /// What is wrong with the id, if anything.
    pub fn problem(&self) -> Option<Problem> {
        let fits =
            (1..=MAX_REQUEST_ID).contains(&self.id.len()) && self.id.bytes().all(|b| b.is_ascii_graphic());
        let shown = || {
            let start: String = self.id.chars().take(MAX_REQUEST_ID).collect();
            if start.is_empty() { "nothing".to_owned() } else { format!("`{}`", start.escape_debug()) }
        };
        let expected = "1 to 128 visible ASCII characters, new for every write; a repeat has the same";
        (!fits).then(|| Problem::new("request_id", shown(), expected))
    }

    /// The store's key for a write to a roster. Fails with a bad `request_id`.
    pub fn key(&self, roster: &RosterId) -> Result<RequestKey, EngineError> {
        match self.problem() {
            Some(problem) => Err(EngineError::BadFields { problems: vec![problem] }),
            None => Ok(RequestKey {
                roster: roster.clone(),
                method: self.method.to_owned(),
                id: self.id.clone(),
                fingerprint: self.fingerprint,
            }),
        }
    }
}
