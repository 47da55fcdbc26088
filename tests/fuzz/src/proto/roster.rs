//! Rosters in requests, and the bands that others have too.

use nextrung_api::v1;
use nextrung_domain::ids::RosterId;
use nextrung_domain::profile_draft::check_bands_draft;
use nextrung_server::convert::band;
use nextrung_server::names;

use super::part::Within;
use super::read;
use crate::contract;

pub(super) fn create(within: &Within, bytes: &[u8]) {
    read(bytes, |mut message: v1::CreateRosterRequest| {
        within.request("CreateRoster", std::mem::take(&mut message.request_id), &message);
        let v1::CreateRosterRequest { roster_id, roster, request_id: _ } = message;
        if let Some(id) = within.named(names::new_id("roster_id", &roster_id, RosterId::new)) {
            assert_eq!(id.as_str(), roster_id);
        }
        bands("Roster", roster.unwrap_or_default().bands);
    });
}

pub(super) fn update(within: &Within, bytes: &[u8]) {
    read(bytes, |mut message: v1::UpdateRosterRequest| {
        within.request("UpdateRoster", std::mem::take(&mut message.request_id), &message);
        let v1::Roster { name, title: _, bands: given, create_time: _, update_time: _ } =
            message.roster.unwrap_or_default();
        within.roster("roster.name", &name);
        bands("Roster", given);
    });
}

/// Bands that are taken come back as they are; what is refused names a field of the message that has them.
pub(super) fn bands(message: &str, given: Option<v1::Bands>) {
    let Some(read) = contract::named(message, check_bands_draft(&band::draft(given))) else { return };
    let written = read.as_ref().map(band::of_bands);
    assert_eq!(check_bands_draft(&band::draft(written)), Ok(read));
    assert_eq!(check_bands_draft(&band::draft_of(read.as_ref())), Ok(read));
}
