//! Repeats: a request sent twice is done once; a batch is kept wholly or not at all; every bad field is named.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_domain::stop::Stop;
use nextrung_engine::error::EngineError;
use nextrung_engine::record::{MAX_BATCH, Recorded};
use nextrung_engine::request::Request;
use nextrung_engine::set_log::SetStatus;
use nextrung_store::error::StoreError;

use crate::spec::{Spec, key};
use crate::world::{World, events, profile, request, staleness};

fn spec(key: u16) -> Spec {
    let day = 700 + i32::from(key % 90);
    Spec { key, day, session: 1, number: 1, what: 0, done: 4 }
}

fn drafts(keys: impl IntoIterator<Item = u16>) -> Vec<SetDraft> {
    keys.into_iter().map(|key| spec(key).draft()).collect()
}

fn set(number: u16) -> ClientSetId {
    ClientSetId::new(&key(number)).expect("a key")
}

async fn record(
    world: &World,
    wren: &AthleteRef,
    id: &str,
    sets: &[SetDraft],
) -> Result<Recorded, EngineError> {
    world.engine.record_sets(wren, sets, &request("RecordSets", id, &sets), false).await
}

async fn kept(world: &World, wren: &AthleteRef) -> usize {
    // The profile is the first event.
    events(&world.engine, wren).await.len() - 1
}

/// Fields of a refusal, in the order told.
fn fields(found: Result<Recorded, EngineError>) -> Vec<String> {
    match found {
        Err(EngineError::BadFields { problems }) => problems.into_iter().map(|p| p.field).collect(),
        other => panic!("no bad fields: {other:?}"),
    }
}

fn is_reused(found: &Result<Recorded, EngineError>) -> bool {
    matches!(found, Err(EngineError::Store(StoreError::RequestReused { .. })))
}

#[tokio::test]
async fn a_repeat_has_the_first_answer_whatever_came_after_it() {
    let (world, wren) = World::with_wren().await;
    let first = record(&world, &wren, "one", &drafts(0..5)).await.expect("recorded");
    assert_eq!(first.position, 6);
    assert_eq!(first.sets.iter().map(|s| s.first_sequence).collect::<Vec<_>>(), [2, 3, 4, 5, 6]);

    record(&world, &wren, "two", &drafts(5..9)).await.expect("recorded");
    let other = Spec { done: 2, ..spec(1) }.draft();
    let asked = request("CorrectSet", "three", &other);
    let corrected =
        world.engine.correct_set(&wren, &set(1), (&other, "misread"), &asked).await.expect("corrected");
    let asked_out = request("WithdrawSet", "four", &2);
    let withdrawn =
        world.engine.withdraw_set(&wren, &set(2), "not mine", &asked_out).await.expect("withdrawn");
    let events_then = kept(&world, &wren).await;

    let world = world.restarted().await;
    assert_eq!(record(&world, &wren, "one", &drafts(0..5)).await.expect("repeated"), first);
    let again =
        world.engine.correct_set(&wren, &set(1), (&other, "misread"), &asked).await.expect("repeated");
    assert_eq!(again, corrected);
    let again = world.engine.withdraw_set(&wren, &set(2), "not mine", &asked_out).await.expect("repeated");
    assert_eq!(again, withdrawn);
    assert_eq!(kept(&world, &wren).await, events_then);
    assert_eq!(staleness(&world.engine, &wren).await, None);
}

#[tokio::test]
async fn a_repeat_is_answered_when_its_content_would_be_refused_by_now() {
    let (world, wren) = World::with_wren().await;
    let today = Spec { day: 800, ..spec(0) }.draft();
    let first = record(&world, &wren, "one", std::slice::from_ref(&today)).await.expect("recorded");
    world.clock.set(700);
    assert_eq!(
        fields(record(&world, &wren, "two", std::slice::from_ref(&today)).await),
        ["sets[0].training_date"]
    );
    assert_eq!(record(&world, &wren, "one", &[today]).await.expect("repeated"), first);
}

#[tokio::test]
async fn a_request_id_stands_for_one_content() {
    let (world, wren) = World::with_wren().await;
    record(&world, &wren, "one", &drafts(0..2)).await.expect("recorded");
    assert!(is_reused(&record(&world, &wren, "one", &drafts(0..3)).await));
    assert_eq!(kept(&world, &wren).await, 2);

    // Another method has ids of its own.
    let asked = request("WithdrawSet", "one", &0);
    world.engine.withdraw_set(&wren, &set(0), "not mine", &asked).await.expect("withdrawn");
    let other = request("WithdrawSet", "one", &1);
    assert!(is_reused(&world.engine.withdraw_set(&wren, &set(1), "not mine", &other).await));
}

#[tokio::test]
async fn a_refused_request_leaves_its_id_free() {
    let (world, wren) = World::with_wren().await;
    let bad = SetDraft { set_number: 0, ..spec(0).draft() };
    assert_eq!(fields(record(&world, &wren, "one", &[bad]).await), ["sets[0].set_number"]);
    assert_eq!(record(&world, &wren, "one", &drafts([0])).await.expect("recorded").position, 2);
}

#[tokio::test]
async fn an_odd_request_id_is_refused_before_anything_else() {
    let (world, wren) = World::with_wren().await;
    for id in ["", "two words", "zwei\u{e4}", "tab\t", &"x".repeat(129)] {
        let asked = Request { id: id.to_owned(), method: "RecordSets", fingerprint: [0; 32] };
        let found = world.engine.record_sets(&wren, &drafts([0]), &asked, false).await;
        assert_eq!(fields(found), ["request_id"], "{id:?}");
    }
    assert_eq!(kept(&world, &wren).await, 0);
    record(&world, &wren, &"x".repeat(128), &drafts([0])).await.expect("the longest id");
}

#[tokio::test]
async fn a_set_sent_again_is_answered_and_not_recorded_again() {
    let (world, wren) = World::with_wren().await;
    let first = record(&world, &wren, "one", &drafts(0..4)).await.expect("recorded");
    let more = record(&world, &wren, "two", &drafts(2..6)).await.expect("recorded");
    assert_eq!(more.position, 7);
    assert_eq!(more.sets[..2], first.sets[2..]);
    assert_eq!(more.sets[2..].iter().map(|s| s.first_sequence).collect::<Vec<_>>(), [6, 7]);
    let none = record(&world, &wren, "three", &drafts(0..6)).await.expect("all known");
    assert_eq!((none.position, kept(&world, &wren).await), (7, 6));

    let asked = request("WithdrawSet", "four", &0);
    world.engine.withdraw_set(&wren, &set(0), "not mine", &asked).await.expect("withdrawn");
    let again = record(&world, &wren, "five", &drafts([0])).await.expect("known");
    assert_eq!(again.sets[0].status, SetStatus::Withdrawn { reason: "not mine".to_owned() });
    assert_eq!(kept(&world, &wren).await, 7);
}

#[tokio::test]
async fn keys_of_sets_with_other_content_are_all_named_and_nothing_is_kept() {
    let (world, wren) = World::with_wren().await;
    record(&world, &wren, "one", &drafts(0..4)).await.expect("recorded");
    let mut batch = drafts([0, 7, 3, 8, 1]);
    for changed in [2, 4] {
        batch[changed].rest_seconds = Some(99);
    }
    match record(&world, &wren, "two", &batch).await {
        Err(EngineError::SetReused { ids }) => assert_eq!(ids, [set(3), set(1)]),
        other => panic!("{other:?}"),
    }
    assert_eq!(kept(&world, &wren).await, 4);
}

#[tokio::test]
async fn a_batch_with_bad_sets_keeps_nothing_and_names_every_bad_field() {
    let (world, wren) = World::with_wren().await;
    let mut batch = drafts(0..5);
    batch[1].done = Some((nextrung_domain::measure::Unit::HoldSeconds, 5));
    batch[1].set_number = 201;
    batch[3].rung = "pull/pull-down".to_owned();
    batch[4].planned_target = Some(9);
    batch[4].stop = Choice::Known(Stop::Target);
    let found = fields(record(&world, &wren, "one", &batch).await);
    assert_eq!(found, ["sets[1].set_number", "sets[1].hold_seconds", "sets[3].rung", "sets[4].stop"]);
    assert_eq!(kept(&world, &wren).await, 0);
    assert_eq!(staleness(&world.engine, &wren).await, None);
}

#[tokio::test]
async fn a_batch_has_one_to_a_thousand_sets() {
    let (world, wren) = World::with_wren().await;
    assert_eq!(MAX_BATCH, 1000);
    assert_eq!(fields(record(&world, &wren, "none", &[]).await), ["sets"]);
    assert_eq!(fields(record(&world, &wren, "many", &drafts(0..1001)).await), ["sets"]);
    assert_eq!(kept(&world, &wren).await, 0);
    assert_eq!(record(&world, &wren, "most", &drafts(0..1000)).await.expect("recorded").position, 1001);
    assert_eq!(kept(&world, &wren).await, 1000);
    assert_eq!(staleness(&world.engine, &wren).await, None);
}

#[tokio::test]
async fn keys_used_twice_in_a_batch_are_named_with_their_first_use() {
    let (world, wren) = World::with_wren().await;
    let batch = drafts([3, 1, 3, 2, 1, 3]);
    match record(&world, &wren, "one", &batch).await {
        Err(EngineError::BadFields { problems }) => {
            let told: Vec<(&str, &str)> =
                problems.iter().map(|p| (p.field.as_str(), p.found.as_str())).collect();
            let wanted = [
                ("sets[2].client_set_id", "`set-3`, which sets[0] has too"),
                ("sets[4].client_set_id", "`set-1`, which sets[1] has too"),
                ("sets[5].client_set_id", "`set-3`, which sets[0] has too"),
            ];
            assert_eq!(told, wanted);
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(kept(&world, &wren).await, 0);
}

#[tokio::test]
async fn a_trial_run_checks_everything_and_keeps_nothing() {
    let (world, wren) = World::with_wren().await;
    record(&world, &wren, "one", &drafts([0])).await.expect("recorded");
    let batch = drafts(0..3);
    let asked = request("RecordSets", "two", &batch);
    let tried = world.engine.record_sets(&wren, &batch, &asked, true).await.expect("sound");
    assert_eq!(tried.sets.iter().map(|s| s.first_sequence).collect::<Vec<_>>(), [2, 0, 0]);
    assert_eq!((tried.position, kept(&world, &wren).await), (2, 1));
    assert_eq!(world.engine.record_sets(&wren, &batch, &asked, false).await.expect("recorded").position, 4);
    let bad = SetDraft { rung: String::new(), ..spec(9).draft() };
    let found = world.engine.record_sets(&wren, &[bad], &request("RecordSets", "three", &9), true).await;
    assert_eq!(fields(found), ["sets[0].rung"]);
}

#[tokio::test]
async fn a_correction_keeps_its_key_and_says_why() {
    let (world, wren) = World::with_wren().await;
    record(&world, &wren, "one", &drafts(0..2)).await.expect("recorded");
    let correct = async |id: &str, draft: SetDraft, reason: &str| {
        let asked = request("CorrectSet", id, &(&draft, reason));
        world.engine.correct_set(&wren, &set(0), (&draft, reason), &asked).await
    };
    let other = Spec { done: 9, ..spec(0) }.draft();
    let keyless = SetDraft { client_set_id: String::new(), ..other.clone() };
    assert_eq!(correct("two", keyless, "misread").await.expect("corrected").sets[0].set.done, 9);
    let foreign = SetDraft { client_set_id: key(1), rung: "pull".to_owned(), ..other.clone() };
    let found = fields(correct("three", foreign, "  ").await);
    assert_eq!(found, ["reason", "replacement.client_set_id", "replacement.rung"]);
    assert_eq!(fields(correct("four", other, &"x".repeat(1001)).await), ["reason"]);
    assert_eq!(kept(&world, &wren).await, 3);
}

#[tokio::test]
async fn sets_unknown_or_withdrawn_cannot_be_changed() {
    let (world, wren) = World::with_wren().await;
    record(&world, &wren, "one", &drafts(0..2)).await.expect("recorded");
    let withdraw = async |id: &str, number: u16| {
        let asked = request("WithdrawSet", id, &number);
        world.engine.withdraw_set(&wren, &set(number), "not mine", &asked).await
    };
    let is_gone =
        |found: Result<Recorded, EngineError>| matches!(found, Err(EngineError::SetWithdrawn { .. }));
    let is_unknown =
        |found: Result<Recorded, EngineError>| matches!(found, Err(EngineError::SetNotFound { .. }));
    assert!(is_unknown(withdraw("two", 9).await));
    withdraw("three", 0).await.expect("withdrawn");
    assert!(is_gone(withdraw("four", 0).await));
    let draft = spec(0).draft();
    let asked = request("CorrectSet", "five", &draft);
    assert!(is_gone(world.engine.correct_set(&wren, &set(0), (&draft, "misread"), &asked).await));
    let draft = spec(9).draft();
    let asked = request("CorrectSet", "six", &draft);
    assert!(is_unknown(world.engine.correct_set(&wren, &set(9), (&draft, "misread"), &asked).await));
}

#[tokio::test]
async fn a_profile_is_changed_once_for_each_request() {
    let (world, wren) = World::with_wren().await;
    record(&world, &wren, "one", &drafts(0..2)).await.expect("recorded");
    let mut renamed = profile(&["dips/ring-dip"]);
    renamed.display_name = "Lark".to_owned();
    let asked = request("UpdateAthlete", "two", &renamed);
    let first = world.engine.update_athlete(&wren, |_| renamed.clone(), &asked).await.expect("changed");
    assert_eq!((first.profile.display_name.as_str(), first.last_sequence), ("Lark", 4));
    let again = world.engine.update_athlete(&wren, |_| renamed.clone(), &asked).await.expect("repeated");
    assert_eq!((again, kept(&world, &wren).await), (first, 3));
    let other = request("UpdateAthlete", "two", &"other");
    let found = world.engine.update_athlete(&wren, |_| renamed.clone(), &other).await;
    assert!(matches!(found, Err(EngineError::Store(StoreError::RequestReused { .. }))));
    assert_eq!(staleness(&world.engine, &wren).await, None);
}
