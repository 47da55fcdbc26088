//! Translation: how a message is made of a body that is none yet. It goes with the request and is done where messages come in,
//! so that a body of any kind comes within the same time, length and room.

use std::sync::Arc;

use tonic::Status;

/// Makes messages of bodies of one kind.
pub(crate) trait Translate: Send + Sync {
    /// The message that a body means; or everything that is wrong with it.
    fn message(&self, body: &[u8]) -> Result<Vec<u8>, Status>;
}

/// What goes with a request whose body is to be translated.
#[derive(Clone)]
pub(crate) struct Translation(Arc<dyn Translate>);

impl Translation {
    pub(crate) fn by(translator: impl Translate + 'static) -> Self {
        Self(Arc::new(translator))
    }

    /// The message that a body means.
    pub(super) fn of(&self, body: &[u8]) -> Result<Vec<u8>, Status> {
        self.0.message(body)
    }
}
