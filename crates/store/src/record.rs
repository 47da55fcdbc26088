//! Records: what the store keeps beside the log's events.

use nextrung_domain::band::Bands;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{AthleteRef, PrescriptionId, RosterId};
use nextrung_domain::profile::Profile;
use serde::{Deserialize, Serialize};

/// A roster to create.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewRoster {
    /// Its id.
    pub id: RosterId,
    /// A title to show.
    pub title: String,
    /// The coach's own bands for everyone in it.
    pub bands: Option<Bands>,
    /// Now, milliseconds since 1970-01-01 UTC.
    pub created_at_ms: i64,
}

/// What to change about a roster; what is nothing stays.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RosterChange {
    /// The roster.
    pub id: RosterId,
    /// The new title.
    pub title: Option<String>,
    /// The new bands; `Some(None)` takes them away.
    pub bands: Option<Option<Bands>>,
    /// Now, milliseconds since 1970-01-01 UTC.
    pub updated_at_ms: i64,
}

/// A roster as kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RosterRecord {
    /// Its id.
    pub id: RosterId,
    /// A title to show.
    pub title: String,
    /// The coach's own bands for everyone in it.
    pub bands: Option<Bands>,
    /// Creation, milliseconds since 1970-01-01 UTC.
    pub created_at_ms: i64,
    /// Last change, milliseconds since 1970-01-01 UTC.
    pub updated_at_ms: i64,
}

/// An athlete to create.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewAthlete {
    /// Roster and id.
    pub id: AthleteRef,
    /// The first profile; it becomes the first event of the athlete's log.
    pub profile: Profile,
    /// Now, milliseconds since 1970-01-01 UTC.
    pub created_at_ms: i64,
}

/// An athlete as kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AthleteRecord {
    /// Roster and id.
    pub id: AthleteRef,
    /// The profile in force: that of the last profile event of the log.
    pub profile: Profile,
    /// Creation, milliseconds since 1970-01-01 UTC.
    pub created_at_ms: i64,
    /// Arrival of the profile in force, milliseconds since 1970-01-01 UTC.
    pub updated_at_ms: i64,
    /// Sequence of the last event of the log.
    pub last_sequence: u64,
}

/// A prescription as issued; it never changes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PrescriptionRecord {
    /// For whom.
    pub athlete: AthleteRef,
    /// Its id, unique within the athlete.
    pub id: PrescriptionId,
    /// The training day it is for.
    pub date: CivilDate,
    /// When it was issued, milliseconds since 1970-01-01 UTC.
    pub issued_at_ms: i64,
    /// Sequence of the last event it was made from.
    pub log_position: u64,
    /// The prescription, JSON; kept byte for byte.
    pub body: String,
}

/// Training days to list, both ends included; open where nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Days {
    /// The first day.
    pub from: Option<CivilDate>,
    /// The last day.
    pub to: Option<CivilDate>,
}

/// What a write left behind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written<T> {
    /// The record as stored, by this call or, for a repeat, as the first call answered it.
    pub record: T,
    /// True when the request had been answered before and nothing was written now.
    pub was_replay: bool,
}
