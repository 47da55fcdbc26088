//! Checks of erasures.

use std::sync::Arc;

use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};

use super::keys::{key, reach};
use super::scene::{
    NOW, append, athlete, corrected, prescription, recorded, request, roster, withdrawn, wren,
};
use super::{Broken, Kept, equal, fails, holds};
use crate::append::Append;
use crate::erasure::{Erased, Erasure};
use crate::error::StoreError;
use crate::key::Role;
use crate::page::Page;
use crate::record::{Days, NewAthlete};
use crate::request::{Answer, RequestKey};
use crate::store::Store;

fn erasure(athlete: &AthleteRef, later: i64) -> Erasure {
    Erasure { athlete: athlete.clone(), erased_at_ms: NOW + later }
}

/// The key of an erasure, which names nobody.
fn erases(athlete: &AthleteRef, content: u8) -> RequestKey {
    request(athlete, "erase", "once", content)
}

/// Gives an athlete, who is there, something of everything.
async fn fill<S: Store>(store: &S, id: &AthleteRef, digit: char) -> Kept {
    let name = id.athlete.as_str();
    let events = vec![recorded("a")?, recorded("b")?, corrected("a", 3)?, withdrawn("b")?];
    let asked = Some(request(id, "record", &format!("record-{name}"), 1));
    store.append(Append { request: asked, ..append(id, events) }).await?;
    let asked = Some(request(id, "prescribe", &format!("prescribe-{name}"), 2));
    store.save_prescription(prescription(id, "p", "2026-03-14", 0)?, asked).await?;
    store.create_key(key(digit, Role::Athlete, vec![reach("coach", Some(name))?])?).await?;
    Ok(())
}

/// Wren and Kite, each with something of everything, and a coach with a key.
async fn two<S: Store>(store: &Arc<S>) -> Result<(AthleteRef, AthleteRef), Broken> {
    store.create_roster(roster("coach")?, None).await?;
    let mut made = Vec::new();
    for (name, digit) in [("wren", '1'), ("kite", '2')] {
        let new = athlete("coach", name)?;
        let asked = request(&new.id, "create", &format!("create-{name}"), 3);
        let id = store.create_athlete(new, Some(asked)).await?.record.id;
        fill(&**store, &id, digit).await?;
        made.push(id);
    }
    store.create_key(key('3', Role::Coach, vec![reach("coach", None)?])?).await?;
    let (Some(kite), Some(wren)) = (made.pop(), made.pop()) else {
        return Err(Broken::invented("two athletes"));
    };
    Ok((wren, kite))
}

/// Everything that is told of somebody, in a text.
async fn told<S: Store>(store: &S, id: &AthleteRef) -> Result<String, Broken> {
    let name = id.athlete.as_str();
    let mut text = format!("{:?}\n", store.athlete(id).await);
    text += &format!("{:?}\n", store.events(id, 0, None, 99).await);
    text += &format!("{:?}\n", store.prescriptions(id, Days::default(), &Page::first(9)).await);
    for (method, content) in [("record", 1), ("prescribe", 2), ("create", 3)] {
        let asked = request(id, method, &format!("{method}-{name}"), content);
        text += &format!("{:?}\n", store.requested(&asked).await);
    }
    for digit in ['1', '2', '3'] {
        let key = key(digit, Role::Operator, Vec::new())?.id;
        text += &format!("{:?}\n", store.reaches((&key, NOW), &id.roster, Some(&id.athlete)).await);
    }
    Ok(text)
}

pub(super) async fn an_erasure_leaves_nothing_of_the_athlete<S: Store>(store: Arc<S>) -> Kept {
    let (wren, kite) = two(&store).await?;
    let others = told(&*store, &kite).await?;
    let done = store.erase_athlete(erasure(&wren, 5), Some(erases(&wren, 9))).await?;
    let wanted = Erased {
        erased_at_ms: NOW + 5,
        was_before: false,
        events: 5,
        prescriptions: 1,
        requests: 3,
        keys: 1,
    };
    equal("it says what went", &(done.record, done.was_replay), &(wanted, false))?;
    let is_gone = |e: &StoreError| matches!(e, StoreError::NotFound { what: "athlete", .. });
    fails("the athlete", store.athlete(&wren).await, is_gone)?;
    fails("the log", store.events(&wren, 0, None, 9).await, is_gone)?;
    fails("the position", store.positions(std::slice::from_ref(&wren)).await, is_gone)?;
    fails("prescriptions", store.prescriptions(&wren, Days::default(), &Page::first(9)).await, is_gone)?;
    let listed = store.athletes(&wren.roster, &Page::first(9)).await?.items;
    equal("nor in lists", &listed.iter().map(|a| a.id.athlete.as_str()).collect::<Vec<_>>(), &vec!["kite"])?;
    for (method, content) in [("record", 1), ("prescribe", 2), ("create", 3)] {
        let asked = request(&wren, method, &format!("{method}-wren"), content);
        equal("request ids are free again", &store.requested(&asked).await?, &None)?;
    }
    let keys = store.keys(&Page::first(9)).await?.items;
    let left: Vec<&str> = keys.iter().map(|key| &key.id.as_str()[..1]).collect();
    equal("keys that reached nobody else", &left, &vec!["2", "3"])?;
    equal("others are as they were", &told(&*store, &kite).await?, &others)
}

pub(super) async fn erasing_again_says_when_it_was_done<S: Store>(store: Arc<S>) -> Kept {
    let (wren, kite) = two(&store).await?;
    store.erase_athlete(erasure(&wren, 5), None).await?;
    let again = store.erase_athlete(erasure(&wren, 9), None).await?.record;
    equal("that it was done, and when", &(again.was_before, again.erased_at_ms), &(true, NOW + 5))?;
    equal("and nothing more", &(again.events, again.keys), &(0, 0))?;
    let ghost = AthleteRef { athlete: AthleteId::new("ghost")?, ..wren.clone() };
    let never = store.erase_athlete(erasure(&ghost, 9), None).await;
    fails("who never was there", never, |e| matches!(e, StoreError::NotFound { what: "athlete", .. }))?;
    let nowhere = AthleteRef { roster: RosterId::new("nowhere")?, ..wren };
    let never = store.erase_athlete(erasure(&nowhere, 9), None).await;
    fails("nor the roster", never, |e| matches!(e, StoreError::NotFound { what: "roster", .. }))?;
    holds("others stay", store.athlete(&kite).await.is_ok())
}

pub(super) async fn a_repeated_erasure_leaves_the_next_of_that_name_alone<S: Store>(store: Arc<S>) -> Kept {
    let (wren, _) = two(&store).await?;
    let first = store.erase_athlete(erasure(&wren, 5), Some(erases(&wren, 9))).await?.record;
    store.create_athlete(athlete("coach", "wren")?, None).await?;
    let again = store.erase_athlete(erasure(&wren, 7), Some(erases(&wren, 9))).await?;
    equal("the first answer", &(again.record, again.was_replay), &(first, true))?;
    holds("and nobody else is erased", store.athlete(&wren).await.is_ok())?;
    equal("it can be looked up", &store.requested(&erases(&wren, 9)).await?, &Some(Answer::Erased(first)))?;
    let other = store.erase_athlete(erasure(&wren, 7), Some(erases(&wren, 8))).await;
    fails("other content is refused", other, |e| matches!(e, StoreError::RequestReused { .. }))
}

pub(super) async fn sequences_of_the_erased_are_never_given_again<S: Store>(store: Arc<S>) -> Kept {
    let (wren, kite) = two(&store).await?;
    for round in 1..=3_u64 {
        let before = store.athlete(&wren).await?.last_sequence;
        store.erase_athlete(erasure(&wren, 5), None).await?;
        let NewAthlete { id, profile, .. } = athlete("coach", "wren")?;
        let new = NewAthlete { id, profile, created_at_ms: NOW + 6 };
        let made = store.create_athlete(new, None).await?.record;
        equal("a gap tells the logs apart", &made.last_sequence, &(before + 2))?;
        equal("the record is the answer", &store.athlete(&wren).await?, &made)?;
        equal("it begins there", &store.events(&wren, 0, None, 9).await?.len(), &1)?;
        let seen = store.events(&wren, before, None, 9).await?;
        let seen: Vec<u64> = seen.iter().map(|event| event.sequence).collect();
        equal("whoever stood at the old end sees the gap", &seen, &vec![before + 2])?;
        let stale = Append { expected_sequence: Some(before), ..append(&wren, vec![recorded("c")?]) };
        let stale = store.append(stale).await;
        fails("and cannot write", stale, |e| matches!(e, StoreError::Moved { .. }))?;
        let more = store.append(append(&wren, vec![recorded(&format!("d{round}"))?])).await?;
        equal("the log goes on from there", &more.last_sequence, &(before + 3))?;
    }
    store.erase_athlete(erasure(&kite, 8), None).await?;
    let third = store.create_athlete(athlete("coach", "third")?, None).await?.record;
    let longest = store.athlete(&wren).await?.last_sequence;
    holds("one erased later and shorter changes nothing", third.last_sequence <= longest)?;
    store.create_roster(roster("other")?, None).await?;
    let elsewhere = store.create_athlete(athlete("other", "wren")?, None).await?.record;
    equal("other rosters begin at 1", &elsewhere.last_sequence, &1)
}

pub(super) async fn a_prescription_is_kept_with_the_log_it_was_made_from<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    store.append(append(&id, vec![recorded("a")?])).await?;
    let mut made = prescription(&id, "p", "2026-03-14", 0)?;
    made.log_position = 2;
    store.erase_athlete(erasure(&id, 5), None).await?;
    store.create_athlete(athlete("coach", "wren")?, None).await?;
    store.append(append(&id, vec![recorded("a")?])).await?;
    let kept = store.save_prescription(made, None).await;
    fails("not with another", kept, |e| matches!(e, StoreError::Moved { expected: 2, .. }))?;
    let found = store.prescriptions(&id, Days::default(), &Page::first(9)).await?;
    equal("nothing is kept", &found.items, &Vec::new())
}

pub(super) async fn writes_meet_an_erasure_whole<S: Store>(store: Arc<S>) -> Kept {
    let (wren, kite) = two(&store).await?;
    for round in 0..8_u32 {
        let (log, whose) = (store.clone(), wren.clone());
        let writes = tokio::spawn(async move {
            let mut kept = 0_u32;
            for number in 0..12 {
                let events = vec![recorded(&format!("r{round}-{number}"))?];
                let asked = request(&whose, "record", &format!("{round}-{number}"), 1);
                kept += u32::from(
                    log.append(Append { request: Some(asked), ..append(&whose, events) }).await.is_ok(),
                );
                let issued = prescription(&whose, &format!("p{number}"), "2026-03-14", 0)?;
                drop(log.save_prescription(issued, None).await);
            }
            Ok::<u32, Broken>(kept)
        });
        tokio::time::sleep(std::time::Duration::from_millis(u64::from(round))).await;
        let erased = store.erase_athlete(erasure(&wren, i64::from(round)), None).await?.record;
        let kept = writes.await??;
        holds("what was written went with it", erased.requests <= u64::from(kept) + 3)?;
        for number in 0..12 {
            let asked = request(&wren, "record", &format!("{round}-{number}"), 1);
            equal("no answer outlives it", &store.requested(&asked).await?, &None)?;
        }
        store.create_athlete(athlete("coach", "wren")?, None).await?;
        let found = store.prescriptions(&wren, Days::default(), &Page::first(9)).await?;
        equal("nor a prescription", &found.items, &Vec::new())?;
    }
    holds("others stay", store.athlete(&kite).await.is_ok())
}
