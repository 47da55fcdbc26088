//! Sets in requests: recorded, put in place of another, withdrawn and supposed.

use nextrung_api::v1;
use nextrung_domain::draft::Setting;
use nextrung_domain::set::SetEntry;
use nextrung_engine::set_log::{LoggedSet, SetStatus};
use nextrung_server::convert::{athlete, set};

use super::part::Within;
use super::{read, roster};
use crate::contract;

pub(super) fn record(within: &Within, bytes: &[u8]) {
    read(bytes, |mut message: v1::RecordSetsRequest| {
        within.request("RecordSets", std::mem::take(&mut message.request_id), &message);
        let v1::RecordSetsRequest { parent, sets, request_id: _, validate_only: _ } = message;
        within.athlete("parent", &parent);
        sets.iter().for_each(|set| judge(within, set));
    });
}

pub(super) fn correct(within: &Within, bytes: &[u8]) {
    read(bytes, |mut message: v1::CorrectSetRequest| {
        within.request("CorrectSet", std::mem::take(&mut message.request_id), &message);
        let v1::CorrectSetRequest { name, replacement, reason: _, request_id: _ } = message;
        within.set("name", &name);
        judge(within, &replacement.unwrap_or_default());
    });
}

pub(super) fn withdraw(within: &Within, bytes: &[u8]) {
    read(bytes, |mut message: v1::WithdrawSetRequest| {
        within.request("WithdrawSet", std::mem::take(&mut message.request_id), &message);
        within.set("name", &message.name);
    });
}

pub(super) fn suppose(within: &Within, bytes: &[u8]) {
    read(bytes, |message| {
        let v1::SupposePrescriptionRequest {
            parent,
            date,
            sets,
            pause_days: _,
            bands,
            goals,
            insisted_rungs,
        } = message;
        within.athlete("parent", &parent);
        within.date("date", date);
        sets.iter().for_each(|set| judge(within, set));
        roster::bands("SupposePrescriptionRequest", bands);
        goals.into_iter().for_each(|goal| within.rung(&athlete::goal(goal).0));
        insisted_rungs.iter().for_each(|rung| within.rung(rung));
    });
}

/// A set that is taken comes back as it is, through its message and through the text it is kept as.
fn judge(within: &Within, message: &v1::LoggedSet) {
    let draft = set::draft(message.clone());
    for profile in &within.world.profiles {
        let setting = Setting { catalog: &within.world.catalog, profile, today: within.world.today };
        if let Some(entry) = contract::named("LoggedSet", draft.check(&setting)) {
            returns(within, &setting, &entry);
        }
    }
}

fn returns(within: &Within, setting: &Setting<'_>, entry: &SetEntry) {
    let status = SetStatus::Corrected { reason: "read anew".to_owned() };
    let kept = LoggedSet { set: entry.clone(), first_sequence: 7, arrived_at_ms: 1_764_000_000_123, status };
    let message = set::of_logged(&within.world.wren, &kept);
    within.set("name", &message.name);
    assert_eq!(set::draft(message).check(setting).as_ref(), Ok(entry));
    let text = serde_json::to_string(entry).unwrap_or_else(|error| unreachable!("{error}"));
    let again: SetEntry = serde_json::from_str(&text).unwrap_or_else(|error| unreachable!("{text}: {error}"));
    assert_eq!(again, *entry);
}
