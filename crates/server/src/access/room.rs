//! Room: how many long messages are held at a time, so that a few senders of them do not take the memory of all calls.

use std::sync::Arc;

use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tonic::Status;

use crate::status::{key_too_busy, too_busy};

use super::allowance::LITTLE_WHILE;

/// Bytes beyond which a message is long: more than a thousand sets without notes take.
pub(crate) const LONG: usize = 256 * 1024;

/// Room for the long messages of all callers, and of the key of one call where keys are asked for.
#[derive(Debug, Clone)]
pub(crate) struct Room {
    of_all: Arc<Semaphore>,
    of_key: Option<Arc<Semaphore>>,
}

/// The room that one long message takes until this is dropped.
#[derive(Debug)]
pub(crate) struct Taken {
    _of_all: OwnedSemaphorePermit,
    _of_key: Option<OwnedSemaphorePermit>,
}

impl Room {
    /// Room for so many long messages.
    pub(crate) fn new(messages: usize) -> Self {
        Self { of_all: Arc::new(Semaphore::new(messages)), of_key: None }
    }

    /// The same room, of which a key has only so much.
    pub(crate) fn of_key(&self, places: Arc<Semaphore>) -> Self {
        Self { of_all: Arc::clone(&self.of_all), of_key: Some(places) }
    }

    /// Room for one more. Fails when the key, or all together, have no more.
    pub(crate) fn take(&self) -> Result<Taken, Status> {
        let own = self.of_key.clone().map(Semaphore::try_acquire_owned).transpose();
        let of_key = own.map_err(|_| key_too_busy(LITTLE_WHILE))?;
        let of_all = Arc::clone(&self.of_all).try_acquire_owned().map_err(|_| too_busy())?;
        Ok(Taken { _of_all: of_all, _of_key: of_key })
    }
}

#[cfg(test)]
mod tests {
    use nextrung_api::v1;
    use nextrung_api::v1::logged_set::Done;
    use prost::Message;
    use tonic_types::StatusExt;

    use super::*;

    #[test]
    fn a_whole_batch_of_sets_without_notes_is_not_long() {
        let set = v1::LoggedSet {
            client_set_id: "wren:2026-03-14:1:1".to_owned(),
            training_date: Some(v1::Date { year: 2026, month: 3, day: 14 }),
            set_number: 12,
            rung: "ladders/hand-balance/rungs/free-straddle".to_owned(),
            purpose: v1::Purpose::Working.into(),
            done: Some(Done::Reps(5)),
            stop: v1::Stop::Strength.into(),
            shadings: vec!["light-band".to_owned(); 3],
            ..v1::LoggedSet::default()
        };
        let request = v1::RecordSetsRequest { sets: vec![set; 1000], ..v1::RecordSetsRequest::default() };
        assert!(request.encoded_len() < LONG, "{}", request.encoded_len());
    }

    #[test]
    fn a_key_has_its_part_and_all_have_the_whole() {
        let room = Room::new(3);
        let [one, other] = [2, 2].map(|most| room.of_key(Arc::new(Semaphore::new(most))));
        let taken = [one.take().unwrap(), one.take().unwrap()];
        let reason =
            |refused: Result<Taken, Status>| refused.unwrap_err().get_details_error_info().unwrap().reason;
        assert_eq!(reason(one.take()), "KEY_TOO_BUSY");
        let last = other.take().unwrap();
        assert_eq!(reason(other.take()), "TOO_BUSY");
        assert_eq!(reason(room.take()), "TOO_BUSY");
        drop(taken);
        let again = [one.take().unwrap(), one.take().unwrap()];
        assert_eq!(reason(other.take()), "TOO_BUSY", "what was refused took nothing of the key's");
        drop((last, again));
        let _of_key = [other.take().unwrap(), other.take().unwrap()];
    }
}
