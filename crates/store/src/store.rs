//! Store: the promises about the log that every backend keeps.

use nextrung_domain::event::StoredEvent;
use nextrung_domain::ids::{AthleteId, AthleteRef, ClientSetId, PrescriptionId, RosterId};

use crate::access::AccessRecord;
use crate::append::{Append, Appended};
use crate::erasure::{Erased, Erasure};
use crate::error::StoreError;
use crate::key::{KeyId, KeyRecord};
use crate::page::{Listing, Page};
use crate::record::{
    AthleteRecord, Days, NewAthlete, NewRoster, PrescriptionRecord, RosterChange, RosterRecord, Written,
};
use crate::request::{Answer, RequestKey};

/// The log and what stands beside it.
///
/// Promises of every write:
/// - It is on durable storage before it returns, wholly or not at all.
/// - It finishes once it was queued, even when the caller drops the future.
/// - With a request key it is done once. A repeat with the same fingerprint gets the first answer with
///   `was_replay`, before anything else is looked at; with another fingerprint, [`StoreError::RequestReused`].
///   A write that failed leaves its key free.
///
/// A read sees one moment of the log, at or after every write answered before the read began.
pub trait Store: Send + Sync + 'static {
    /// True when others may write to the same log, so that what is remembered of it may be behind.
    fn is_shared(&self) -> bool;

    /// Creates a roster. Fails with [`StoreError::AlreadyExists`].
    fn create_roster(
        &self,
        roster: NewRoster,
        request: Option<RequestKey>,
    ) -> impl Future<Output = Result<Written<RosterRecord>, StoreError>> + Send;

    /// Changes the given fields of a roster. Fails with [`StoreError::NotFound`].
    fn update_roster(
        &self,
        change: RosterChange,
        request: Option<RequestKey>,
    ) -> impl Future<Output = Result<Written<RosterRecord>, StoreError>> + Send;

    /// A roster. Fails with [`StoreError::NotFound`].
    fn roster(&self, id: &RosterId) -> impl Future<Output = Result<RosterRecord, StoreError>> + Send;

    /// Rosters in the order of their ids; with a key, those of which it reaches everybody.
    fn rosters(
        &self,
        page: &Page,
        within: Option<&KeyId>,
    ) -> impl Future<Output = Result<Listing<RosterRecord>, StoreError>> + Send;

    /// Creates an athlete together with the first event of the log: the profile, at sequence 1, or behind every sequence
    /// of those erased from the roster.
    /// Fails with [`StoreError::AlreadyExists`], or [`StoreError::NotFound`] for the roster.
    fn create_athlete(
        &self,
        athlete: NewAthlete,
        request: Option<RequestKey>,
    ) -> impl Future<Output = Result<Written<AthleteRecord>, StoreError>> + Send;

    /// An athlete. Fails with [`StoreError::NotFound`].
    fn athlete(&self, id: &AthleteRef) -> impl Future<Output = Result<AthleteRecord, StoreError>> + Send;

    /// Sequence of the last event of each of these athletes' logs, in the order asked.
    /// Fails with [`StoreError::NotFound`] for the first who is not there.
    fn positions(&self, athletes: &[AthleteRef])
    -> impl Future<Output = Result<Vec<u64>, StoreError>> + Send;

    /// Athletes of a roster in the order of their ids. Fails with [`StoreError::NotFound`] for the roster.
    fn athletes(
        &self,
        roster: &RosterId,
        page: &Page,
    ) -> impl Future<Output = Result<Listing<AthleteRecord>, StoreError>> + Send;

    /// Adds events to an athlete's log. Sequences go on from the last without gaps, whoever else is writing. A profile
    /// event also becomes the profile of the athlete's record.
    ///
    /// Fails, in this order of looking, with [`StoreError::Refused`] for no events, [`StoreError::RequestReused`],
    /// [`StoreError::NotFound`], [`StoreError::Moved`], [`StoreError::SetUnknown`] for corrections and withdrawals of
    /// sets not recorded before (the same batch counts), [`StoreError::SetIdTaken`].
    fn append(&self, append: Append) -> impl Future<Output = Result<Appended, StoreError>> + Send;

    /// Events with sequences above `after_sequence` and up to `up_to`, in sequence, at most `limit`.
    /// Fails with [`StoreError::NotFound`] for the athlete.
    fn events(
        &self,
        athlete: &AthleteRef,
        after_sequence: u64,
        up_to: Option<u64>,
        limit: u32,
    ) -> impl Future<Output = Result<Vec<StoredEvent>, StoreError>> + Send;

    /// Every event about these sets, in sequence; sets never recorded have none.
    /// Fails with [`StoreError::NotFound`] for the athlete.
    fn events_of_sets(
        &self,
        athlete: &AthleteRef,
        sets: &[ClientSetId],
    ) -> impl Future<Output = Result<Vec<StoredEvent>, StoreError>> + Send;

    /// Erases an athlete: the log, prescriptions, requests about them with their answers, keys that reach nobody else and
    /// the reach of others. No byte of it stays in what the backend keeps and overwrites by itself; the key of the request
    /// stays, so it should name nobody. Of those who were erased before it says when. Sequences of the erased log are
    /// never given again in the roster.
    ///
    /// Fails with [`StoreError::NotFound`] for the roster, or for an athlete who never was there, and with
    /// [`StoreError::Unswept`] when the athlete is erased but bytes of it may be left: repeat it.
    fn erase_athlete(
        &self,
        erasure: Erasure,
        request: Option<RequestKey>,
    ) -> impl Future<Output = Result<Written<Erased>, StoreError>> + Send;

    /// Keeps a prescription as issued. Fails with [`StoreError::AlreadyExists`], [`StoreError::NotFound`] for the athlete,
    /// or [`StoreError::Moved`] when the log has no event at its position, as after an erasure.
    fn save_prescription(
        &self,
        prescription: PrescriptionRecord,
        request: Option<RequestKey>,
    ) -> impl Future<Output = Result<Written<PrescriptionRecord>, StoreError>> + Send;

    /// A prescription. Fails with [`StoreError::NotFound`].
    fn prescription(
        &self,
        athlete: &AthleteRef,
        id: &PrescriptionId,
    ) -> impl Future<Output = Result<PrescriptionRecord, StoreError>> + Send;

    /// An athlete's prescriptions for `days`: the latest training day first, of one day the one issued last first, of
    /// one moment the greater id first. Fails with [`StoreError::NotFound`] for the athlete, or for a prescription that
    /// [`Page::after`] names and that is not there.
    fn prescriptions(
        &self,
        athlete: &AthleteRef,
        days: Days,
        page: &Page,
    ) -> impl Future<Output = Result<Listing<PrescriptionRecord>, StoreError>> + Send;

    /// What a request was answered, if it was done before; it lets a repeat be answered before its content is checked
    /// against what holds now. Fails with [`StoreError::RequestReused`].
    fn requested(
        &self,
        request: &RequestKey,
    ) -> impl Future<Output = Result<Option<Answer>, StoreError>> + Send;

    /// Keeps a key. Fails with [`StoreError::Refused`] when its reach does not fit its role, [`StoreError::AlreadyExists`],
    /// or [`StoreError::NotFound`] for a roster or athlete it is to reach.
    fn create_key(&self, key: KeyRecord) -> impl Future<Output = Result<KeyRecord, StoreError>> + Send;

    /// A key. Fails with [`StoreError::NotFound`].
    fn key(&self, id: &KeyId) -> impl Future<Output = Result<KeyRecord, StoreError>> + Send;

    /// Keys in the order of their ids, those revoked or expired too.
    fn keys(&self, page: &Page) -> impl Future<Output = Result<Listing<KeyRecord>, StoreError>> + Send;

    /// Every key that reaches an athlete, alone or with the whole roster, those revoked or expired too, in the order of their
    /// ids. Nobody's when there is no such athlete.
    fn keys_to(
        &self,
        athlete: &AthleteRef,
    ) -> impl Future<Output = Result<Vec<KeyRecord>, StoreError>> + Send;

    /// Revokes a key for good; once more changes nothing. Fails with [`StoreError::NotFound`].
    fn revoke_key(
        &self,
        id: &KeyId,
        now_ms: i64,
    ) -> impl Future<Output = Result<KeyRecord, StoreError>> + Send;

    /// Whether a key, neither revoked nor expired at `now_ms`, reaches a roster as a whole, or an athlete.
    fn reaches(
        &self,
        key: (&KeyId, i64),
        roster: &RosterId,
        athlete: Option<&AthleteId>,
    ) -> impl Future<Output = Result<bool, StoreError>> + Send;

    /// Adds calls to the record of accesses. Calls about rosters that are not there are left out, and of athletes who are not
    /// there the names are; what was sent before stays as it is.
    fn record_accesses(
        &self,
        accesses: Vec<AccessRecord>,
    ) -> impl Future<Output = Result<(), StoreError>> + Send;

    /// Calls about a roster and everybody in it, or about one athlete, the last first. Fails with [`StoreError::NotFound`] for
    /// the roster.
    fn accesses(
        &self,
        roster: &RosterId,
        athlete: Option<&AthleteId>,
        page: &Page,
    ) -> impl Future<Output = Result<Listing<AccessRecord>, StoreError>> + Send;

    /// Takes no more writes ([`StoreError::Stopped`]), finishes those queued and leaves the log tidy. Calling it again
    /// does nothing. Reads go on.
    fn close(&self) -> impl Future<Output = Result<(), StoreError>> + Send;
}
