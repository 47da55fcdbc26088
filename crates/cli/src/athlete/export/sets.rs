//! Sets: those that count, as a sheet that can be recorded again.

use std::collections::BTreeMap;
use std::io::{self, Write};

use nextrung_api::v1;
use nextrung_api::v1::exported_event::Event;
use nextrung_server::convert::set::draft;
use nextrung_sheet::SetWriter;

/// Writes the sheet in training order, in which it leads to the same state when it is recorded.
pub(super) fn write(out: impl Write, who: &str, events: &[v1::ExportedEvent]) -> io::Result<()> {
    let mut writer = SetWriter::new(out)?;
    for set in standing(events) {
        writer.write(who, &draft(set.clone()))?;
    }
    writer.finish()
}

/// The sets that count, in training order.
fn standing(events: &[v1::ExportedEvent]) -> Vec<&v1::LoggedSet> {
    let mut sets: BTreeMap<&str, &v1::LoggedSet> = BTreeMap::new();
    for event in events {
        match &event.event {
            Some(Event::Recorded(set) | Event::Corrected(set)) => drop(sets.insert(&set.client_set_id, set)),
            Some(Event::Withdrawn(gone)) => drop(sets.remove(gone.client_set_id.as_str())),
            Some(Event::Profile(_)) | None => {}
        }
    }
    let mut sets: Vec<&v1::LoggedSet> = sets.into_values().collect();
    let day = |set: &v1::LoggedSet| set.training_date.map(|day| (day.year, day.month, day.day));
    sets.sort_by_key(|set| (day(set), set.session, set.set_number, set.sequence));
    sets
}
