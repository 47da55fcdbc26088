//! Checks of reading events.

use std::sync::Arc;

use nextrung_domain::ids::ClientSetId;

use super::scene::{append, athlete, corrected, recorded, withdrawn, wren};
use super::{Broken, Kept, equal};
use crate::store::Store;

pub(super) async fn a_range_of_the_log_can_be_read<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let events = (0..9).map(|n| recorded(&format!("s{n}"))).collect::<Result<Vec<_>, Broken>>()?;
    store.append(append(&id, events)).await?;
    let cases: [(u64, Option<u64>, u32, Vec<u64>); 9] = [
        (0, None, 100, (1..=10).collect()),
        (3, None, 100, (4..=10).collect()),
        (3, Some(5), 100, vec![4, 5]),
        (3, Some(5), 1, vec![4]),
        (3, Some(3), 100, vec![]),
        (5, Some(3), 100, vec![]),
        (10, None, 100, vec![]),
        (0, None, 0, vec![]),
        (0, Some(u64::MAX), u32::MAX, (1..=10).collect()),
    ];
    for (after, up_to, limit, wanted) in cases {
        let found = store.events(&id, after, up_to, limit).await?;
        let found: Vec<u64> = found.iter().map(|e| e.sequence).collect();
        equal(&format!("after {after} up to {up_to:?} at most {limit}"), &found, &wanted)?;
    }
    equal("beyond every log is nothing", &store.events(&id, u64::MAX, None, 9).await?, &Vec::new())
}

pub(super) async fn the_events_of_a_set_can_be_read<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let robin = store.create_athlete(athlete("coach", "robin")?, None).await?.record.id;
    let events = vec![recorded("b")?, recorded("a")?, recorded("c")?, corrected("a", 3)?];
    store.append(append(&id, events)).await?;
    store.append(append(&id, vec![withdrawn("b")?, corrected("a", 4)?, withdrawn("c")?])).await?;
    store.append(append(&robin, vec![recorded("a")?])).await?;
    let asked = ["a", "nobody", "b", "a"].map(ClientSetId::new);
    let asked = asked.into_iter().collect::<Result<Vec<_>, _>>()?;
    let found = store.events_of_sets(&id, &asked).await?;
    let sequences: Vec<u64> = found.iter().map(|e| e.sequence).collect();
    equal("these sets, in sequence, each event once", &sequences, &vec![2, 3, 5, 6, 7])?;
    let log = store.events(&id, 0, None, 100).await?;
    let wanted: Vec<_> = log.into_iter().filter(|e| sequences.contains(&e.sequence)).collect();
    equal("the same events as in the log", &found, &wanted)?;
    equal("no sets, no events", &store.events_of_sets(&id, &[]).await?, &Vec::new())
}

pub(super) async fn a_read_sees_what_was_answered_before<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    for n in 0..30 {
        let done = store.append(append(&id, vec![recorded(&format!("s{n}"))?])).await?;
        let seen = store.events(&id, done.first_sequence - 1, None, 10).await?.len();
        let record = store.athlete(&id).await?.last_sequence;
        equal("what was answered is there", &(seen, record), &(1, done.last_sequence))?;
    }
    Ok(())
}

pub(super) async fn a_read_sees_whole_batches<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let (writing, whose) = (Arc::clone(&store), id.clone());
    let writer = tokio::spawn(async move {
        for n in 0..40 {
            let batch = ["a", "b", "c"].map(|part| recorded(&format!("{n}{part}")));
            let batch = batch.into_iter().collect::<Result<_, _>>()?;
            writing.append(append(&whose, batch)).await?;
        }
        Ok::<_, Broken>(())
    });
    loop {
        let is_last = writer.is_finished();
        let found: Vec<u64> = store.events(&id, 0, None, 1000).await?.iter().map(|e| e.sequence).collect();
        equal("no gaps at any time", &found, &(1..).take(found.len()).collect())?;
        equal("no half batch at any time", &(found.len() % 3), &1)?;
        if is_last {
            equal("all in the end", &found.len(), &121)?;
            return writer.await?;
        }
    }
}

pub(super) async fn a_read_of_many_sets_sees_one_moment<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    let names: Vec<String> = (0..20).map(|n| format!("s{n}")).collect();
    let batch = names.iter().map(|name| recorded(name)).collect::<Result<_, _>>()?;
    store.append(append(&id, batch)).await?;
    let sets = names.iter().map(|name| ClientSetId::new(name)).collect::<Result<Vec<_>, _>>()?;
    let (writing, whose) = (Arc::clone(&store), id.clone());
    let writer = tokio::spawn(async move {
        for turn in 0..40 {
            let batch = names.iter().map(|name| corrected(name, turn)).collect::<Result<_, _>>()?;
            writing.append(append(&whose, batch)).await?;
        }
        Ok::<_, Broken>(())
    });
    while !writer.is_finished() {
        let found = store.events_of_sets(&id, &sets).await?.len();
        equal("a batch is seen for all its sets or for none", &(found % 20), &0)?;
    }
    writer.await??;
    equal("all in the end", &store.events_of_sets(&id, &sets).await?.len(), &(41 * 20))
}
