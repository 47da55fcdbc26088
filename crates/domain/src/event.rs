//! Events: what an athlete's log is made of.

use serde::{Deserialize, Serialize};

use crate::ids::ClientSetId;
use crate::profile::Profile;
use crate::set::{Place, SetEntry};

/// One thing that happened, before the log gives it a sequence and an arrival time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum EventBody {
    /// A set was recorded.
    Recorded {
        /// The set.
        set: SetEntry,
    },
    /// A set recorded earlier is replaced whole; it keeps its key and its order among ties.
    Corrected {
        /// The new content; its `client_set_id` names the set corrected.
        set: SetEntry,
        /// Why, in the coach's or athlete's words.
        reason: String,
    },
    /// A set recorded earlier no longer counts.
    Withdrawn {
        /// The set.
        client_set_id: ClientSetId,
        /// Why.
        reason: String,
    },
    /// The athlete's profile is replaced whole.
    Profiled {
        /// The new profile.
        profile: Box<Profile>,
    },
}

impl EventBody {
    /// The set this event speaks of, if it does.
    pub fn client_set_id(&self) -> Option<&ClientSetId> {
        match self {
            Self::Recorded { set } | Self::Corrected { set, .. } => Some(&set.client_set_id),
            Self::Withdrawn { client_set_id, .. } => Some(client_set_id),
            Self::Profiled { .. } => None,
        }
    }
}

/// An event as the log holds it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredEvent {
    /// Position in the athlete's log: 1, 2, 3, ... without gaps.
    pub sequence: u64,
    /// Arrival, milliseconds since 1970-01-01 UTC. Never used for training order.
    pub arrived_at_ms: i64,
    /// What happened.
    pub body: EventBody,
}

/// Training order of a set: its place, then the sequence at which it was first recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct OrderKey {
    /// Where the set stands in training.
    pub place: Place,
    /// Log sequence of the first recording.
    pub first_sequence: u64,
}
