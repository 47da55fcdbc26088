//! Athletes file: the profiles of a roster, in TOML.
//!
//! The form is that of `data/demo/athletes.toml`: a `[roster]` and an `[[athlete]]` for each, named by `id`. What is left out is
//! as in a new profile.

use std::collections::BTreeMap;

use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::Choice;
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::{Clearance, Profile};
use nextrung_domain::profile_draft::{ConfirmationDraft, DateParts, ProfileDraft};
use serde::Deserialize;

const WEEKDAYS: [&str; 7] = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RosterFile {
    #[serde(rename = "roster")]
    _roster: Option<toml::Table>,
    #[serde(default)]
    athlete: Vec<AthleteEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AthleteEntry {
    id: String,
    #[serde(default)]
    display_name: String,
    birth_date: Option<CivilDate>,
    body_mass_kg: Option<f64>,
    #[serde(default)]
    goals: Vec<String>,
    #[serde(default)]
    equipment: Vec<String>,
    #[serde(default)]
    available_weekdays: Vec<String>,
    #[serde(default)]
    clearance: Vec<ClearanceEntry>,
    #[serde(default)]
    limits: LimitsEntry,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ClearanceEntry {
    clearance: String,
    confirmed_date: CivilDate,
    confirmed_by: String,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields)]
struct LimitsEntry {
    max_pain: Option<i64>,
    max_sets_per_session: Option<i64>,
    max_minutes: Option<i64>,
    #[serde(default)]
    banned_rungs: Vec<BanEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BanEntry {
    rung: String,
    reason: String,
}

/// Reads the profiles of a roster by athlete. Fails with everything that is wrong.
pub fn read(text: &str, catalog: &Catalog) -> Result<BTreeMap<String, Profile>, Vec<Problem>> {
    let file: RosterFile = toml::from_str(text).map_err(|error| vec![unreadable(&error)])?;
    let (mut profiles, mut problems) = (BTreeMap::new(), Vec::new());
    for (at, entry) in file.athlete.into_iter().enumerate() {
        let place = format!("athlete[{at}]");
        let id = entry.id.clone();
        match profile(entry, catalog) {
            Ok(profile) => {
                if profiles.insert(id.clone(), profile).is_some() {
                    problems.push(Problem::new(
                        format!("{place}.id"),
                        format!("`{id}` again"),
                        "each athlete once",
                    ));
                }
            }
            Err(found) => problems.extend(found.into_iter().map(|p| p.under(&place))),
        }
    }
    if problems.is_empty() { Ok(profiles) } else { Err(problems) }
}

/// The profile of an athlete of whom nothing but the name is known.
///
/// # Errors
///
/// The problems of a name that is too long to be shown.
pub fn unknown(athlete: &str, catalog: &Catalog) -> Result<Profile, Vec<Problem>> {
    let draft = ProfileDraft { display_name: athlete.to_owned(), ..ProfileDraft::default() };
    draft.check(catalog, CivilDate::LAST)
}

fn unreadable(error: &toml::de::Error) -> Problem {
    Problem::new(
        "athletes file",
        error.message().to_owned(),
        "a [roster] and an [[athlete]] for each, as in data/demo",
    )
}

fn parts(date: CivilDate) -> DateParts {
    let (y, m, d) = date.parts();
    (i64::from(y), i64::from(m), i64::from(d))
}

fn profile(entry: AthleteEntry, catalog: &Catalog) -> Result<Profile, Vec<Problem>> {
    let mut problems = Vec::new();
    let mut weekdays = Vec::new();
    for word in &entry.available_weekdays {
        match (0..).zip(WEEKDAYS).find(|(_, known)| *known == word.as_str()) {
            Some((day, _)) => weekdays.push(day),
            None => {
                problems.push(Problem::new("available_weekdays", format!("`{word}`"), WEEKDAYS.join(", ")));
            }
        }
    }
    let clearance = |c: ClearanceEntry| ConfirmationDraft {
        clearance: Clearance::ALL
            .into_iter()
            .find(|known| known.word() == c.clearance)
            .map_or(Choice::Unknown(c.clearance), Choice::Known),
        confirmed_date: Some(parts(c.confirmed_date)),
        confirmed_by: c.confirmed_by,
    };
    let name = if entry.display_name.is_empty() { entry.id } else { entry.display_name };
    let draft = ProfileDraft {
        display_name: name,
        birth_date: entry.birth_date.map(parts),
        body_mass_kg: entry.body_mass_kg,
        goals: entry.goals.into_iter().map(|rung| (rung, None)).collect(),
        equipment: entry.equipment,
        available_weekdays: weekdays,
        max_pain: entry.limits.max_pain,
        max_sets_per_session: entry.limits.max_sets_per_session,
        max_minutes: entry.limits.max_minutes,
        bans: entry.limits.banned_rungs.into_iter().map(|ban| (ban.rung, ban.reason)).collect(),
        clearances: entry.clearance.into_iter().map(clearance).collect(),
        ..ProfileDraft::default()
    };
    match draft.check(catalog, CivilDate::LAST) {
        Ok(profile) if problems.is_empty() => Ok(profile),
        Ok(_) => Err(problems),
        Err(found) => {
            problems.extend(found);
            Err(problems)
        }
    }
}
