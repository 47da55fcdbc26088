//! Checks of the record of accesses.

use std::sync::Arc;

use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};

use super::keys::{key, reach};
use super::scene::{NOW, athlete, roster, wren};
use super::{Broken, Kept, equal, fails};
use crate::access::AccessRecord;
use crate::erasure::Erasure;
use crate::error::StoreError;
use crate::key::{KeyId, Role};
use crate::page::Page;
use crate::store::Store;

fn access(number: u8, of: &str, whose: Option<&str>, key: Option<&KeyId>) -> Result<AccessRecord, Broken> {
    Ok(AccessRecord {
        entry: format!("e{number:03}"),
        at_ms: NOW + i64::from(number),
        roster: RosterId::new(of)?,
        athlete: whose.map(AthleteId::new).transpose()?,
        key: key.cloned(),
        method: "nextrung.v1.SetLogService/ListSets".to_owned(),
        code: i32::from(number % 3),
        request: number.is_multiple_of(2).then_some([number; 32]),
    })
}

pub(super) async fn accesses_come_back_the_last_first<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    store.create_athlete(athlete("coach", "kite")?, None).await?;
    let own = store.create_key(key('1', Role::Athlete, vec![reach("coach", Some("wren"))?])?).await?.id;
    let one = access(1, "coach", Some("wren"), Some(&own))?;
    let two = access(2, "coach", Some("kite"), None)?;
    let three = access(3, "coach", None, None)?;
    let four = access(4, "coach", Some("wren"), None)?;
    store.record_accesses(vec![one.clone(), two.clone(), three.clone()]).await?;
    store.record_accesses(vec![four.clone()]).await?;
    let page = store.accesses(&id.roster, None, &Page::first(3)).await?;
    equal("of the roster", &page.items, &vec![four.clone(), three, two])?;
    let rest = store.accesses(&id.roster, None, &Page { size: 3, after: page.next }).await?;
    equal("and in pages", &(rest.items, rest.next), &(vec![one.clone()], None))?;
    let hers = store.accesses(&id.roster, Some(&id.athlete), &Page::first(9)).await?;
    equal("of one athlete", &hers.items, &vec![four, one.clone()])?;
    store.record_accesses(vec![one.clone()]).await?;
    let again = store.accesses(&id.roster, None, &Page::first(9)).await?.items;
    equal("one sent twice is kept once", &again.len(), &4)?;
    let nowhere = store.accesses(&RosterId::new("nowhere")?, None, &Page::first(3)).await;
    fails("the roster must be there", nowhere, |e| matches!(e, StoreError::NotFound { what: "roster", .. }))
}

pub(super) async fn nothing_is_kept_of_names_that_are_nobodys<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let ghost = access(2, "coach", Some("ghost"), None)?;
    store.record_accesses(vec![ghost.clone(), access(4, "nowhere", Some("wren"), None)?]).await?;
    let found = store.accesses(&id.roster, None, &Page::first(9)).await?.items;
    equal("of the roster alone", &found, &vec![AccessRecord { athlete: None, request: None, ..ghost }])
}

pub(super) async fn an_erasure_takes_the_name_out_of_the_record<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    store.create_athlete(athlete("coach", "kite")?, None).await?;
    let own = store.create_key(key('1', Role::Athlete, vec![reach("coach", Some("wren"))?])?).await?.id;
    let coach = store.create_key(key('2', Role::Coach, vec![reach("coach", None)?])?).await?.id;
    let hers = access(2, "coach", Some("wren"), Some(&own))?;
    let by_coach = access(4, "coach", Some("wren"), Some(&coach))?;
    let other = access(6, "coach", Some("kite"), Some(&coach))?;
    store.record_accesses(vec![hers.clone(), by_coach.clone(), other.clone()]).await?;
    store.erase_athlete(Erasure { athlete: id.clone(), erased_at_ms: NOW + 9 }, None).await?;
    let late = access(8, "coach", Some("wren"), Some(&coach))?;
    // What her key asked for before it was erased may come to be kept only now.
    let late_hers = access(9, "coach", Some("wren"), Some(&own))?;
    store.record_accesses(vec![late.clone(), late_hers.clone()]).await?;
    let unnamed = |one: AccessRecord| AccessRecord { athlete: None, request: None, ..one };
    let found = store.accesses(&id.roster, None, &Page::first(9)).await?.items;
    let of_nobody = |one: AccessRecord| AccessRecord { key: None, ..unnamed(one) };
    let wanted = vec![of_nobody(late_hers), unnamed(late), other, unnamed(by_coach), of_nobody(hers)];
    equal("that somebody asked stays", &found, &wanted)?;
    let AthleteRef { roster: of, athlete: whose } = &id;
    equal("about nobody", &store.accesses(of, Some(whose), &Page::first(9)).await?.items, &Vec::new())?;
    store.create_roster(roster("other")?, None).await?;
    let none = store.accesses(&RosterId::new("other")?, None, &Page::first(9)).await?;
    equal("elsewhere", &none.items, &Vec::new())
}
