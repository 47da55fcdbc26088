//! Names: resource names to ids and back.

use nextrung_domain::ids::{AthleteId, AthleteRef, ClientSetId, LadderId, PrescriptionId, RosterId, RungRef};

use crate::fields::{Read, bad, quoted};

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

/// What was read, or that the name in `field` has another shape.
fn shaped<T>(read: Option<T>, field: &str, name: &str, shape: &str) -> Read<T> {
    read.map_or_else(|| bad(field, quoted(name), format!("a name such as `{shape}`")), Ok)
}

/// A roster's id from its name in `field`.
pub fn roster(field: &str, name: &str) -> Read<RosterId> {
    let read = parts(name, ["rosters"]).and_then(|[roster]| RosterId::new(roster).ok());
    shaped(read, field, name, "rosters/hall")
}

/// An athlete's ids from its name in `field`.
pub fn athlete(field: &str, name: &str) -> Read<AthleteRef> {
    let read =
        parts(name, ["rosters", "athletes"]).and_then(|[roster, athlete]| athlete_ref(roster, athlete));
    shaped(read, field, name, "rosters/hall/athletes/wren")
}

fn athlete_ref(roster: &str, athlete: &str) -> Option<AthleteRef> {
    Some(AthleteRef { roster: RosterId::new(roster).ok()?, athlete: AthleteId::new(athlete).ok()? })
}

/// The roster, and the athlete in it, that a name of either or of what belongs to them begins with.
pub(crate) fn reach(name: &str) -> Option<(RosterId, Option<AthleteId>)> {
    let mut words = name.split('/');
    let roster = words.next().filter(|word| *word == "rosters").and_then(|_| words.next())?;
    let athlete = words.next().filter(|word| *word == "athletes").and_then(|_| words.next());
    Some((RosterId::new(roster).ok()?, athlete.map(AthleteId::new).transpose().ok()?))
}

/// A set's ids from its name in `field`.
pub fn set(field: &str, name: &str) -> Read<(AthleteRef, ClientSetId)> {
    let read = parts(name, ["rosters", "athletes", "sets"]).and_then(|[roster, athlete, set]| {
        Some((athlete_ref(roster, athlete)?, ClientSetId::new(set).ok()?))
    });
    shaped(read, field, name, "rosters/hall/athletes/wren/sets/2026-11-23-1")
}

/// A prescription's ids from its name in `field`.
pub fn prescription(field: &str, name: &str) -> Read<(AthleteRef, PrescriptionId)> {
    let read = parts(name, ["rosters", "athletes", "prescriptions"]).and_then(|[roster, athlete, id]| {
        Some((athlete_ref(roster, athlete)?, PrescriptionId::new(id).ok()?))
    });
    shaped(read, field, name, "rosters/hall/athletes/wren/prescriptions/p-20261123-l40-1")
}

/// A ladder's id from its name in `field`.
pub fn ladder(field: &str, name: &str) -> Read<LadderId> {
    let read = parts(name, ["ladders"]).and_then(|[ladder]| LadderId::new(ladder).ok());
    shaped(read, field, name, "ladders/pull")
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
pub fn new_id<T, E>(field: &str, text: &str, read: impl Fn(&str) -> Result<T, E>) -> Read<T> {
    let expected = "1 to 63 of a-z, 0-9 and '-', starting with a letter and not ending in '-'";
    read(text).or_else(|_| bad(field, quoted(text), expected))
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
    fn whatever_is_read_as_a_name_has_its_reach() {
        let whole = reach("rosters/hall").unwrap();
        assert_eq!((whole.0.as_str(), whole.1), ("hall", None));
        for name in [
            "rosters/hall/athletes/wren",
            "rosters/hall/athletes/wren/sets/2026-11-23-1",
            "rosters/hall/athletes/wren/prescriptions/p-20261123-l40-1",
        ] {
            let (roster, athlete) = reach(name).unwrap();
            assert_eq!((roster.as_str(), athlete.unwrap().as_str()), ("hall", "wren"), "{name}");
        }
        for wrong in ["", "rosters", "ladders/pull", "rosters/HALL", "rosters/hall/athletes/"] {
            assert_eq!(reach(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn rung_names_lose_their_collections() {
        assert_eq!(rung_text("ladders/pull/rungs/pull-up"), "pull/pull-up");
        assert_eq!(rung_text("pull-up"), "pull-up");
    }
}
