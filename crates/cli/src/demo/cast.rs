//! Cast: the invented roster and its athletes, read from their file and sent to the service.

use std::collections::BTreeMap;

use nextrung_api::v1;
use nextrung_domain::date::CivilDate;
use serde::Deserialize;

use crate::connection::{Connection, answer};
use crate::failure::Failure;
use crate::{calendar, names, request_id, words};

/// The roster and its athletes.
#[derive(Debug)]
pub(super) struct Cast {
    /// The id of the roster.
    pub(super) roster_id: String,
    roster: v1::Roster,
    /// The athletes by id.
    pub(super) athletes: BTreeMap<String, v1::Athlete>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CastFile {
    roster: RosterEntry,
    athlete: Vec<AthleteEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RosterEntry {
    id: String,
    title: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AthleteEntry {
    id: String,
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
    limits: Option<LimitsEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ClearanceEntry {
    clearance: String,
    confirmed_date: CivilDate,
    confirmed_by: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitsEntry {
    max_pain: Option<i32>,
    max_sets_per_session: Option<i32>,
    max_minutes: Option<i32>,
    #[serde(default)]
    banned_rungs: Vec<BanEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BanEntry {
    rung: String,
    reason: String,
}

impl Cast {
    /// Reads the file.
    pub(super) fn read(text: &str) -> Result<Self, Failure> {
        let file: CastFile =
            toml::from_str(text).map_err(|error| Failure::internal(&format!("athletes.toml: {error}")))?;
        let athletes: Result<BTreeMap<_, _>, String> = file.athlete.into_iter().map(athlete).collect();
        Ok(Self {
            roster_id: file.roster.id,
            roster: v1::Roster { title: file.roster.title, ..v1::Roster::default() },
            athletes: athletes.map_err(|error| Failure::internal(&format!("athletes.toml: {error}")))?,
        })
    }

    /// The resource name of an athlete.
    pub(super) fn name(&self, athlete: &str) -> String {
        format!("rosters/{}/athletes/{athlete}", self.roster_id)
    }

    /// What people call an athlete.
    pub(super) fn display_name(&self, athlete: &str) -> String {
        self.athletes.get(athlete).map_or_else(|| athlete.to_owned(), |found| found.display_name.clone())
    }

    /// Creates the roster and every athlete.
    pub(super) async fn send(&self, service: &Connection) -> Result<(), Failure> {
        let request = v1::CreateRosterRequest {
            roster_id: self.roster_id.clone(),
            roster: Some(self.roster.clone()),
            request_id: request_id::random()?,
        };
        answer(service.rosters().create_roster(request)).await?;
        for (id, athlete) in &self.athletes {
            let request = v1::CreateAthleteRequest {
                parent: format!("rosters/{}", self.roster_id),
                athlete_id: id.clone(),
                athlete: Some(athlete.clone()),
                request_id: request_id::random()?,
            };
            answer(service.athletes().create_athlete(request)).await?;
        }
        Ok(())
    }
}

fn athlete(entry: AthleteEntry) -> Result<(String, v1::Athlete), String> {
    let days: Result<Vec<i32>, String> =
        entry.available_weekdays.iter().map(|day| words::weekday(day).map(i32::from)).collect();
    let clearances: Result<Vec<v1::Confirmation>, String> =
        entry.clearance.into_iter().map(confirmation).collect();
    let goal = |rung: &String| v1::Goal { rung: names::rung(rung), by_date: None };
    let athlete = v1::Athlete {
        display_name: entry.display_name,
        birth_date: entry.birth_date.map(calendar::to_wire),
        body_mass_kg: entry.body_mass_kg,
        goals: entry.goals.iter().map(goal).collect(),
        equipment: entry.equipment,
        available_weekdays: days?,
        limits: entry.limits.map(limits),
        clearances: clearances?,
        ..v1::Athlete::default()
    };
    Ok((entry.id, athlete))
}

fn confirmation(entry: ClearanceEntry) -> Result<v1::Confirmation, String> {
    Ok(v1::Confirmation {
        clearance: i32::from(words::parse::<v1::Clearance>(&entry.clearance)?),
        confirmed_date: Some(calendar::to_wire(entry.confirmed_date)),
        confirmed_by: entry.confirmed_by,
    })
}

fn limits(entry: LimitsEntry) -> v1::AthleteLimits {
    let ban = |ban: BanEntry| v1::BannedRung { rung: names::rung(&ban.rung), reason: ban.reason };
    v1::AthleteLimits {
        max_pain: entry.max_pain,
        max_sets_per_session: entry.max_sets_per_session,
        max_minutes: entry.max_minutes,
        banned_rungs: entry.banned_rungs.into_iter().map(ban).collect(),
        ..v1::AthleteLimits::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::{ATHLETES, EXPLAINED, HELD_BACK, OTHER};

    #[test]
    fn the_file_of_this_program_is_read_whole() {
        let cast = Cast::read(ATHLETES).unwrap();
        assert_eq!(cast.roster_id, "climbing-hall");
        for athlete in [EXPLAINED, OTHER, HELD_BACK] {
            assert!(cast.athletes.contains_key(athlete), "{athlete}");
        }
        let redstart = &cast.athletes["redstart"];
        assert_eq!(redstart.clearances.len(), 3);
        assert_eq!(redstart.goals[0].rung, "ladders/press/rungs/free-press");
        assert_eq!(cast.athletes["linnet"].limits.as_ref().unwrap().max_pain, Some(2));
    }

    #[test]
    fn a_misspelt_field_is_a_fault() {
        let text =
            "[roster]\nid = \"a\"\ntitle = \"b\"\n[[athlete]]\nid = \"c\"\ndisplay_name = \"d\"\ngoal = []\n";
        assert!(Cast::read(text).is_err());
    }
}
