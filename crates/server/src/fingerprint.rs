//! Fingerprints: what makes a repeated request the same request.

use nextrung_engine::request::Request;
use prost::Message;
use sha2::{Digest, Sha256};

/// A request from its message; `id` is taken out of the message before.
pub fn request(method: &'static str, id: String, content: &impl Message) -> Request {
    let fingerprint: [u8; 32] = Sha256::digest(content.encode_to_vec()).into();
    Request { id, method, fingerprint }
}
