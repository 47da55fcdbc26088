//! Checks of prescriptions.

use std::sync::Arc;

use nextrung_domain::ids::PrescriptionId;

use super::scene::{athlete, day, prescription, wren};
use super::{Kept, equal, fails};
use crate::error::StoreError;
use crate::page::{Listing, Page};
use crate::record::{Days, PrescriptionRecord};
use crate::store::Store;

fn ids(found: &Listing<PrescriptionRecord>) -> String {
    found.items.iter().map(|p| p.id.as_str()).collect::<Vec<_>>().join(" ")
}

pub(super) async fn a_prescription_comes_back_byte_for_byte<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let body = "{ \"b\":1.10,\n\t\"a\" : \"体\u{1f938}\\u0000\", \"b\": 1e-7 }".to_owned();
    let issued = PrescriptionRecord { body, ..prescription(&id, "p", "2026-03-14", 3)? };
    let written = store.save_prescription(issued.clone(), None).await?;
    equal("the answer is the record", &(written.record, written.was_replay), &(issued.clone(), false))?;
    equal("every byte is kept", &store.prescription(&id, &issued.id).await?, &issued)?;
    let again = store.save_prescription(prescription(&id, "p", "2026-03-15", 9)?, None).await;
    fails(
        "an id is taken once",
        again,
        |e| matches!(e, StoreError::AlreadyExists { what: "prescription", name } if name == "rosters/coach/athletes/wren/prescriptions/p"),
    )?;
    equal("the first stays", &store.prescription(&id, &issued.id).await?, &issued)?;
    let robin = store.create_athlete(athlete("coach", "robin")?, None).await?.record.id;
    let other = store.prescription(&robin, &issued.id).await;
    fails("it is this athlete's", other, |e| matches!(e, StoreError::NotFound { what: "prescription", .. }))
}

pub(super) async fn prescriptions_come_newest_first<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let robin = store.create_athlete(athlete("coach", "robin")?, None).await?.record.id;
    let issued =
        [("m", "03-14", 5), ("z", "03-13", 9), ("a", "03-14", 8), ("b", "03-15", 1), ("c", "03-15", 1)];
    for (name, date, later) in issued {
        store.save_prescription(prescription(&id, name, &format!("2026-{date}"), later)?, None).await?;
        store.save_prescription(prescription(&robin, name, "2026-03-14", 0)?, None).await?;
    }
    let one = store.prescriptions(&id, Days::default(), &Page::first(3)).await?;
    equal("by day, then issue, then id, all backwards", &ids(&one), &"c b a".to_owned())?;
    store.save_prescription(prescription(&id, "new", "2026-03-16", 10)?, None).await?;
    let two = store.prescriptions(&id, Days::default(), &Page { size: 3, after: one.next }).await?;
    equal("a new item shifts nothing", &ids(&two), &"m z".to_owned())?;
    equal("the last page says so", &two.next, &None)?;
    let (mut page, mut found) = (Page::first(1), Vec::new());
    loop {
        let one = store.prescriptions(&id, Days::default(), &page).await?;
        found.push(ids(&one));
        let Some(next) = one.next else { break };
        page = Page::after(1, next);
    }
    equal("one at a time they are the same", &found.join(" "), &"new c b a m z".to_owned())?;
    let lost = store.prescriptions(&id, Days::default(), &Page::after(3, "nobody")).await;
    fails("an unknown place is named", lost, |e| {
        matches!(e, StoreError::NotFound { what: "prescription", .. })
    })?;
    let missing = store.prescription(&id, &PrescriptionId::new("nobody")?).await;
    fails(
        "a missing one is named",
        missing,
        |e| matches!(e, StoreError::NotFound { what: "prescription", name } if name.ends_with("/wren/prescriptions/nobody")),
    )
}

pub(super) async fn prescriptions_can_be_asked_for_by_day<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    for (name, date) in [("a", "1999-12-31"), ("b", "2026-03-14"), ("c", "2026-03-15"), ("d", "2199-12-31")] {
        store.save_prescription(prescription(&id, name, date, 0)?, None).await?;
    }
    let (from, to) = (Some(day("2026-03-14")?), Some(day("2026-03-15")?));
    let cases = [
        (None, None, "d c b a"),
        (from, None, "d c b"),
        (None, to, "c b a"),
        (from, to, "c b"),
        (to, from, ""),
    ];
    for (from, to, wanted) in cases {
        let found = store.prescriptions(&id, Days { from, to }, &Page::first(9)).await?;
        equal("both ends count", &ids(&found), &wanted.to_owned())?;
    }
    let one = store.prescriptions(&id, Days { from, to: None }, &Page::first(2)).await?;
    let two = store.prescriptions(&id, Days { from, to: None }, &Page { size: 2, after: one.next }).await?;
    equal("pages keep to the days", &(ids(&two), two.next), &("b".to_owned(), None))
}
