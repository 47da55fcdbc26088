//! Event text: an event's body as it is kept, JSON in the domain's own spelling.

use nextrung_domain::event::EventBody;
use nextrung_domain::ids::ClientSetId;
use nextrung_domain::profile::Profile;
use nextrung_domain::set::SetEntry;
use serde::Deserialize;

/// The `kind` of a body; the same word as in its text.
pub(crate) fn kind(body: &EventBody) -> &'static str {
    match body {
        EventBody::Recorded { .. } => "recorded",
        EventBody::Corrected { .. } => "corrected",
        EventBody::Withdrawn { .. } => "withdrawn",
        EventBody::Profiled { .. } => "profiled",
    }
}

/// Writes a body. Fails only if the domain's own serialisation does.
pub(crate) fn write(body: &EventBody) -> Result<String, serde_json::Error> {
    serde_json::to_string(body)
}

/// Reads a body of a known kind. Knowing the kind first spares the copy that a tagged enum makes of the whole text.
/// Fails when the text is no such body.
pub(crate) fn read(kind: &str, text: &str) -> Result<EventBody, serde_json::Error> {
    match kind {
        "recorded" => {
            let Recorded { set } = serde_json::from_str(text)?;
            Ok(EventBody::Recorded { set })
        }
        "corrected" => {
            let Corrected { set, reason } = serde_json::from_str(text)?;
            Ok(EventBody::Corrected { set, reason })
        }
        "withdrawn" => {
            let Withdrawn { client_set_id, reason } = serde_json::from_str(text)?;
            Ok(EventBody::Withdrawn { client_set_id, reason })
        }
        "profiled" => {
            let Profiled { profile } = serde_json::from_str(text)?;
            Ok(EventBody::Profiled { profile })
        }
        _ => serde_json::from_str(text),
    }
}

#[derive(Deserialize)]
struct Recorded {
    set: SetEntry,
}

#[derive(Deserialize)]
struct Corrected {
    set: SetEntry,
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
