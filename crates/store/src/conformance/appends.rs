//! Checks of appends.

use std::sync::Arc;
use std::time::Duration;

use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::ClientSetId;
use tokio::task::JoinSet;

use super::scene::{NOW, append, athlete, corrected, full_set, profile, recorded, withdrawn, wren};
use super::{Broken, Kept, equal, fails, holds};
use crate::append::{Append, Appended};
use crate::error::StoreError;
use crate::store::Store;

fn ids(texts: &[&str]) -> Result<Vec<ClientSetId>, Broken> {
    Ok(texts.iter().map(|text| ClientSetId::new(text)).collect::<Result<_, _>>()?)
}

pub(super) async fn sequences_have_no_gaps_whoever_writes<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let mut tasks = JoinSet::new();
    for task in 0..16 {
        let (store, id) = (Arc::clone(&store), id.clone());
        tasks.spawn(async move {
            let mut spans = Vec::new();
            for turn in 0..4 {
                let events =
                    vec![recorded(&format!("{task}.{turn}.0"))?, recorded(&format!("{task}.{turn}.1"))?];
                let done = store.append(append(&id, events)).await?;
                spans.push((done.first_sequence, done.last_sequence, format!("{task}.{turn}.0")));
            }
            Ok::<_, Broken>(spans)
        });
    }
    let mut spans = Vec::new();
    while let Some(ended) = tasks.join_next().await {
        spans.extend(ended??);
    }
    spans.sort_unstable();
    let starts: Vec<u64> = spans.iter().map(|(first, ..)| *first).collect();
    equal("spans follow each other", &starts, &(0..64).map(|n| 2 + 2 * n).collect())?;
    let events = store.events(&id, 0, None, 1000).await?;
    let sequences: Vec<u64> = events.iter().map(|e| e.sequence).collect();
    equal("sequences have no gaps", &sequences, &(1..=129).collect())?;
    for (first, last, set) in spans {
        equal("a batch stays together", &last, &(first + 1))?;
        let there = events.iter().find(|e| e.sequence == first).and_then(|e| e.body.client_set_id());
        equal("an answer names its own events", &there.map(ClientSetId::as_str), &Some(set.as_str()))?;
    }
    equal("the record knows the end", &store.athlete(&id).await?.last_sequence, &129)
}

pub(super) async fn a_batch_is_kept_wholly_or_not_at_all<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    store.append(append(&id, vec![recorded("a")?])).await?;
    let named = EventBody::Profiled { profile: Box::new(profile("Changed")) };
    let bad = store.append(append(&id, vec![recorded("b")?, named, recorded("c")?, recorded("a")?])).await;
    fails("the batch is refused", bad, |e| matches!(e, StoreError::SetIdTaken { .. }))?;
    let record = store.athlete(&id).await?;
    equal("nothing of it is kept", &(record.last_sequence, record.profile), &(2, profile("Wren")))?;
    equal("no event of it is kept", &store.events(&id, 0, None, 10).await?.len(), &2)?;
    let next = store.append(append(&id, vec![recorded("b")?])).await?;
    equal("the next takes its place", &next.first_sequence, &3)
}

pub(super) async fn a_caller_who_is_behind_is_told<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let from = |expected, set: &str| {
        Ok::<_, Broken>(Append { expected_sequence: Some(expected), ..append(&id, vec![recorded(set)?]) })
    };
    let done = store.append(from(1, "a")?).await?;
    let wanted = Appended { first_sequence: 2, last_sequence: 2, arrived_at_ms: NOW, was_replay: false };
    equal("the right position is taken", &done, &wanted)?;
    let behind = store.append(from(1, "b")?).await;
    fails("an old position is refused", behind, |e| {
        matches!(e, StoreError::Moved { expected: 1, actual: 2 })
    })?;
    let ahead = store.append(from(u64::MAX, "b")?).await;
    fails("a future position is refused", ahead, |e| {
        matches!(e, StoreError::Moved { expected: u64::MAX, actual: 2 })
    })
}

pub(super) async fn one_of_many_with_the_same_position_wins<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let mut tasks = JoinSet::new();
    for task in 0..8 {
        let events = vec![recorded(&format!("t{task}"))?];
        let append = Append { expected_sequence: Some(1), ..append(&id, events) };
        let store = Arc::clone(&store);
        tasks.spawn(async move { store.append(append).await });
    }
    let (mut won, mut moved) = (0, 0);
    while let Some(ended) = tasks.join_next().await {
        match ended? {
            Ok(_) => won += 1,
            Err(StoreError::Moved { expected: 1, actual: 2 }) => moved += 1,
            Err(other) => return Err(other.into()),
        }
    }
    equal("one wins, the others are told", &(won, moved), &(1, 7))
}

pub(super) async fn a_set_is_recorded_once<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    store.append(append(&id, vec![recorded("a")?, recorded("b")?])).await?;
    let taken = ids(&["b", "a"])?;
    let events = vec![recorded("b")?, recorded("new")?, recorded("a")?, recorded("b")?];
    let again = store.append(append(&id, events)).await;
    fails(
        "every taken set is named once, in order",
        again,
        |e| matches!(e, StoreError::SetIdTaken { ids } if *ids == taken),
    )?;
    let twice = store.append(append(&id, vec![recorded("c")?, recorded("c")?])).await;
    let taken = ids(&["c"])?;
    fails(
        "twice in one batch is refused",
        twice,
        |e| matches!(e, StoreError::SetIdTaken { ids } if *ids == taken),
    )?;
    store.append(append(&id, vec![withdrawn("a")?])).await?;
    let anew = store.append(append(&id, vec![recorded("a")?])).await;
    fails("a withdrawn set keeps its id", anew, |e| matches!(e, StoreError::SetIdTaken { .. }))?;
    let robin = store.create_athlete(athlete("coach", "robin")?, None).await?.record.id;
    let other = store.append(append(&robin, vec![recorded("a")?])).await?;
    equal("another athlete may use the id", &other.last_sequence, &2)?;
    let upper = store.append(append(&id, vec![recorded("A")?])).await?;
    equal("ids differ by case", &upper.last_sequence, &5)
}

pub(super) async fn only_recorded_sets_are_amended<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let unknown = ids(&["x", "y"])?;
    let events = vec![corrected("x", 3)?, withdrawn("y")?, corrected("x", 4)?];
    fails(
        "every unknown set is named once, in order",
        store.append(append(&id, events)).await,
        |e| matches!(e, StoreError::SetUnknown { ids } if *ids == unknown),
    )?;
    let early = store.append(append(&id, vec![corrected("a", 3)?, recorded("a")?])).await;
    fails("a set is recorded before it is corrected", early, |e| matches!(e, StoreError::SetUnknown { .. }))?;
    let events = vec![recorded("a")?, corrected("a", 3)?, corrected("a", 4)?, withdrawn("a")?];
    let done = store.append(append(&id, events)).await?;
    equal("one batch may do it all", &(done.first_sequence, done.last_sequence), &(2, 5))
}

pub(super) async fn nothing_to_append_is_refused<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let empty = store.append(append(&id, Vec::new())).await;
    fails("no events are refused", empty, |e| matches!(e, StoreError::Refused { field: "events", .. }))
}

pub(super) async fn a_thousand_events_fit_a_batch<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let events: Vec<EventBody> =
        (0..1000).map(|n| recorded(&format!("s{n}"))).collect::<Result<_, Broken>>()?;
    let done = store.append(append(&id, events.clone())).await?;
    equal("they take a thousand places", &(done.first_sequence, done.last_sequence), &(2, 1001))?;
    let found: Vec<EventBody> = store.events(&id, 1, None, 2000).await?.into_iter().map(|e| e.body).collect();
    holds("they come back in order", found == events)
}

pub(super) async fn every_kind_of_event_comes_back_as_it_was_given<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let full = full_set("a", "note")?;
    let bodies = vec![
        EventBody::Recorded { set: full.clone() },
        recorded("b")?,
        EventBody::Corrected { set: full, reason: "why".to_owned() },
        withdrawn("b")?,
        EventBody::Profiled { profile: Box::new(profile("New")) },
    ];
    let arrived_at_ms = -1;
    let done = store.append(Append { arrived_at_ms, ..append(&id, bodies.clone()) }).await?;
    equal("the arrival is answered", &done.arrived_at_ms, &arrived_at_ms)?;
    let wanted: Vec<StoredEvent> =
        (2..).zip(bodies).map(|(sequence, body)| StoredEvent { sequence, arrived_at_ms, body }).collect();
    equal("every field comes back", &store.events(&id, 1, None, 10).await?, &wanted)
}

pub(super) async fn text_of_every_script_survives<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let notes = [
        "Ärmel é e\u{301}",
        "体操 التوازن",
        "\u{1f938}\u{200d}\u{2642}\u{fe0f}",
        "a\u{0}b\n\t\\\"'%_;--",
        "\u{10ffff}",
    ];
    let events = (0..)
        .zip(notes)
        .map(|(n, note): (u8, _)| Ok(EventBody::Recorded { set: full_set(&format!("n{n}"), note)? }));
    let mut events: Vec<EventBody> = events.collect::<Result<_, Broken>>()?;
    events.push(EventBody::Withdrawn { client_set_id: ClientSetId::new("n0")?, reason: notes.concat() });
    events.push(EventBody::Profiled { profile: Box::new(profile(&notes.concat())) });
    store.append(append(&id, events.clone())).await?;
    let found: Vec<EventBody> = store.events(&id, 1, None, 10).await?.into_iter().map(|e| e.body).collect();
    equal("text comes back to the sign", &found, &events)?;
    equal("also in the record", &store.athlete(&id).await?.profile, &profile(&notes.concat()))
}

/// Each call is polled once, which queues it, and dropped.
pub(super) async fn a_dropped_call_is_finished<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    for n in 0..20 {
        let call = store.append(append(&id, vec![recorded(&format!("d{n}"))?]));
        drop(tokio::time::timeout(Duration::ZERO, call).await);
    }
    for _ in 0..2_000 {
        if store.athlete(&id).await?.last_sequence == 21 {
            break;
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    let events = store.events(&id, 1, None, 100).await?;
    let found: Vec<String> =
        events.iter().filter_map(|e| e.body.client_set_id()).map(|s| s.to_string()).collect();
    equal("every queued write is done, in order", &found, &(0..20).map(|n| format!("d{n}")).collect())
}
