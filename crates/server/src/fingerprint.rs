//! Fingerprints: what makes a repeated request the same request.

use nextrung_engine::request::Request;
use prost::Message;
use sha2::{Digest, Sha256};

use crate::fields::Read;

/// A request from its message; `id` is taken out of the message before. Fails when the id is bad.
pub fn request(method: &'static str, id: String, content: &impl Message) -> Read<Request> {
    let fingerprint: [u8; 32] = Sha256::digest(content.encode_to_vec()).into();
    let request = Request { id, method, fingerprint };
    match request.problem() {
        None => Ok(request),
        Some(problem) => Err(vec![problem]),
    }
}
