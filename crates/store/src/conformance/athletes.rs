//! Checks of athletes.

use std::sync::Arc;

use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};

use super::scene::{NOW, append, athlete, prescription, profile, recorded, roster, wren};
use super::{Kept, equal, fails, holds};
use crate::append::Append;
use crate::error::StoreError;
use crate::page::Page;
use crate::record::{AthleteRecord, Days};
use crate::store::Store;

pub(super) async fn creation_writes_the_first_event<S: Store>(store: Arc<S>) -> Kept {
    store.create_roster(roster("coach")?, None).await?;
    let new = athlete("coach", "wren")?;
    let written = store.create_athlete(new.clone(), None).await?;
    let wanted = AthleteRecord {
        id: new.id.clone(),
        profile: new.profile.clone(),
        created_at_ms: NOW,
        updated_at_ms: NOW,
        last_sequence: 1,
    };
    holds("a first write is no replay", !written.was_replay)?;
    equal("the answer is the record", &written.record, &wanted)?;
    equal("the record is kept", &store.athlete(&new.id).await?, &wanted)?;
    let body = EventBody::Profiled { profile: Box::new(new.profile) };
    let first = StoredEvent { sequence: 1, arrived_at_ms: NOW, body };
    equal("the log starts with it", &store.events(&new.id, 0, None, 10).await?, &vec![first])
}

pub(super) async fn an_athlete_id_is_taken_once_in_a_roster<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    store.append(append(&id, vec![recorded("a")?])).await?;
    let again = store.create_athlete(athlete("coach", "wren")?, None).await;
    let name = "rosters/coach/athletes/wren";
    fails(
        "a taken id is refused",
        again,
        |e| matches!(e, StoreError::AlreadyExists { what: "athlete", name: n } if n == name),
    )?;
    equal("the log stays", &store.athlete(&id).await?.last_sequence, &2)?;
    store.create_roster(roster("other")?, None).await?;
    let namesake = store.create_athlete(athlete("other", "wren")?, None).await?.record;
    equal("a namesake elsewhere has an own log", &namesake.last_sequence, &1)?;
    let nowhere = store.create_athlete(athlete("nowhere", "wren")?, None).await;
    fails(
        "the roster must be there",
        nowhere,
        |e| matches!(e, StoreError::NotFound { what: "roster", name } if name == "rosters/nowhere"),
    )
}

pub(super) async fn athletes_come_in_pages<S: Store>(store: Arc<S>) -> Kept {
    for name in ["a", "b"] {
        store.create_roster(roster(name)?, None).await?;
        for id in ["robin", "finch", "wren"] {
            store.create_athlete(athlete(name, id)?, None).await?;
        }
    }
    let b = RosterId::new("b")?;
    let one = store.athletes(&b, &Page::first(2)).await?;
    let ids: Vec<String> = one.items.iter().map(|a| a.id.to_string()).collect();
    let wanted = ["rosters/b/athletes/finch", "rosters/b/athletes/robin"].map(str::to_owned).to_vec();
    equal("of this roster, in the order of ids", &ids, &wanted)?;
    store.create_athlete(athlete("b", "dove")?, None).await?;
    let two = store.athletes(&b, &Page { size: 2, after: one.next }).await?;
    let ids: Vec<&str> = two.items.iter().map(|a| a.id.athlete.as_str()).collect();
    equal("the rest, and then no more", &(ids, two.next), &(vec!["wren"], None))?;
    let nowhere = store.athletes(&RosterId::new("c")?, &Page::first(2)).await;
    fails("the roster must be there", nowhere, |e| matches!(e, StoreError::NotFound { what: "roster", .. }))
}

pub(super) async fn positions_are_those_of_the_logs<S: Store>(store: Arc<S>) -> Kept {
    let wren_id = wren(&store).await?;
    let robin = store.create_athlete(athlete("coach", "robin")?, None).await?.record.id;
    store.create_roster(roster("other")?, None).await?;
    let namesake = store.create_athlete(athlete("other", "wren")?, None).await?.record.id;
    store.append(append(&wren_id, vec![recorded("a")?, recorded("b")?])).await?;
    store.append(append(&namesake, vec![recorded("a")?])).await?;
    let asked = [namesake, robin.clone(), wren_id.clone(), robin];
    equal("in the order asked", &store.positions(&asked).await?, &vec![2, 1, 3, 1])?;
    equal("of nobody", &store.positions(&[]).await?, &Vec::new())?;
    let ghost = AthleteRef { athlete: AthleteId::new("ghost")?, ..wren_id };
    let missing = store.positions(&[asked[0].clone(), ghost]).await;
    fails(
        "who is not there is named",
        missing,
        |e| matches!(e, StoreError::NotFound { what: "athlete", name } if name == "rosters/coach/athletes/ghost"),
    )
}

pub(super) async fn the_last_profile_event_is_the_record<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let named = |name: &str| EventBody::Profiled { profile: Box::new(profile(name)) };
    let events = vec![named("One"), recorded("a")?, named("Two"), recorded("b")?];
    store.append(Append { arrived_at_ms: NOW + 7, ..append(&id, events) }).await?;
    let record = store.athlete(&id).await?;
    equal("the last profile is in force", &record.profile, &profile("Two"))?;
    equal("as of its arrival", &(record.created_at_ms, record.updated_at_ms), &(NOW, NOW + 7))?;
    store.append(Append { arrived_at_ms: NOW + 9, ..append(&id, vec![recorded("c")?]) }).await?;
    let record = store.athlete(&id).await?;
    equal("a set changes no profile", &(record.updated_at_ms, record.last_sequence), &(NOW + 7, 6))
}

pub(super) async fn nothing_works_for_an_athlete_who_is_not_there<S: Store>(store: Arc<S>) -> Kept {
    let wren = wren(&store).await?;
    let ghost = AthleteRef { athlete: AthleteId::new("ghost")?, ..wren };
    let is_named = |e: &StoreError| matches!(e, StoreError::NotFound { what: "athlete", name } if *name == "rosters/coach/athletes/ghost");
    fails("athlete", store.athlete(&ghost).await, is_named)?;
    fails("append", store.append(append(&ghost, vec![recorded("a")?])).await, is_named)?;
    fails("events", store.events(&ghost, 0, None, 10).await, is_named)?;
    fails("events_of_sets", store.events_of_sets(&ghost, &[]).await, is_named)?;
    let saved = store.save_prescription(prescription(&ghost, "p", "2026-03-14", 0)?, None).await;
    fails("save_prescription", saved, is_named)?;
    fails("prescriptions", store.prescriptions(&ghost, Days::default(), &Page::first(1)).await, is_named)
}
