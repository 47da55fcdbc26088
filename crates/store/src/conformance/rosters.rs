//! Checks of rosters.

use std::sync::Arc;

use nextrung_domain::band::{Band, Bands};
use nextrung_domain::ids::RosterId;

use super::scene::{NOW, roster};
use super::{Broken, Kept, equal, fails, holds};
use crate::error::StoreError;
use crate::page::Page;
use crate::record::{NewRoster, RosterChange, RosterRecord};
use crate::store::Store;

fn bands() -> Bands {
    let mut bands = Bands::default();
    bands.reps.working = Band { low: 4, high: 6 };
    bands
}

fn change(id: &str) -> Result<RosterChange, Broken> {
    Ok(RosterChange { id: RosterId::new(id)?, title: None, bands: None, updated_at_ms: NOW + 1 })
}

pub(super) async fn a_roster_comes_back_as_it_was_given<S: Store>(store: Arc<S>) -> Kept {
    let new =
        NewRoster { title: "Zoë’s 队 \u{1f938} \"x\"".to_owned(), bands: Some(bands()), ..roster("a")? };
    let written = store.create_roster(new.clone(), None).await?;
    let NewRoster { id, title, bands, created_at_ms } = new;
    let wanted = RosterRecord { id, title, bands, created_at_ms, updated_at_ms: NOW };
    holds("a first write is no replay", !written.was_replay)?;
    equal("the answer is the record", &written.record, &wanted)?;
    equal("the record is kept", &store.roster(&wanted.id).await?, &wanted)
}

pub(super) async fn a_roster_id_is_taken_once<S: Store>(store: Arc<S>) -> Kept {
    let first = store.create_roster(roster("a")?, None).await?.record;
    let again = store.create_roster(NewRoster { title: "Other".to_owned(), ..roster("a")? }, None).await;
    let is_taken = |e: &StoreError| matches!(e, StoreError::AlreadyExists { what: "roster", name } if name == "rosters/a");
    fails("a taken id is refused", again, is_taken)?;
    equal("the first stays", &store.roster(&first.id).await?, &first)?;
    let missing = store.roster(&RosterId::new("b")?).await;
    fails(
        "a missing roster is named",
        missing,
        |e| matches!(e, StoreError::NotFound { what: "roster", name } if name == "rosters/b"),
    )
}

pub(super) async fn a_change_touches_only_its_fields<S: Store>(store: Arc<S>) -> Kept {
    let before = store.create_roster(roster("a")?, None).await?.record;
    let titled = RosterChange { title: Some("New".to_owned()), ..change("a")? };
    let after = store.update_roster(titled, None).await?.record;
    let wanted = RosterRecord { title: "New".to_owned(), updated_at_ms: NOW + 1, ..before };
    equal("only the title changes", &after, &wanted)?;
    let banded = RosterChange { bands: Some(Some(bands())), ..change("a")? };
    let wanted = RosterRecord { bands: Some(bands()), ..wanted };
    equal("only the bands change", &store.update_roster(banded, None).await?.record, &wanted)?;
    equal("the change is kept", &store.roster(&wanted.id).await?, &wanted)?;
    let bare = RosterChange { bands: Some(None), ..change("a")? };
    equal("bands can be taken away", &store.update_roster(bare, None).await?.record.bands, &None)?;
    let missing = store.update_roster(change("b")?, None).await;
    fails("a missing roster is named", missing, |e| matches!(e, StoreError::NotFound { what: "roster", .. }))
}

pub(super) async fn changes_at_the_same_time_lose_nothing<S: Store>(store: Arc<S>) -> Kept {
    store.create_roster(roster("a")?, None).await?;
    let titled = RosterChange { title: Some("New".to_owned()), ..change("a")? };
    let banded = RosterChange { bands: Some(Some(bands())), ..change("a")? };
    let (one, other) = tokio::join!(store.update_roster(titled, None), store.update_roster(banded, None));
    one?;
    other?;
    let found = store.roster(&RosterId::new("a")?).await?;
    equal("both changes are there", &(found.title.as_str(), found.bands), &("New", Some(bands())))
}

pub(super) async fn rosters_come_in_pages<S: Store>(store: Arc<S>) -> Kept {
    for id in ["d", "b", "e", "a-1", "a"] {
        store.create_roster(roster(id)?, None).await?;
    }
    let ids = |found: &[RosterRecord]| found.iter().map(|r| r.id.to_string()).collect::<Vec<_>>().join(" ");
    let one = store.rosters(&Page::first(2), None).await?;
    equal("in the order of ids", &ids(&one.items), &"a a-1".to_owned())?;
    store.create_roster(roster("a-0")?, None).await?;
    store.create_roster(roster("c")?, None).await?;
    let two = store.rosters(&Page { size: 3, after: one.next }, None).await?;
    equal("a new item shifts nothing", &ids(&two.items), &"b c d".to_owned())?;
    let three = store.rosters(&Page { size: 3, after: two.next }, None).await?;
    equal("the rest comes last", &ids(&three.items), &"e".to_owned())?;
    equal("the last page says so", &three.next, &None)?;
    let whole = store.rosters(&Page::first(7), None).await?;
    equal("a full last page says so", &(whole.items.len(), whole.next), &(7, None))?;
    let none = store.rosters(&Page::first(0), None).await;
    fails("a page of nothing is refused", none, |e| {
        matches!(e, StoreError::Refused { field: "page.size", .. })
    })
}
