//! Loading: parcels as they are wanted, filled with the sound sets of a sheet on a thread of its own while others are on their
//! way.

use std::collections::BTreeMap;
use std::io;
use std::ops::ControlFlow;
use std::sync::Arc;

use nextrung_sheet::stage::{DeliveryError, Staged};
use tokio::sync::mpsc;
use tokio::task::JoinHandle;

use super::job::Job;
use super::parcel::{MOST_SETS, Parcel};
use super::source::undelivered;
use super::wire::to_wire;
use crate::failure::Failure;

/// Sets held back in parcels that are not full: about 10 MB, and a sheet in which a hundred athletes take turns still fills
/// parcels of 200.
const MOST_HELD: usize = 20_000;
/// Parcels that wait to be sent.
const WAITING: usize = 2;

/// A sheet that is being put into parcels.
#[derive(Debug)]
pub(super) struct Loading {
    parcels: mpsc::Receiver<Parcel>,
    done: JoinHandle<Result<usize, DeliveryError>>,
}

impl Loading {
    /// Begins with a sheet that was rehearsed.
    pub(super) fn begin(job: &Arc<Job>, staged: &Arc<Staged>) -> Self {
        let (sender, parcels) = mpsc::channel(WAITING);
        let (job, staged) = (job.clone(), staged.clone());
        let done = tokio::task::spawn_blocking(move || load(&job, &staged, &sender));
        Self { parcels, done }
    }

    /// Parcels that are filled already; each is copied when it is wanted.
    pub(super) fn of(filled: &Arc<Vec<Parcel>>) -> Self {
        let (sender, parcels) = mpsc::channel(WAITING);
        let filled = filled.clone();
        let done = tokio::spawn(async move {
            for parcel in filled.iter() {
                // Nobody waits for it any more.
                if sender.send(parcel.clone()).await.is_err() {
                    break;
                }
            }
            Ok(0)
        });
        Self { parcels, done }
    }

    /// The next parcel; nothing after the last.
    pub(super) async fn next(&mut self) -> Option<Parcel> {
        self.parcels.recv().await
    }

    /// Waits for the end of the sheet. Fails when it could not be read to the end.
    pub(super) async fn end(self) -> Result<(), Failure> {
        drop(self.parcels);
        let done = self.done.await.map_err(|error| Failure::internal(&error))?;
        done.map(drop).map_err(|error| undelivered(&error))
    }
}

fn load(job: &Job, staged: &Staged, sender: &mpsc::Sender<Parcel>) -> Result<usize, DeliveryError> {
    let mut packing = Packing::default();
    let given = |parcel: Option<Parcel>| match parcel.map(|parcel| sender.blocking_send(parcel)) {
        // Nobody waits for it any more.
        Some(Err(_)) => ControlFlow::Break(()),
        Some(Ok(())) | None => ControlFlow::Continue(()),
    };
    let rows = job.deliver(staged, &mut io::sink(), &mut |set| {
        let parcel = packing.parcel(&job.roster, set.athlete);
        parcel.sets.push(to_wire(&set.draft));
        parcel.spots.push(set.spot);
        packing.held += 1;
        given(packing.full(set.athlete))
    })?;
    let _ = packing.parcels.into_values().try_for_each(|parcel| given(Some(parcel)));
    Ok(rows)
}

/// Parcels that are being filled, by athlete.
#[derive(Debug, Default)]
struct Packing {
    parcels: BTreeMap<String, Parcel>,
    held: usize,
}

impl Packing {
    /// The parcel of an athlete.
    fn parcel(&mut self, roster: &str, athlete: &str) -> &mut Parcel {
        let begun = || Parcel { athlete: format!("{roster}/athletes/{athlete}"), ..Parcel::default() };
        self.parcels.entry(athlete.to_owned()).or_insert_with(begun)
    }

    /// A parcel to be sent, when that of `athlete` is full or too much is held.
    fn full(&mut self, athlete: &str) -> Option<Parcel> {
        let is_full = self.parcels.get(athlete).is_some_and(|parcel| parcel.sets.len() >= MOST_SETS);
        let whose = match (is_full, self.held >= MOST_HELD) {
            (true, _) => athlete.to_owned(),
            (false, true) => self.parcels.iter().max_by_key(|(_, parcel)| parcel.sets.len())?.0.clone(),
            (false, false) => return None,
        };
        let parcel = self.parcels.remove(&whose)?;
        self.held = self.held.saturating_sub(parcel.sets.len());
        Some(parcel)
    }
}

#[cfg(test)]
mod tests {
    use nextrung_api::v1;

    use super::*;

    fn put(packing: &mut Packing, athlete: &str) -> Option<(String, usize)> {
        packing.parcel("rosters/hall", athlete).sets.push(v1::LoggedSet::default());
        packing.held += 1;
        packing.full(athlete).map(|parcel| (parcel.athlete, parcel.sets.len()))
    }

    #[test]
    fn a_parcel_goes_when_it_is_full() {
        let mut packing = Packing::default();
        for _ in 1..MOST_SETS {
            assert_eq!(put(&mut packing, "wren"), None);
            assert_eq!(put(&mut packing, "lark"), None);
        }
        assert_eq!(put(&mut packing, "wren"), Some(("rosters/hall/athletes/wren".to_owned(), MOST_SETS)));
        assert_eq!((packing.held, packing.parcels.len()), (MOST_SETS - 1, 1));
    }

    #[test]
    fn the_fullest_goes_when_too_much_is_held() {
        let mut packing = Packing::default();
        for n in 1..MOST_HELD {
            let athlete = format!("a-{}", n % 100);
            assert_eq!(put(&mut packing, &athlete), None, "{n}");
        }
        let (_, sets) = put(&mut packing, "a-7").unwrap();
        assert!(sets >= MOST_HELD / 100, "{sets}");
        assert_eq!(packing.held, MOST_HELD - sets);
    }
}
