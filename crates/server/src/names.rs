//! Names: resource names to ids and back.

use nextrung_domain::ids::{AthleteId, AthleteRef, ClientSetId, LadderId, PrescriptionId, RosterId, RungRef};
use nextrung_domain::problem::Problem;
use tonic::Status;

use crate::status::bad_fields;

/// Pairs of collection and id of a name, or nothing when the collections are others.
fn parts<'a, const N: usize>(name: &'a str, collections: [&str; N]) -> Option<[&'a str; N]> {
    let mut words = name.split('/');
    let mut ids = [""; N];
    for (slot, collection) in ids.iter_mut().zip(collections) {
        if words.next()? != collection {
            return None;
        }
        *slot = words.next()?;
    }
    words.next().is_none().then_some(ids)
}

fn bad(field: &str, name: &str, shape: &str) -> Status {
    let found = if name.is_empty() {
        "nothing".to_owned()
    } else {
        format!("`{}`", name.chars().take(200).collect::<String>())
    };
    bad_fields(&[Problem::new(field, found, format!("a name such as `{shape}`"))])
}

/// A roster's id from its name in `field`.
pub fn roster(field: &str, name: &str) -> Result<RosterId, Status> {
    parts(name, ["rosters"])
        .and_then(|[roster]| RosterId::new(roster).ok())
        .ok_or_else(|| bad(field, name, "rosters/hall"))
}

/// An athlete's ids from its name in `field`.
pub fn athlete(field: &str, name: &str) -> Result<AthleteRef, Status> {
    parts(name, ["rosters", "athletes"])
        .and_then(|[roster, athlete]| athlete_ref(roster, athlete))
        .ok_or_else(|| bad(field, name, "rosters/hall/athletes/wren"))
}

fn athlete_ref(roster: &str, athlete: &str) -> Option<AthleteRef> {
    Some(AthleteRef { roster: RosterId::new(roster).ok()?, athlete: AthleteId::new(athlete).ok()? })
}

/// A set's ids from its name in `field`.
pub fn set(field: &str, name: &str) -> Result<(AthleteRef, ClientSetId), Status> {
    parts(name, ["rosters", "athletes", "sets"])
        .and_then(|[roster, athlete, set]| Some((athlete_ref(roster, athlete)?, ClientSetId::new(set).ok()?)))
        .ok_or_else(|| bad(field, name, "rosters/hall/athletes/wren/sets/2026-11-23-1"))
}

/// A prescription's ids from its name in `field`.
pub fn prescription(field: &str, name: &str) -> Result<(AthleteRef, PrescriptionId), Status> {
    parts(name, ["rosters", "athletes", "prescriptions"])
        .and_then(|[roster, athlete, id]| {
            Some((athlete_ref(roster, athlete)?, PrescriptionId::new(id).ok()?))
        })
        .ok_or_else(|| bad(field, name, "rosters/hall/athletes/wren/prescriptions/p-20261123-l40-1"))
}

/// A ladder's id from its name in `field`.
pub fn ladder(field: &str, name: &str) -> Result<LadderId, Status> {
    parts(name, ["ladders"])
        .and_then(|[ladder]| LadderId::new(ladder).ok())
        .ok_or_else(|| bad(field, name, "ladders/pull"))
}

/// `ladder/rung` from `ladders/{ladder}/rungs/{rung}`; any other text as it is, to be reported by the domain's checks.
pub fn rung_text(name: &str) -> String {
    parts(name, ["ladders", "rungs"])
        .map_or_else(|| name.to_owned(), |[ladder, rung]| format!("{ladder}/{rung}"))
}

/// Name of a roster.
pub fn of_roster(id: &RosterId) -> String {
    format!("rosters/{id}")
}

/// Name of a ladder.
pub fn of_ladder(id: &LadderId) -> String {
    format!("ladders/{id}")
}

/// Name of a rung.
pub fn of_rung(rung: &RungRef) -> String {
    format!("ladders/{}/rungs/{}", rung.ladder, rung.rung)
}

/// An id to create under `field`, or what is wrong with it.
pub fn new_id<T, E>(field: &str, text: &str, read: impl Fn(&str) -> Result<T, E>) -> Result<T, Status> {
    read(text).map_err(|_| {
        let found = if text.is_empty() {
            "nothing".to_owned()
        } else {
            format!("`{}`", text.chars().take(80).collect::<String>())
        };
        let expected = "1 to 63 of a-z, 0-9 and '-', starting with a letter and not ending in '-'";
        bad_fields(&[Problem::new(field, found, expected)])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_whole() {
        assert!(athlete("parent", "rosters/hall/athletes/wren").is_ok());
        for wrong in [
            "",
            "rosters/hall",
            "rosters/hall/athletes/wren/",
            "rosters/hall/sets/wren",
            "rosters//athletes/wren",
        ] {
            assert!(athlete("parent", wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn rung_names_lose_their_collections() {
        assert_eq!(rung_text("ladders/pull/rungs/pull-up"), "pull/pull-up");
        assert_eq!(rung_text("pull-up"), "pull-up");
    }
}
