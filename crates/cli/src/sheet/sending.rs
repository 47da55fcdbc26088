//! Sending: parcels on their way to the service, several at once, those of one athlete one after the other.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use tokio::task::{JoinError, JoinSet};

use super::loading::Loading;
use super::parcel::Parcel;
use crate::failure::Failure;

/// Parcels on their way at once.
const AT_ONCE: usize = 4;
/// Parcels that wait because their athlete has one on its way: in a sheet sorted by athlete, those of a few athletes.
const MOST_WAITING: usize = 16;

/// Parcels on their way, with what each comes to. Answers are told in the order of the parcels, whichever comes first. Once a
/// parcel has failed none is begun any more; those that are on their way come to their end and are told.
pub(super) struct Sending<W, T> {
    loading: Loading,
    work: W,
    /// How many parcels came so far; each is known by its number.
    taken: usize,
    waiting: VecDeque<(usize, Parcel)>,
    under_way: JoinSet<(usize, Result<T, Failure>)>,
    /// The athletes of the parcels on their way.
    busy: BTreeMap<usize, String>,
    answered: BTreeMap<usize, Result<T, Failure>>,
    /// The number of the next answer to be told.
    next: usize,
    is_all_taken: bool,
    has_failed: bool,
}

impl<W, F, T> Sending<W, T>
where
    W: Fn(Parcel) -> F,
    F: Future<Output = Result<T, Failure>> + Send + 'static,
    T: Send + 'static,
{
    /// Begins; `work` is what is done with each parcel.
    pub(super) fn begin(loading: Loading, work: W) -> Self {
        Self {
            loading,
            work,
            taken: 0,
            waiting: VecDeque::new(),
            under_way: JoinSet::new(),
            busy: BTreeMap::new(),
            answered: BTreeMap::new(),
            next: 0,
            is_all_taken: false,
            has_failed: false,
        }
    }

    /// What the next parcel came to; nothing after the last, and after the last one begun where one has failed.
    pub(super) async fn next(&mut self) -> Option<Result<T, Failure>> {
        loop {
            if let Some(answer) = self.next_answer() {
                return Some(answer);
            }
            self.start();
            let may_take = !self.is_all_taken
                && !self.has_failed
                && self.under_way.len() < AT_ONCE
                && self.waiting.len() < MOST_WAITING;
            tokio::select! {
                parcel = self.loading.next(), if may_take => match parcel {
                    Some(parcel) => {
                        self.waiting.push_back((self.taken, parcel));
                        self.taken += 1;
                    }
                    None => self.is_all_taken = true,
                },
                Some(ended) = self.under_way.join_next(), if !self.under_way.is_empty() => self.note(ended),
                else => return self.answered.pop_first().map(|(_, answer)| answer),
            }
        }
    }

    /// Waits for the end of the sheet. Fails when it could not be read to the end. What is still on its way is given up.
    pub(super) async fn end(self) -> Result<(), Failure> {
        self.loading.end().await
    }

    fn next_answer(&mut self) -> Option<Result<T, Failure>> {
        let answer = self.answered.remove(&self.next)?;
        self.next += 1;
        Some(answer)
    }

    /// Starts every parcel that may go.
    fn start(&mut self) {
        while !self.has_failed && self.under_way.len() < AT_ONCE {
            let busy: BTreeSet<&String> = self.busy.values().collect();
            let free = self.waiting.iter().position(|(_, parcel)| !busy.contains(&parcel.athlete));
            let Some((number, parcel)) = free.and_then(|at| self.waiting.remove(at)) else { return };
            self.busy.insert(number, parcel.athlete.clone());
            let work = (self.work)(parcel);
            self.under_way.spawn(async move { (number, work.await) });
        }
    }

    fn note(&mut self, ended: Result<(usize, Result<T, Failure>), JoinError>) {
        let (number, answer) = match ended {
            Ok(ended) => ended,
            // A parcel whose number is lost: told before all others.
            Err(error) => (self.next, Err(Failure::internal(&error))),
        };
        self.busy.remove(&number);
        self.has_failed |= answer.is_err();
        self.answered.insert(number, answer);
    }
}

#[cfg(test)]
mod tests {
    use std::sync::{Arc, Mutex};

    use nextrung_sheet::stage::Spot;

    use super::*;

    /// Parcels of athletes with names of one letter, each with its place among all as its row.
    fn parcels(athletes: &str) -> Vec<Parcel> {
        let parcel = |(at, name): (u32, char)| Parcel {
            athlete: name.to_string(),
            spots: vec![Spot::of_row(at)],
            ..Parcel::default()
        };
        (0..).zip(athletes.chars()).map(parcel).collect()
    }

    /// What happened, in order: the place of a parcel, and whether it ended.
    type Steps = Vec<(u32, bool)>;

    /// Sends parcels that end in this order, the first once `together` are begun; those in `bad` fail. Gives the places that
    /// were answered, those that failed with a minus, and what happened.
    async fn sent(
        athletes: &str,
        (order, together): (&'static [u32], usize),
        bad: &'static [u32],
    ) -> (Vec<i64>, Steps) {
        let steps = Arc::new(Mutex::new(Steps::new()));
        let watched = steps.clone();
        let work = move |parcel: Parcel| {
            let (steps, place) = (watched.clone(), parcel.spots[0].row());
            steps.lock().unwrap().push((place, false));
            async move {
                let is_turn = || {
                    let steps = steps.lock().unwrap();
                    let mut before = order.iter().take_while(|at| **at != place);
                    let begun = steps.iter().filter(|(_, is_end)| !is_end).count();
                    begun >= together && before.all(|at| steps.contains(&(*at, true)))
                };
                while !is_turn() {
                    tokio::task::yield_now().await;
                }
                steps.lock().unwrap().push((place, true));
                match bad.contains(&place) {
                    true => Err(Failure::usage(place.to_string(), "")),
                    false => Ok(i64::from(place)),
                }
            }
        };
        let mut sending = Sending::begin(Loading::of(&Arc::new(parcels(athletes))), work);
        let mut told = Vec::new();
        while let Some(answer) = sending.next().await {
            told.push(answer.unwrap_or_else(|failure| -failure.to_string().parse::<i64>().unwrap()));
        }
        sending.end().await.unwrap();
        let steps = std::mem::take(&mut *steps.lock().unwrap());
        (told, steps)
    }

    /// The most parcels that were on their way at once.
    fn most_under_way(steps: &Steps) -> usize {
        let mut under_way = 0_usize;
        let count = |(_, is_end): &(u32, bool)| {
            under_way = if *is_end { under_way - 1 } else { under_way + 1 };
            under_way
        };
        steps.iter().map(count).max().unwrap()
    }

    #[tokio::test]
    async fn several_are_on_their_way_and_are_told_in_their_order() {
        let (told, steps) = sent("abcdefgh", (&[3, 2, 1, 0, 7, 6, 5, 4], AT_ONCE), &[]).await;
        assert_eq!(told, (0..8).collect::<Vec<i64>>());
        assert_eq!(most_under_way(&steps), AT_ONCE);
    }

    #[tokio::test]
    async fn those_of_one_athlete_go_one_after_the_other() {
        let athletes = "aaaabbbacb";
        let (told, steps) = sent(athletes, (&[8, 4, 0, 1, 5, 2, 6, 3, 9, 7], 3), &[]).await;
        assert_eq!(told, (0..10).collect::<Vec<i64>>());
        assert_eq!(most_under_way(&steps), 3, "one of each");
        for athlete in ["a", "b", "c"] {
            let is_own = |place: &u32| parcels(athletes)[usize::try_from(*place).unwrap()].athlete == athlete;
            let own: Steps = steps.iter().filter(|(place, _)| is_own(place)).copied().collect();
            let places: Vec<u32> = (0..10).filter(is_own).collect();
            let wanted: Steps = places.into_iter().flat_map(|at| [(at, false), (at, true)]).collect();
            assert_eq!(own, wanted);
        }
    }

    #[tokio::test]
    async fn after_a_failure_none_is_begun_and_those_on_their_way_are_told() {
        let (told, steps) = sent("abcdefgh", (&[1, 0, 3, 2], AT_ONCE), &[1]).await;
        assert_eq!(told, [0, -1, 2, 3]);
        assert_eq!(steps.iter().filter(|(_, is_end)| !is_end).count(), AT_ONCE);
        // The second and third wait for the first, and are never begun.
        let (told, _) = sent("aaab", (&[3, 0], 2), &[3]).await;
        assert_eq!(told, [0, -3]);
    }
}
