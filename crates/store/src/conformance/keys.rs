//! Checks of keys.

use std::sync::Arc;

use nextrung_domain::ids::{AthleteId, RosterId};

use super::scene::{NOW, athlete, roster};
use super::{Broken, Kept, equal, fails, holds};
use crate::error::StoreError;
use crate::key::{KeyId, KeyRecord, Reach, Role};
use crate::page::Page;
use crate::store::Store;

pub(super) fn key(digit: char, role: Role, reaches: Vec<Reach>) -> Result<KeyRecord, Broken> {
    let id = KeyId::new(&digit.to_string().repeat(16)).ok_or_else(|| Broken::invented("an id"))?;
    Ok(KeyRecord {
        id,
        secret_hash: [7; 32],
        role,
        title: "Zoë’s phone".to_owned(),
        reaches,
        created_at_ms: NOW,
        expires_at_ms: None,
        revoked_at_ms: None,
    })
}

pub(super) fn reach(roster: &str, athlete: Option<&str>) -> Result<Reach, Broken> {
    Ok(Reach { roster: RosterId::new(roster)?, athlete: athlete.map(AthleteId::new).transpose()? })
}

async fn two_rosters<S: Store>(store: &S) -> Kept {
    for id in ["a", "b"] {
        store.create_roster(roster(id)?, None).await?;
        for whose in ["wren", "kite"] {
            store.create_athlete(athlete(id, whose)?, None).await?;
        }
    }
    Ok(())
}

pub(super) async fn a_key_comes_back_as_it_was_given<S: Store>(store: Arc<S>) -> Kept {
    two_rosters(&*store).await?;
    let coach = key('1', Role::Coach, vec![reach("a", None)?, reach("b", None)?])?;
    let ends = KeyRecord {
        expires_at_ms: Some(NOW + 5),
        ..key('2', Role::Athlete, vec![reach("a", Some("wren"))?])?
    };
    for wanted in [&coach, &ends, &key('3', Role::Operator, vec![])?] {
        equal("the answer is the key", &store.create_key(wanted.clone()).await?, wanted)?;
        equal("the key is kept", &store.key(&wanted.id).await?, wanted)?;
    }
    let again = store.create_key(coach.clone()).await;
    fails("a taken id is refused", again, |e| matches!(e, StoreError::AlreadyExists { what: "key", .. }))?;
    let one = store.keys(&Page::first(2)).await?;
    equal("keys come in the order of their ids", &one.items, &vec![coach.clone(), ends])?;
    let next = Page { size: 2, after: one.next };
    equal("and in pages", &store.keys(&next).await?.items.len(), &1)?;
    let missing = key('4', Role::Operator, vec![])?.id;
    let found = store.key(&missing).await;
    fails("a missing key is named", found, |e| matches!(e, StoreError::NotFound { what: "key", .. }))
}

pub(super) async fn a_reach_fits_its_role_and_is_there<S: Store>(store: Arc<S>) -> Kept {
    two_rosters(&*store).await?;
    let (whole, one) = (reach("a", None)?, reach("a", Some("wren"))?);
    let unfit = [
        (Role::Operator, vec![whole.clone()]),
        (Role::Coach, vec![]),
        (Role::Coach, vec![one.clone()]),
        (Role::Analyst, vec![whole.clone(), one.clone()]),
        (Role::Athlete, vec![whole]),
        (Role::Athlete, vec![one.clone(), reach("a", Some("kite"))?]),
    ];
    for (role, reaches) in unfit {
        let refused = store.create_key(key('1', role, reaches)?).await;
        fails("an unfit reach is refused", refused, |e| {
            matches!(e, StoreError::Refused { field: "key.reaches", .. })
        })?;
    }
    for (role, nowhere) in [(Role::Coach, reach("c", None)?), (Role::Athlete, reach("a", Some("robin"))?)] {
        let refused = store.create_key(key('1', role, vec![nowhere])?).await;
        fails("a reach to nothing is refused", refused, |e| matches!(e, StoreError::NotFound { .. }))?;
    }
    equal("nothing of them is kept", &store.keys(&Page::first(9)).await?.items, &vec![])
}

pub(super) async fn a_key_reaches_its_own_and_nothing_else<S: Store>(store: Arc<S>) -> Kept {
    two_rosters(&*store).await?;
    let coach = store.create_key(key('1', Role::Coach, vec![reach("a", None)?])?).await?.id;
    let wren = store.create_key(key('2', Role::Athlete, vec![reach("b", Some("wren"))?])?).await?.id;
    let operator = store.create_key(key('3', Role::Operator, vec![])?).await?.id;
    let mut found = Vec::new();
    for id in [&coach, &wren, &operator] {
        for name in ["a", "b"] {
            let roster = RosterId::new(name)?;
            for whose in [None, Some("wren"), Some("kite"), Some("robin")] {
                let athlete = whose.map(AthleteId::new).transpose()?;
                if store.reaches((id, NOW), &roster, athlete.as_ref()).await? {
                    found.push(format!("{} {name} {}", &id.as_str()[..1], whose.unwrap_or("all")));
                }
            }
        }
    }
    let wanted = ["1 a all", "1 a wren", "1 a kite", "1 a robin", "2 b wren"].map(str::to_owned);
    equal("a key reaches what it was given", &found, &wanted.to_vec())?;
    let mut rosters = Vec::new();
    for id in [&coach, &wren, &operator] {
        let page = store.rosters(&Page::first(9), Some(id)).await?;
        rosters.push(page.items.iter().map(|roster| roster.id.to_string()).collect::<Vec<_>>().join(" "));
    }
    let wanted = ["a", "", ""].map(str::to_owned);
    equal("and sees no other rosters", &rosters, &wanted.to_vec())
}

pub(super) async fn the_keys_to_an_athlete_are_those_that_reach_them<S: Store>(store: Arc<S>) -> Kept {
    two_rosters(&*store).await?;
    let coach = store.create_key(key('1', Role::Coach, vec![reach("a", None)?, reach("b", None)?])?).await?;
    let hers = store.create_key(key('2', Role::Athlete, vec![reach("a", Some("wren"))?])?).await?;
    store.create_key(key('3', Role::Athlete, vec![reach("a", Some("kite"))?])?).await?;
    store.create_key(key('4', Role::Analyst, vec![reach("b", None)?])?).await?;
    store.create_key(key('5', Role::Operator, vec![])?).await?;
    let hers = store.revoke_key(&hers.id, NOW + 1).await?;
    let wren = athlete("a", "wren")?.id;
    equal("the coach's and her own, revoked or not", &store.keys_to(&wren).await?, &vec![coach, hers])?;
    equal("of nobody there are none", &store.keys_to(&athlete("c", "wren")?.id).await?, &vec![])
}

pub(super) async fn a_key_that_ended_reaches_nothing<S: Store>(store: Arc<S>) -> Kept {
    two_rosters(&*store).await?;
    let (a, wren) = (RosterId::new("a")?, AthleteId::new("wren")?);
    let ends = KeyRecord { expires_at_ms: Some(NOW + 10), ..key('1', Role::Coach, vec![reach("a", None)?])? };
    let ends = store.create_key(ends).await?.id;
    holds("a key reaches until it expires", store.reaches((&ends, NOW + 9), &a, Some(&wren)).await?)?;
    holds("and not from then on", !store.reaches((&ends, NOW + 10), &a, Some(&wren)).await?)?;
    let other = store.create_key(key('2', Role::Coach, vec![reach("a", None)?])?).await?.id;
    let revoked = store.revoke_key(&other, NOW + 1).await?;
    equal("a revoked key says when", &revoked.revoked_at_ms, &Some(NOW + 1))?;
    holds("and reaches nothing", !store.reaches((&other, NOW), &a, Some(&wren)).await?)?;
    let again = store.revoke_key(&other, NOW + 2).await?;
    equal("it is revoked once", &again.revoked_at_ms, &Some(NOW + 1))?;
    let missing = key('3', Role::Operator, vec![])?.id;
    let found = store.revoke_key(&missing, NOW).await;
    fails("a missing key is named", found, |e| matches!(e, StoreError::NotFound { what: "key", .. }))
}
