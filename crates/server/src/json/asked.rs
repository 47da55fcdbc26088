//! Asked: the message of a call, made once its body has come.

use prost::Message;
use tonic::Status;

use super::message::{self, Unreadable};
use super::route::Call;
use crate::access::parts;
use crate::access::translation::Translate;
use crate::status::{bad_fields, message_crowded};

/// What a call asks for beside its body.
pub(super) struct Asked {
    pub(super) call: Call,
    /// What stands behind the question mark.
    pub(super) query: String,
}

impl Translate for Asked {
    fn message(&self, body: &[u8]) -> Result<Vec<u8>, Status> {
        match message::read(&self.call, &self.query, body) {
            Ok(message) => Ok(message.encode_to_vec()),
            Err(Unreadable::BadFields { problems }) => Err(bad_fields(problems)),
            Err(Unreadable::Crowded) => Err(message_crowded(parts::MOST)),
        }
    }
}
