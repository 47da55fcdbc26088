//! Rosters to their messages.

use nextrung_api::v1;
use nextrung_store::record::RosterRecord;

use super::{band, words};
use crate::names;

/// A roster's message.
pub fn of_record(record: &RosterRecord) -> v1::Roster {
    v1::Roster {
        name: names::of_roster(&record.id),
        title: record.title.clone(),
        bands: record.bands.as_ref().map(band::of_bands),
        create_time: Some(words::of_moment(record.created_at_ms)),
        update_time: Some(words::of_moment(record.updated_at_ms)),
    }
}
