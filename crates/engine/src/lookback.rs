//! Lookback: everything a question about the past is answered from, and the threads on which such answers are worked out.
//!
//! A review or a forecast takes some ten milliseconds. Worked out where calls are answered, a few of them would hold up all
//! others; here as many run at a time as there are processors, and the rest wait for their turn. Whoever waits has read
//! no log yet, so that those who wait hold next to nothing.

use std::sync::Arc;

use nextrung_capacity::model::Model;
use nextrung_capacity::state::AthleteState;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::AthleteRef;
use nextrung_domain::set::SetEntry;
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::situation::Situation;
use nextrung_store::error::StoreError;
use nextrung_store::store::Store;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use crate::engine::Engine;
use crate::error::EngineError;
use crate::fold::{Folded, Head, folded_before};
use crate::set_log::SetLog;

/// The places of answers that take long.
pub(crate) struct Benches {
    places: Arc<Semaphore>,
}

impl Benches {
    /// One for each processor.
    pub(crate) fn new() -> Self {
        let count = std::thread::available_parallelism().map_or(1, std::num::NonZeroUsize::get);
        Self { places: Arc::new(Semaphore::new(count)) }
    }

    /// A place, when there is one. Whatever the work needs is read after this.
    pub(crate) async fn place(&self) -> Result<Place, EngineError> {
        let permit = self.places.clone().acquire_owned().await.map_err(|_| StoreError::Stopped)?;
        Ok(Place { _permit: permit })
    }
}

/// A place among those of the answers that take long.
pub(crate) struct Place {
    _permit: OwnedSemaphorePermit,
}

impl Place {
    /// Works something out on a thread of its own and gives the place back when that is done, whoever still waits for it.
    pub(crate) async fn work<T: Send + 'static>(
        self,
        job: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, EngineError> {
        let worked = tokio::task::spawn_blocking(move || {
            let done = job();
            drop(self);
            done
        });
        Ok(worked.await.map_err(|_| StoreError::Stopped)?)
    }
}

/// An athlete as the sets up to and on a day have them.
pub(crate) struct Lookback {
    model: Model,
    head: Arc<Head>,
    policy: Policy,
    log: SetLog,
    folded: Folded,
    state: AthleteState,
    date: CivilDate,
}

impl Lookback {
    /// Folds what a log has up to and on a day.
    pub(crate) fn new(
        model: Model,
        (head, policy): (Arc<Head>, Policy),
        log: SetLog,
        date: CivilDate,
    ) -> Self {
        let folded = folded_before(&model, &log, date.plus_days(1));
        let state = folded.state.on(&model.parameters, date.day_number());
        Self { model, head, policy, log, folded, state, date }
    }

    /// The situation at the end of the day.
    pub(crate) fn situation(&self) -> Situation<'_> {
        Situation {
            model: &self.model,
            state: &self.state,
            history: &self.folded.history,
            profile: &self.head.profile,
            policy: &self.policy,
            date: self.date,
        }
    }

    /// The sets that count, up to and on the day, in training order.
    pub(crate) fn sets(&self) -> Vec<&SetEntry> {
        let counting = self.log.ordered().into_iter().filter(|s| s.counts() && s.set.date <= self.date);
        counting.map(|logged| &logged.set).collect()
    }
}

impl<S: Store> Engine<S> {
    /// Reads an athlete's log up to the head and has an answer worked out from the sets up to and on a day.
    pub(crate) async fn look_back<T: Send + 'static>(
        &self,
        (athlete, head): (&AthleteRef, Arc<Head>),
        date: CivilDate,
        answer: impl FnOnce(&Lookback) -> T + Send + 'static,
    ) -> Result<T, EngineError> {
        let place = self.benches.place().await?;
        let policy = self.policy_for(athlete, &head).await?;
        let log = self.read_log(athlete, Some(head.position)).await?;
        let model = self.model.clone();
        let job = move || answer(&Lookback::new(model, (head, policy), log, date));
        place.work(job).await
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;

    use super::*;

    #[tokio::test]
    async fn a_place_is_taken_until_the_work_is_done_even_when_nobody_waits_for_it() {
        let benches = Benches { places: Arc::new(Semaphore::new(1)) };
        let (finish, finished) = channel::<()>();
        let place = benches.place().await.unwrap();
        let asked = tokio::spawn(place.work(move || finished.recv()));
        tokio::task::yield_now().await;
        asked.abort();
        assert!(asked.await.unwrap_err().is_cancelled());
        assert_eq!(benches.places.available_permits(), 0, "the work goes on");
        finish.send(()).unwrap();
        let place = benches.place().await.unwrap();
        assert_eq!(place.work(|| 7).await.unwrap(), 7);
        assert_eq!(benches.places.available_permits(), 1);
    }
}
