//! Requests: what makes a repeated write safe.

use nextrung_domain::ids::{AthleteRef, PrescriptionId, RosterId};
use serde::{Deserialize, Serialize};

use crate::append::Appended;
use crate::erasure::Erased;
use crate::error::StoreError;
use crate::record::{AthleteRecord, PrescriptionRecord, RosterRecord, Written};

/// Longest request id, in characters.
pub const MAX_REQUEST_ID: usize = 128;

/// Names a write, so that its repeat is answered and not done again. Unique by roster, method and id.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RequestKey {
    /// The roster written to.
    pub roster: RosterId,
    /// The method called.
    pub method: String,
    /// The client's id of the request, 1 to 128 characters.
    pub id: String,
    /// Digest of the request's content; a repeat has the same.
    pub fingerprint: [u8; 32],
}

impl RequestKey {
    /// Fails with [`StoreError::Refused`] on an empty or long id, or an empty method.
    pub(crate) fn check(&self) -> Result<(), StoreError> {
        if !(1..=MAX_REQUEST_ID).contains(&self.id.chars().count()) {
            return Err(StoreError::Refused { field: "request.id", expected: "1 to 128 characters" });
        }
        if self.method.is_empty() {
            return Err(StoreError::Refused { field: "request.method", expected: "not empty" });
        }
        Ok(())
    }

    pub(crate) fn reused(&self) -> StoreError {
        StoreError::RequestReused { request_id: self.id.clone() }
    }
}

/// What a request was answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// A roster was created or changed; as it was then.
    Roster(RosterRecord),
    /// An athlete was created; as it was then.
    Athlete(AthleteRecord),
    /// Events were added to this athlete's log; [`Appended::was_replay`] is true.
    Appended(AthleteRef, Appended),
    /// A prescription was kept.
    Prescription(PrescriptionRecord),
    /// An athlete was erased.
    Erased(Erased),
}

/// An [`Answer`] as it is kept beside its request. A prescription never changes, so its name says it all.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub(crate) enum Receipt {
    /// A roster as it was answered.
    Roster { roster: RosterRecord },
    /// An athlete as it was answered.
    Athlete { athlete: AthleteRecord },
    /// Events and whose.
    Appended { athlete: AthleteRef, first: u64, last: u64, arrived_at_ms: i64 },
    /// A prescription's name.
    Prescription { athlete: AthleteRef, id: PrescriptionId },
    /// What an erasure took away, without whose it was.
    Erased { erased: Erased },
}

/// What a write answers, as it is kept and given again.
pub(crate) trait Replayable: Sized {
    /// What to keep beside the request.
    fn receipt(&self) -> Receipt;
    /// The same answer given again; nothing when the request was for something else.
    fn again(answer: Answer) -> Option<Self>;
}

impl Replayable for Written<RosterRecord> {
    fn receipt(&self) -> Receipt {
        Receipt::Roster { roster: self.record.clone() }
    }

    fn again(answer: Answer) -> Option<Self> {
        if let Answer::Roster(record) = answer { Some(Self { record, was_replay: true }) } else { None }
    }
}

impl Replayable for Written<AthleteRecord> {
    fn receipt(&self) -> Receipt {
        Receipt::Athlete { athlete: self.record.clone() }
    }

    fn again(answer: Answer) -> Option<Self> {
        if let Answer::Athlete(record) = answer { Some(Self { record, was_replay: true }) } else { None }
    }
}

impl Replayable for Written<PrescriptionRecord> {
    fn receipt(&self) -> Receipt {
        Receipt::Prescription { athlete: self.record.athlete.clone(), id: self.record.id.clone() }
    }

    fn again(answer: Answer) -> Option<Self> {
        if let Answer::Prescription(record) = answer { Some(Self { record, was_replay: true }) } else { None }
    }
}

impl Replayable for Written<Erased> {
    fn receipt(&self) -> Receipt {
        Receipt::Erased { erased: self.record }
    }

    fn again(answer: Answer) -> Option<Self> {
        if let Answer::Erased(record) = answer { Some(Self { record, was_replay: true }) } else { None }
    }
}

/// Whose log, and where the events came to stand in it.
impl Replayable for (AthleteRef, Appended) {
    fn receipt(&self) -> Receipt {
        let (athlete, Appended { first_sequence, last_sequence, arrived_at_ms, was_replay: _ }) = self;
        Receipt::Appended {
            athlete: athlete.clone(),
            first: *first_sequence,
            last: *last_sequence,
            arrived_at_ms: *arrived_at_ms,
        }
    }

    fn again(answer: Answer) -> Option<Self> {
        if let Answer::Appended(athlete, appended) = answer { Some((athlete, appended)) } else { None }
    }
}
