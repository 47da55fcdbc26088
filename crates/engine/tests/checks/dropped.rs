//! Callers that go away: a write dropped anywhere is kept wholly or not at all, its repeat succeeds, and nobody is
//! answered from a state behind the log.

use std::future::poll_fn;
use std::num::NonZeroUsize;
use std::sync::Arc;
use std::task::Poll;
use std::time::Duration;

use nextrung_domain::band::Bands;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_engine::engine::Engine;
use nextrung_engine::error::EngineError;
use nextrung_store::page::Page;
use nextrung_store::record::Days;
use nextrung_store::store::Store;
use tempfile::TempDir;

use crate::slow_store::SlowStore;
use crate::spec::{Spec, key};
use crate::world::{
    HandClock, TODAY, date, engine, events, folder, open_store, people, profile, request, staleness,
};

type Slow = Arc<Engine<SlowStore>>;

/// Waits until every write has ended, and the engine may have done what it does behind it.
async fn settled(engine: &Slow) {
    engine.store().settled().await;
    tokio::time::sleep(Duration::from_millis(10)).await;
}

async fn slow(names: &[&str]) -> (Slow, Vec<AthleteRef>, TempDir) {
    let folder = folder();
    let store = SlowStore::over(open_store(folder.path()).await);
    let engine = engine(store, HandClock::at(TODAY), NonZeroUsize::new(64).expect("some"));
    let people = people(&engine, names).await;
    (engine, people, folder)
}

/// When a future is dropped that is not ready after its last poll.
#[derive(Debug, Clone, Copy)]
enum Moment {
    /// At once.
    AtOnce,
    /// When it asks to be polled again.
    Woken,
}

/// Polls a future at most `polls` times and drops it; nothing when it was not ready by then.
async fn cut<F: Future>(work: F, polls: usize, moment: Moment) -> Option<F::Output> {
    let mut work = Some(Box::pin(work));
    let mut left = polls;
    poll_fn(move |context| {
        if left == 0 {
            work = None;
        }
        let Some(future) = work.as_mut() else { return Poll::Ready(None) };
        left -= 1;
        match (future.as_mut().poll(context), moment) {
            (Poll::Ready(done), _) => Poll::Ready(Some(done)),
            (Poll::Pending, Moment::AtOnce) if left == 0 => {
                work = None;
                Poll::Ready(None)
            }
            (Poll::Pending, Moment::AtOnce | Moment::Woken) => Poll::Pending,
        }
    })
    .await
}

fn plain(key: u16, day: i32) -> Spec {
    Spec { key, day, session: 1, number: 1, what: 0, done: 5 }
}

/// Writes to an athlete's log.
#[derive(Debug, Clone)]
enum Write {
    Record(Vec<Spec>),
    Correct(Spec),
    Withdraw(u16),
    Rename(&'static str),
}

impl Write {
    async fn to(
        &self,
        engine: &Engine<SlowStore>,
        athlete: &AthleteRef,
        id: &str,
    ) -> Result<(), EngineError> {
        let set = |number: u16| ClientSetId::new(&key(number)).expect("a key");
        let id = &format!("{id}-{}", athlete.athlete);
        match self {
            Self::Record(specs) => {
                let drafts: Vec<_> = specs.iter().map(|spec| spec.draft()).collect();
                let asked = request("RecordSets", id, &(athlete, &drafts));
                engine.record_sets(athlete, &drafts, &asked, false).await.map(drop)
            }
            Self::Correct(spec) => {
                let asked = request("CorrectSet", id, &(athlete, spec));
                engine
                    .correct_set(athlete, &set(spec.key), (&spec.draft(), "misread"), &asked)
                    .await
                    .map(drop)
            }
            Self::Withdraw(number) => {
                let asked = request("WithdrawSet", id, &(athlete, number));
                engine.withdraw_set(athlete, &set(*number), "not mine", &asked).await.map(drop)
            }
            Self::Rename(name) => {
                let asked = request("UpdateAthlete", id, &(athlete, name));
                let mut renamed = profile(&["dips/ring-dip"]);
                (*name).clone_into(&mut renamed.display_name);
                engine.update_athlete(athlete, |_| renamed.clone(), &asked).await.map(drop)
            }
        }
    }

    fn events(&self) -> usize {
        if let Self::Record(specs) = self { specs.len() } else { 1 }
    }
}

/// Drops the write after so many polls; true when it ended before.
async fn drop_and_repeat(
    engine: &Slow,
    athlete: &AthleteRef,
    write: &Write,
    (polls, moment): (usize, Moment),
) -> bool {
    let base = Write::Record((0..12).map(|n| plain(n, 700 + 8 * i32::from(n))).collect());
    base.to(engine, athlete, "base").await.expect("recorded");
    assert_eq!(staleness(engine, athlete).await, None);
    let before = events(engine, athlete).await.len();
    let place = format!("{write:?} dropped after {polls} polls, {moment:?}");

    let ended = cut(write.to(engine, athlete, "once"), polls, moment).await.is_some();
    assert_eq!(staleness(engine, athlete).await, None, "at once after {place}");
    settled(engine).await;
    assert_eq!(staleness(engine, athlete).await, None, "a while after {place}");
    let kept = events(engine, athlete).await.len() - before;
    assert!(kept == 0 || kept == write.events(), "{kept} events kept of {place}");

    write.to(engine, athlete, "once").await.unwrap_or_else(|error| panic!("repeat of {place}: {error}"));
    assert_eq!(events(engine, athlete).await.len() - before, write.events(), "after the repeat of {place}");
    assert_eq!(staleness(engine, athlete).await, None, "after the repeat of {place}");
    ended
}

async fn drop_everywhere(write: Write) {
    for moment in [Moment::AtOnce, Moment::Woken] {
        let names: Vec<String> = (1..=32).map(|polls| format!("a{polls}")).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let (engine, people, _folder) = slow(&names).await;
        let mut cuts = 0;
        for (polls, athlete) in (1..).zip(&people) {
            if drop_and_repeat(&engine, athlete, &write, (polls, moment)).await {
                break;
            }
            cuts += 1;
        }
        assert!((1..names.len()).contains(&cuts), "{write:?} was cut in {cuts} places, {moment:?}");
    }
}

#[tokio::test]
async fn a_batch_dropped_anywhere_is_whole_or_absent() {
    drop_everywhere(Write::Record(vec![plain(20, 796), plain(21, 797), plain(22, 798)])).await;
}

#[tokio::test]
async fn a_late_batch_dropped_anywhere_is_whole_or_absent() {
    drop_everywhere(Write::Record(vec![plain(20, 705), plain(21, 500), plain(22, 790)])).await;
}

#[tokio::test]
async fn a_correction_dropped_anywhere_is_whole_or_absent() {
    drop_everywhere(Write::Correct(Spec { done: 2, ..plain(9, 650) })).await;
}

#[tokio::test]
async fn a_withdrawal_dropped_anywhere_is_whole_or_absent() {
    drop_everywhere(Write::Withdraw(4)).await;
}

#[tokio::test]
async fn a_profile_dropped_anywhere_is_whole_or_absent() {
    drop_everywhere(Write::Rename("Lark")).await;
}

#[tokio::test]
async fn a_prescription_dropped_anywhere_is_issued_once() {
    let (engine, people, _folder) = slow(&["wren"]).await;
    let wren = &people[0];
    let base = Write::Record((0..12).map(|n| plain(n, 700 + 8 * i32::from(n))).collect());
    base.to(&engine, wren, "base").await.expect("recorded");
    let mut cuts = 0_usize;
    for polls in 1..32 {
        for moment in [Moment::AtOnce, Moment::Woken] {
            let day: CivilDate = date(
                TODAY + i32::try_from(2 * polls).expect("few") + i32::from(matches!(moment, Moment::Woken)),
            );
            let asked = request("Prescribe", &format!("{day}"), &day);
            cuts += usize::from(cut(engine.prescribe(wren, day, &asked), polls, moment).await.is_none());
            settled(&engine).await;
            let issued = engine.prescribe(wren, day, &asked).await.expect("issued");
            let days = Days { from: Some(day), to: Some(day) };
            let kept = engine.prescriptions(wren, days, &Page::first(9)).await.expect("a list").items;
            assert_eq!(kept, [issued], "{polls} polls, {moment:?}");
        }
    }
    assert!((2..62).contains(&cuts), "cut in {cuts} places");
}

#[tokio::test]
async fn new_bands_dropped_anywhere_are_those_prescribed_with() {
    let (engine, people, _folder) = slow(&["wren"]).await;
    let wren = &people[0];
    let mut bands = Bands::default();
    let mut cuts = 0_usize;
    for polls in 1..16 {
        for moment in [Moment::AtOnce, Moment::Woken] {
            std::mem::swap(&mut bands.reps, &mut bands.lowering);
            let asked = request("UpdateRoster", &format!("{polls} {moment:?}").replace(' ', "-"), &bands);
            let update = engine.update_roster(wren.roster.clone(), (None, Some(Some(bands))), &asked);
            cuts += usize::from(cut(update, polls, moment).await.is_none());
            engine.preview(wren, date(TODAY)).await.expect("made");
            settled(&engine).await;
            let stored =
                engine.store().roster(&wren.roster).await.expect("a roster").bands.unwrap_or_default();
            let used = engine.preview(wren, date(TODAY)).await.expect("made").policy.bands;
            assert_eq!(used, stored, "{polls} polls, {moment:?}");
            let update = engine.update_roster(wren.roster.clone(), (None, Some(Some(bands))), &asked);
            assert_eq!(update.await.expect("updated").bands, Some(bands));
            let used = engine.preview(wren, date(TODAY)).await.expect("made").policy.bands;
            assert_eq!(used, bands, "after the repeat of {polls} polls, {moment:?}");
        }
    }
    assert!((2..30).contains(&cuts), "cut in {cuts} places");
}

/// A base log and its head, then a late write whose caller goes away while it waits in the store's queue.
async fn gone_while_queued(engine: &Slow, wren: &AthleteRef) {
    let base = Write::Record((0..12).map(|n| plain(n, 700 + 8 * i32::from(n))).collect());
    base.to(engine, wren, "base").await.expect("recorded");
    engine.head(wren).await.expect("a head");
    engine.store().queued.notified().await;
    let late = Write::Record(vec![plain(20, 500)]);
    tokio::select! {
        biased;
        _ = late.to(engine, wren, "late") => panic!("the write was over before its caller went away"),
        () = engine.store().queued.notified() => {}
    }
}

#[tokio::test]
async fn repro_a_head_read_while_an_abandoned_write_was_queued_stayed_behind_the_log() {
    let (engine, people, _folder) = slow(&["wren"]).await;
    gone_while_queued(&engine, &people[0]).await;
    assert_eq!(engine.head(&people[0]).await.expect("a head").position, 14);
    settled(&engine).await;
    assert_eq!(staleness(&engine, &people[0]).await, None);
}

#[tokio::test]
async fn repro_the_write_after_an_abandoned_one_was_replayed_from_a_checkpoint_without_it() {
    let (engine, people, _folder) = slow(&["wren"]).await;
    gone_while_queued(&engine, &people[0]).await;
    settled(&engine).await;
    Write::Withdraw(11).to(&engine, &people[0], "next").await.expect("withdrawn");
    assert_eq!(engine.head(&people[0]).await.expect("a head").folded.state.sets, 12);
    assert_eq!(staleness(&engine, &people[0]).await, None);
}
