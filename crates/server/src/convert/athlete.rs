//! Athletes to and from their messages.

use nextrung_api::v1;
use nextrung_domain::draft::Choice;
use nextrung_domain::ids::EquipmentId;
use nextrung_domain::profile::{Clearance, Profile, Word};
use nextrung_domain::profile_draft::{ConfirmationDraft, ProfileDraft};
use nextrung_store::record::AthleteRecord;

use super::{band, words};
use crate::names;

pub mod mask;

/// A profile as it comes in. Names, and times the service sets, are left to the caller.
pub fn draft(message: v1::Athlete) -> ProfileDraft {
    let v1::Athlete {
        name: _,
        display_name,
        birth_date,
        body_mass_kg,
        goals,
        equipment,
        available_weekdays,
        limits,
        clearances,
        bands,
        create_time: _,
        update_time: _,
        log_position: _,
    } = message;
    let v1::AthleteLimits {
        max_pain,
        max_sets_per_session,
        max_minutes,
        banned_rungs,
        pinned_rungs,
        capped_rungs,
    } = limits.unwrap_or_default();
    ProfileDraft {
        display_name,
        birth_date: birth_date.map(words::date_parts),
        body_mass_kg,
        goals: goals.into_iter().map(goal).collect(),
        equipment,
        available_weekdays: available_weekdays.into_iter().map(weekday).collect(),
        max_pain: max_pain.map(i64::from),
        max_sets_per_session: max_sets_per_session.map(i64::from),
        max_minutes: max_minutes.map(i64::from),
        bans: banned_rungs.into_iter().map(ban).collect(),
        pins: pinned_rungs.into_iter().map(pin).collect(),
        caps: capped_rungs.into_iter().map(cap).collect(),
        clearances: clearances.into_iter().map(confirmation).collect(),
        bands: band::draft(bands),
    }
}

/// A goal as it comes in.
pub fn goal(message: v1::Goal) -> (String, Option<(i64, i64, i64)>) {
    let v1::Goal { rung, by_date } = message;
    (names::rung_text(&rung), by_date.map(words::date_parts))
}

/// Monday is 1 in the contract and 0 in the domain; anything else becomes a day that the domain refuses.
fn weekday(number: i32) -> u8 {
    u8::try_from(number).ok().and_then(|n| n.checked_sub(1)).unwrap_or(u8::MAX)
}

fn ban(message: v1::BannedRung) -> (String, String) {
    let v1::BannedRung { rung, reason } = message;
    (names::rung_text(&rung), reason)
}

fn pin(message: v1::PinnedRung) -> (String, String) {
    let v1::PinnedRung { rung, reason } = message;
    (names::rung_text(&rung), reason)
}

fn cap(message: v1::CappedRung) -> (String, String) {
    let v1::CappedRung { rung, reason } = message;
    (names::rung_text(&rung), reason)
}

fn confirmation(message: v1::Confirmation) -> ConfirmationDraft {
    let v1::Confirmation { clearance, confirmed_date, confirmed_by } = message;
    ConfirmationDraft {
        clearance: words::clearance(clearance),
        confirmed_date: confirmed_date.map(words::date_parts),
        confirmed_by,
    }
}

/// A profile as a draft, to change some of its fields and check the whole again.
pub fn draft_of(profile: &Profile) -> ProfileDraft {
    let parts = |date: nextrung_domain::date::CivilDate| {
        let (y, m, d) = date.parts();
        (i64::from(y), i64::from(m), i64::from(d))
    };
    let told = |word: &Word| (word.rung.to_string(), word.reason.clone());
    ProfileDraft {
        display_name: profile.display_name.clone(),
        birth_date: profile.birth_date.map(parts),
        body_mass_kg: profile.body_mass.map(nextrung_domain::measure::Grams::kg),
        goals: profile.goals.iter().map(|g| (g.rung.to_string(), g.by.map(parts))).collect(),
        equipment: profile.equipment.iter().map(ToString::to_string).collect(),
        available_weekdays: profile.days.days().collect(),
        max_pain: Some(i64::from(profile.limits.max_pain.get())),
        max_sets_per_session: Some(i64::from(profile.limits.max_sets)),
        max_minutes: Some(i64::from(profile.limits.max_minutes)),
        bans: profile.limits.bans.iter().map(told).collect(),
        pins: profile.limits.pins.iter().map(told).collect(),
        caps: profile.limits.caps.iter().map(told).collect(),
        clearances: profile
            .clearances
            .iter()
            .map(|c| ConfirmationDraft {
                clearance: Choice::Known(c.clearance),
                confirmed_date: Some(parts(c.on)),
                confirmed_by: c.by.clone(),
            })
            .collect(),
        bands: band::draft_of(profile.bands.as_ref()),
    }
}

/// An athlete's message.
pub fn of_record(record: &AthleteRecord) -> v1::Athlete {
    let p = &record.profile;
    v1::Athlete {
        name: record.id.to_string(),
        display_name: p.display_name.clone(),
        birth_date: p.birth_date.map(words::of_date),
        body_mass_kg: p.body_mass.map(nextrung_domain::measure::Grams::kg),
        goals: p
            .goals
            .iter()
            .map(|g| v1::Goal { rung: names::of_rung(&g.rung), by_date: g.by.map(words::of_date) })
            .collect(),
        equipment: p.equipment.iter().map(EquipmentId::to_string).collect(),
        available_weekdays: p.days.days().map(|d| i32::from(d) + 1).collect(),
        limits: Some(limits(p)),
        clearances: p
            .clearances
            .iter()
            .map(|c| v1::Confirmation {
                clearance: words::number(&Clearance::ALL, &c.clearance),
                confirmed_date: Some(words::of_date(c.on)),
                confirmed_by: c.by.clone(),
            })
            .collect(),
        bands: p.bands.as_ref().map(band::of_bands),
        create_time: Some(words::of_moment(record.created_at_ms)),
        update_time: Some(words::of_moment(record.updated_at_ms)),
        log_position: words::of_position(record.last_sequence),
    }
}

fn limits(p: &Profile) -> v1::AthleteLimits {
    let told = |word: &Word| (names::of_rung(&word.rung), word.reason.clone());
    let pins = p.limits.pins.iter().map(told);
    let caps = p.limits.caps.iter().map(told);
    v1::AthleteLimits {
        max_pain: Some(i32::from(p.limits.max_pain.get())),
        max_sets_per_session: Some(i32::from(p.limits.max_sets)),
        max_minutes: Some(i32::from(p.limits.max_minutes)),
        banned_rungs: p
            .limits
            .bans
            .iter()
            .map(told)
            .map(|(rung, reason)| v1::BannedRung { rung, reason })
            .collect(),
        pinned_rungs: pins.map(|(rung, reason)| v1::PinnedRung { rung, reason }).collect(),
        capped_rungs: caps.map(|(rung, reason)| v1::CappedRung { rung, reason }).collect(),
    }
}
