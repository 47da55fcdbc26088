//! Checks of closing.

use std::sync::Arc;
use std::time::Duration;

use super::scene::{append, athlete, prescription, recorded, roster, wren};
use super::{Kept, equal, fails};
use crate::error::StoreError;
use crate::store::Store;

pub(super) async fn closing_finishes_and_then_refuses<S: Store>(store: Arc<S>) -> Kept {
    let id = wren(&store).await?;
    for n in 0..20 {
        let call = store.append(append(&id, vec![recorded(&format!("d{n}"))?]));
        drop(tokio::time::timeout(Duration::ZERO, call).await);
    }
    store.close().await?;
    equal("what was queued is done", &store.athlete(&id).await?.last_sequence, &21)?;
    let is_stopped = |e: &StoreError| matches!(e, StoreError::Stopped);
    fails("no append", store.append(append(&id, vec![recorded("late")?])).await, is_stopped)?;
    fails("no roster", store.create_roster(roster("late")?, None).await, is_stopped)?;
    fails("no athlete", store.create_athlete(athlete("coach", "late")?, None).await, is_stopped)?;
    let issued = prescription(&id, "late", "2026-03-14", 0)?;
    fails("no prescription", store.save_prescription(issued, None).await, is_stopped)?;
    equal("reads go on", &store.events(&id, 0, None, 100).await?.len(), &21)?;
    store.close().await?;
    Ok(())
}
