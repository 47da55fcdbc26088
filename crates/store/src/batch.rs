//! Batch: which sets the events of one append may speak of.

use std::collections::BTreeSet;

use nextrung_domain::event::EventBody;
use nextrung_domain::ids::ClientSetId;
use nextrung_domain::profile::Profile;
use nextrung_domain::set::SetEntry;

use crate::error::StoreError;

/// Every set the events speak of, once.
pub(crate) fn sets(events: &[EventBody]) -> BTreeSet<&ClientSetId> {
    events.iter().filter_map(EventBody::client_set_id).collect()
}

/// Checks that sets are recorded once, and before they are corrected or withdrawn. `recorded` holds those of [`sets`]
/// that the log has already. Fails with [`StoreError::SetUnknown`], then with [`StoreError::SetIdTaken`].
pub(crate) fn check<'e>(
    events: &'e [EventBody],
    mut recorded: BTreeSet<&'e ClientSetId>,
) -> Result<(), StoreError> {
    let (mut unknown, mut taken) = (Vec::new(), Vec::new());
    for event in events {
        match event {
            EventBody::Recorded { set } => {
                if !recorded.insert(&set.client_set_id) {
                    taken.push(&set.client_set_id);
                }
            }
            EventBody::Corrected { set: SetEntry { client_set_id, .. }, .. }
            | EventBody::Withdrawn { client_set_id, .. } => {
                if !recorded.contains(client_set_id) {
                    unknown.push(client_set_id);
                }
            }
            EventBody::Profiled { .. } => {}
        }
    }
    if !unknown.is_empty() {
        return Err(StoreError::SetUnknown { ids: each_once(unknown) });
    }
    if !taken.is_empty() {
        return Err(StoreError::SetIdTaken { ids: each_once(taken) });
    }
    Ok(())
}

fn each_once(ids: Vec<&ClientSetId>) -> Vec<ClientSetId> {
    let mut seen = BTreeSet::new();
    ids.into_iter().filter(|id| seen.insert(*id)).cloned().collect()
}

/// The profile in force after the events, if one of them sets it.
pub(crate) fn last_profile(events: &[EventBody]) -> Option<&Profile> {
    events.iter().rev().find_map(|event| match event {
        EventBody::Profiled { profile } => Some(profile.as_ref()),
        EventBody::Recorded { .. } | EventBody::Corrected { .. } | EventBody::Withdrawn { .. } => None,
    })
}
