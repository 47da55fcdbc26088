//! Checks of requests that come again.

use std::sync::Arc;

use nextrung_domain::ids::{AthleteRef, RosterId};
use tokio::task::JoinSet;

use super::scene::{NOW, append, athlete, prescription, recorded, request, roster, wren};
use super::{Broken, Kept, equal, fails, holds};
use crate::append::{Append, Appended};
use crate::error::StoreError;
use crate::record::{NewAthlete, RosterChange};
use crate::request::{Answer, RequestKey};
use crate::store::Store;

fn is_reused(error: &StoreError) -> bool {
    matches!(error, StoreError::RequestReused { request_id } if request_id == "r")
}

/// An append of one set under request `r`.
fn keyed(id: &AthleteRef, set: &str, content: u8) -> Result<Append, Broken> {
    Ok(Append { request: Some(request(id, "record", "r", content)), ..append(id, vec![recorded(set)?]) })
}

pub(super) async fn a_repeat_gets_the_first_answer<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let first = Append { expected_sequence: Some(1), ..keyed(&id, "a", 1)? };
    let done = store.append(first.clone()).await?;
    store.append(append(&id, vec![recorded("b")?])).await?;
    let again = store.append(Append { arrived_at_ms: NOW + 5, ..first }).await?;
    equal("the first answer, marked", &again, &Appended { was_replay: true, ..done })?;
    equal("the arrival is the first", &again.arrived_at_ms, &NOW)?;
    equal("nothing was added", &store.athlete(&id).await?.last_sequence, &3)
}

pub(super) async fn other_content_under_the_same_id_is_refused<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    store.append(keyed(&id, "a", 1)?).await?;
    fails("other content is refused", store.append(keyed(&id, "b", 2)?).await, is_reused)?;
    equal("nothing was added", &store.athlete(&id).await?.last_sequence, &2)?;
    let other_method =
        Append { request: Some(request(&id, "correct", "r", 2)), ..append(&id, vec![recorded("b")?]) };
    equal("another method has its own ids", &store.append(other_method).await?.was_replay, &false)?;
    store.create_roster(roster("other")?, None).await?;
    let other = store.create_athlete(athlete("other", "wren")?, None).await?.record.id;
    equal("so has another roster", &store.append(keyed(&other, "a", 2)?).await?.was_replay, &false)
}

pub(super) async fn a_failed_write_leaves_its_id_free<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let early = Append { expected_sequence: Some(9), ..keyed(&id, "a", 1)? };
    fails("the write fails", store.append(early).await, |e| matches!(e, StoreError::Moved { .. }))?;
    let key = request(&id, "record", "r", 2);
    equal("its id is free", &store.requested(&key).await?, &None)?;
    equal("another may use it", &store.append(keyed(&id, "a", 2)?).await?.was_replay, &false)
}

pub(super) async fn repeats_at_the_same_time_write_once<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let mut tasks = JoinSet::new();
    for _ in 0..16 {
        let (store, append) = (Arc::clone(&store), keyed(&id, "a", 1)?);
        tasks.spawn(async move { store.append(append).await });
    }
    let mut first = 0;
    while let Some(ended) = tasks.join_next().await {
        let done = ended??;
        equal("all get the same place", &(done.first_sequence, done.last_sequence), &(2, 2))?;
        first += i32::from(!done.was_replay);
    }
    equal("one of them wrote", &first, &1)?;
    equal("one event was added", &store.athlete(&id).await?.last_sequence, &2)
}

pub(super) async fn a_repeated_creation_answers_as_at_first<S: Store>(store: Arc<S>) -> Kept {
    let key = |method: &str| -> Result<_, Broken> {
        Ok(Some(RequestKey {
            roster: RosterId::new("coach")?,
            method: method.to_owned(),
            id: "r".to_owned(),
            fingerprint: [1; 32],
        }))
    };
    let made = store.create_roster(roster("coach")?, key("create-roster")?).await?;
    let title = Some("Changed".to_owned());
    let change = RosterChange { id: made.record.id.clone(), title, bands: None, updated_at_ms: NOW + 1 };
    let changed = store.update_roster(change.clone(), key("update-roster")?).await?;
    let again = store.create_roster(roster("coach")?, key("create-roster")?).await?;
    equal("the roster as it was made", &(again.record, again.was_replay), &(made.record, true))?;
    let wren = athlete("coach", "wren")?;
    let made = store.create_athlete(wren.clone(), key("create-athlete")?).await?;
    store.append(append(&wren.id, vec![recorded("a")?])).await?;
    let late = NewAthlete { created_at_ms: NOW + 5, ..wren.clone() };
    let again = store.create_athlete(late, key("create-athlete")?).await?;
    equal("the athlete as it was made", &(again.record, again.was_replay), &(made.record, true))?;
    let rest = RosterChange { title: Some("Later".to_owned()), ..change.clone() };
    store.update_roster(rest, None).await?;
    let again = store.update_roster(change, key("update-roster")?).await?;
    equal("the change as it was answered", &(again.record, again.was_replay), &(changed.record, true))?;
    equal("and not done again", &store.roster(&wren.id.roster).await?.title, &"Later".to_owned())?;
    let issued = prescription(&wren.id, "p1", "2026-03-14", 0)?;
    store.save_prescription(issued.clone(), key("prescribe")?).await?;
    let retried = prescription(&wren.id, "p2", "2026-03-14", 9)?;
    let again = store.save_prescription(retried.clone(), key("prescribe")?).await?;
    equal("the prescription first issued", &(again.record, again.was_replay), &(issued, true))?;
    let second = store.prescription(&wren.id, &retried.id).await;
    fails("and no second one", second, |e| matches!(e, StoreError::NotFound { what: "prescription", .. }))
}

pub(super) async fn a_request_can_be_looked_up<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let key = |method: &str| request(&id, method, "r", 1);
    equal("unknown before", &store.requested(&key("record")).await?, &None)?;
    let done = store.append(keyed(&id, "a", 1)?).await?;
    let wanted = Answer::Appended(id.clone(), Appended { was_replay: true, ..done });
    equal("an append", &store.requested(&key("record")).await?, &Some(wanted))?;
    let other = store.requested(&request(&id, "record", "r", 2)).await;
    fails("other content is refused", other, is_reused)?;
    let made = store.create_roster(roster("b")?, Some(key("create-roster"))).await?.record;
    equal("a roster", &store.requested(&key("create-roster")).await?, &Some(Answer::Roster(made)))?;
    let made = store.create_athlete(athlete("b", "finch")?, Some(key("create-athlete"))).await?.record;
    equal("an athlete", &store.requested(&key("create-athlete")).await?, &Some(Answer::Athlete(made)))?;
    let issued = prescription(&id, "p", "2026-03-14", 0)?;
    store.save_prescription(issued.clone(), Some(key("prescribe"))).await?;
    let found = store.requested(&key("prescribe")).await?;
    equal("a prescription", &found, &Some(Answer::Prescription(issued)))?;
    equal("looking adds nothing", &store.athlete(&id).await?.last_sequence, &2)
}

pub(super) async fn an_id_answers_for_one_kind_of_write<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    store.append(keyed(&id, "a", 1)?).await?;
    let key = request(&id, "record", "r", 1);
    let roster = store.create_roster(roster("b")?, Some(key.clone())).await;
    fails("an append's id makes no roster", roster, is_reused)?;
    let robin = store.create_athlete(athlete("coach", "robin")?, Some(key.clone())).await;
    fails("an append's id makes no athlete", robin, is_reused)?;
    let issued = store.save_prescription(prescription(&id, "p", "2026-03-14", 0)?, Some(key)).await;
    fails("an append's id makes no prescription", issued, is_reused)
}

pub(super) async fn bad_request_keys_are_refused<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let is_refused =
        |e: &StoreError| matches!(e, StoreError::Refused { field: "request.id" | "request.method", .. });
    let long = "é".repeat(129);
    for (method, request_id) in [("record", ""), ("record", long.as_str()), ("", "r")] {
        let key = request(&id, method, request_id, 1);
        fails("a bad key is not looked up", store.requested(&key).await, is_refused)?;
        let bad = Append { request: Some(key), ..append(&id, vec![recorded("a")?]) };
        fails("nor written under", store.append(bad).await, is_refused)?;
    }
    let key = request(&id, "record", &"é".repeat(128), 1);
    let good = Append { request: Some(key), ..append(&id, vec![recorded("a")?]) };
    store.append(good.clone()).await?;
    holds("128 characters of any script are an id", store.append(good).await?.was_replay)
}
