//! Scene: invented rosters, athletes and sets to check a store with.

use std::sync::Arc;

use nextrung_domain::date::CivilDate;
use nextrung_domain::event::EventBody;
use nextrung_domain::ids::{
    AthleteId, AthleteRef, BadId, ClientSetId, PrescriptionId, RosterId, RungRef, ShadingId,
};
use nextrung_domain::measure::{Grams, Pain, Reserve, RestSeconds, SessionNumber, SetNumber, Tempo, Unit};
use nextrung_domain::profile::{Goal, Limits, Profile, Weekdays};
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};

use super::Broken;
use crate::append::Append;
use crate::record::{NewAthlete, NewRoster, PrescriptionRecord};
use crate::request::RequestKey;
use crate::store::Store;

/// A moment, milliseconds since 1970-01-01 UTC.
pub const NOW: i64 = 1_790_000_000_000;

impl From<BadId> for Broken {
    fn from(bad: BadId) -> Self {
        Self::invented(&bad.to_string())
    }
}

impl Broken {
    pub(super) fn invented(found: &str) -> Self {
        Self { promise: "the invented data is valid".to_owned(), found: found.to_owned() }
    }
}

/// A value that is there.
fn there<T>(value: Option<T>) -> Result<T, Broken> {
    value.ok_or_else(|| Broken::invented("a value out of range"))
}

/// A roster to create.
pub fn roster(id: &str) -> Result<NewRoster, Broken> {
    Ok(NewRoster { id: RosterId::new(id)?, title: format!("Roster {id}"), bands: None, created_at_ms: NOW })
}

/// An athlete to create.
pub fn athlete(roster: &str, id: &str) -> Result<NewAthlete, Broken> {
    let id = AthleteRef { roster: RosterId::new(roster)?, athlete: AthleteId::new(id)? };
    Ok(NewAthlete { id, profile: profile("Wren"), created_at_ms: NOW })
}

/// A profile with that name.
pub fn profile(name: &str) -> Profile {
    let goals = RungRef::parse("pull/one-arm-pull-up").into_iter();
    let goals = goals.map(|rung| Goal { rung, by: CivilDate::parse("2026-12-31").ok() });
    Profile {
        display_name: name.to_owned(),
        birth_date: CivilDate::parse("1994-02-28").ok(),
        body_mass: Grams::from_kg(68.4, 20.0, 300.0),
        goals: goals.collect(),
        equipment: std::collections::BTreeSet::new(),
        days: Weekdays::from_days([0, 2, 4]),
        limits: Limits::default(),
        clearances: Vec::new(),
        bands: None,
    }
}

/// A plain set with that key.
pub fn set(id: &str) -> Result<SetEntry, Broken> {
    Ok(SetEntry {
        client_set_id: ClientSetId::new(id)?,
        date: day("2026-03-14")?,
        session: there(SessionNumber::new(1))?,
        number: there(SetNumber::new(1))?,
        rung: RungRef::parse("pull/pull-up")?,
        purpose: Purpose::Working,
        shadings: Vec::new(),
        unit: Unit::Reps,
        done: 5,
        target: Some(5),
        stop: Stop::Target,
        reserve: None,
        rest: None,
        load: None,
        body_mass: None,
        tempo: None,
        pain: None,
        note: String::new(),
    })
}

/// A set with every field given, and that note.
pub fn full_set(id: &str, note: &str) -> Result<SetEntry, Broken> {
    Ok(SetEntry {
        shadings: vec![ShadingId::new("light-band")?, ShadingId::new("pause")?],
        stop: Stop::Strength,
        target: Some(8),
        reserve: Reserve::new(0),
        rest: RestSeconds::new(180),
        load: Grams::from_kg(-12.345, -150.0, 150.0),
        body_mass: Grams::from_kg(68.4, 20.0, 300.0),
        tempo: Tempo::parse("31X1"),
        pain: Pain::new(2),
        note: note.to_owned(),
        ..set(id)?
    })
}

/// A day.
pub fn day(text: &str) -> Result<CivilDate, Broken> {
    CivilDate::parse(text).map_err(|bad| Broken::invented(&bad.to_string()))
}

/// The recording of a plain set.
pub fn recorded(id: &str) -> Result<EventBody, Broken> {
    Ok(EventBody::Recorded { set: set(id)? })
}

/// The correction of a set to `done` units.
pub fn corrected(id: &str, done: u16) -> Result<EventBody, Broken> {
    Ok(EventBody::Corrected { set: SetEntry { done, ..set(id)? }, reason: "miscounted".to_owned() })
}

/// The withdrawal of a set.
pub fn withdrawn(id: &str) -> Result<EventBody, Broken> {
    Ok(EventBody::Withdrawn { client_set_id: ClientSetId::new(id)?, reason: "not mine".to_owned() })
}

/// An append without request key or expected position.
pub fn append(athlete: &AthleteRef, events: Vec<EventBody>) -> Append {
    Append { athlete: athlete.clone(), request: None, expected_sequence: None, arrived_at_ms: NOW, events }
}

/// A request key on the athlete's roster; `content` fills its fingerprint.
pub fn request(athlete: &AthleteRef, method: &str, id: &str, content: u8) -> RequestKey {
    RequestKey {
        roster: athlete.roster.clone(),
        method: method.to_owned(),
        id: id.to_owned(),
        fingerprint: [content; 32],
    }
}

/// A prescription for a day, issued `later` milliseconds after [`NOW`].
pub fn prescription(
    athlete: &AthleteRef,
    id: &str,
    date: &str,
    later: i64,
) -> Result<PrescriptionRecord, Broken> {
    Ok(PrescriptionRecord {
        athlete: athlete.clone(),
        id: PrescriptionId::new(id)?,
        date: day(date)?,
        issued_at_ms: NOW + later,
        log_position: 1,
        body: format!("{{\"id\": \"{id}\"}}"),
    })
}

/// Creates roster `coach` with athlete `wren`.
pub async fn wren<S: Store>(store: &Arc<S>) -> Result<AthleteRef, Broken> {
    store.create_roster(roster("coach")?, None).await?;
    Ok(store.create_athlete(athlete("coach", "wren")?, None).await?.record.id)
}
