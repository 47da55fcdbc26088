//! Event text: an event's body as it is kept, JSON in the domain's own spelling.

use std::error::Error;

use nextrung_domain::event::EventBody;
use nextrung_domain::ids::ClientSetId;
use nextrung_domain::profile::Profile;
use serde::Deserialize;

use self::set_text::{Neighbours, SetText};

mod set_text;
#[cfg(test)]
mod tests;

/// The `kind` of a body; the same word as in its text.
pub(crate) fn kind(body: &EventBody) -> &'static str {
    match body {
        EventBody::Recorded { .. } => "recorded",
        EventBody::Corrected { .. } => "corrected",
        EventBody::Withdrawn { .. } => "withdrawn",
        EventBody::Profiled { .. } => "profiled",
    }
}

/// Reads the bodies of a log, one after the other.
pub(crate) struct Reader {
    neighbours: Neighbours,
}

impl Reader {
    pub(crate) fn new() -> Self {
        Self { neighbours: Neighbours::NONE }
    }

    /// Reads a body. Knowing its kind first spares the copy that a tagged enum makes of the whole text.
    /// Fails when the text is no such body.
    pub(crate) fn read(&mut self, kind: &str, text: &str) -> Result<EventBody, Box<dyn Error + Send + Sync>> {
        Ok(match kind {
            "recorded" => {
                let Recorded { set } = serde_json::from_str(text)?;
                EventBody::Recorded { set: self.neighbours.set(set)? }
            }
            "corrected" => {
                let Corrected { set, reason } = serde_json::from_str(text)?;
                EventBody::Corrected { set: self.neighbours.set(set)?, reason }
            }
            "withdrawn" => {
                let Withdrawn { client_set_id, reason } = serde_json::from_str(text)?;
                EventBody::Withdrawn { client_set_id, reason }
            }
            "profiled" => {
                let Profiled { profile } = serde_json::from_str(text)?;
                EventBody::Profiled { profile }
            }
            _ => return Err(format!("`{kind}` is no kind of event").into()),
        })
    }
}

#[derive(Deserialize)]
struct Recorded<'t> {
    #[serde(borrow)]
    set: SetText<'t>,
}

#[derive(Deserialize)]
struct Corrected<'t> {
    #[serde(borrow)]
    set: SetText<'t>,
    reason: String,
}

#[derive(Deserialize)]
struct Withdrawn {
    client_set_id: ClientSetId,
    reason: String,
}

#[derive(Deserialize)]
struct Profiled {
    profile: Box<Profile>,
}
