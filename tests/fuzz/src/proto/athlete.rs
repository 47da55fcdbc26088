//! Athletes in requests: new ones and changes.

use nextrung_api::v1;
use nextrung_domain::ids::AthleteId;
use nextrung_domain::profile::Profile;
use nextrung_domain::profile_draft::ProfileDraft;
use nextrung_server::convert::athlete;
use nextrung_server::convert::athlete::mask::Mask;
use nextrung_server::names;
use nextrung_store::record::AthleteRecord;

use super::part::Within;
use super::read;
use crate::contract;

pub(super) fn create(within: &Within, bytes: &[u8]) {
    read(bytes, |mut message: v1::CreateAthleteRequest| {
        within.request("CreateAthlete", std::mem::take(&mut message.request_id), &message);
        let v1::CreateAthleteRequest { parent, athlete_id, athlete: content, request_id: _ } = message;
        within.roster("parent", &parent);
        if let Some(id) = within.named(names::new_id("athlete_id", &athlete_id, AthleteId::new)) {
            assert_eq!(id.as_str(), athlete_id);
        }
        judge(within, &athlete::draft(content.unwrap_or_default()));
    });
}

pub(super) fn erase(within: &Within, bytes: &[u8]) {
    read(bytes, |mut message: v1::EraseAthleteRequest| {
        within.request("EraseAthlete", std::mem::take(&mut message.request_id), &message);
        within.athlete("name", &message.name);
    });
}

pub(super) fn update(within: &Within, bytes: &[u8]) {
    read(bytes, |mut message: v1::UpdateAthleteRequest| {
        within.request("UpdateAthlete", std::mem::take(&mut message.request_id), &message);
        let v1::UpdateAthleteRequest { athlete: content, update_mask, request_id: _ } = message;
        let content = content.unwrap_or_default();
        within.athlete("athlete.name", &content.name);
        judge(within, &Mask::alone(content.clone()));
        if let Some(mask) = within.named(Mask::read(update_mask, &content)) {
            let change = athlete::draft(content);
            for profile in &within.world.profiles {
                let mut draft = athlete::draft_of(profile);
                mask.apply(&mut draft, &change);
                judge(within, &draft);
            }
        }
    });
}

/// A profile that is taken comes back as it is: as a draft, through its message and through the text it is kept as.
fn judge(within: &Within, draft: &ProfileDraft) {
    let check = |draft: &ProfileDraft| draft.check(&within.world.catalog, within.world.today);
    let Some(profile) = contract::named("Athlete", check(draft)) else { return };
    assert_eq!(check(&athlete::draft_of(&profile)).as_ref(), Ok(&profile));
    let record = AthleteRecord {
        id: within.world.wren.clone(),
        profile: profile.clone(),
        created_at_ms: 1,
        updated_at_ms: 2,
        last_sequence: 3,
    };
    assert_eq!(check(&athlete::draft(athlete::of_record(&record))).as_ref(), Ok(&profile));
    let text = serde_json::to_string(&profile).unwrap_or_else(|error| unreachable!("{error}"));
    let again: Profile = serde_json::from_str(&text).unwrap_or_else(|error| unreachable!("{text}: {error}"));
    assert_eq!(again, profile);
}
