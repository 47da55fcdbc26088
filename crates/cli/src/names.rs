//! Names: short forms people type (`hall/wren`) and resource names of the contract (`rosters/hall/athletes/wren`).

use crate::failure::Failure;

const ATHLETE: [&str; 2] = ["rosters", "athletes"];
const SET: [&str; 3] = ["rosters", "athletes", "sets"];
const PRESCRIPTION: [&str; 3] = ["rosters", "athletes", "prescriptions"];
const RUNG: [&str; 2] = ["ladders", "rungs"];

/// `hall` as `rosters/hall`.
pub(crate) fn roster(text: &str) -> Result<String, Failure> {
    full(&["rosters"], text).ok_or_else(|| unnamed("a roster", text, "hall"))
}

/// `hall/wren`, or `wren` of the roster given, as `rosters/hall/athletes/wren`.
pub(crate) fn athlete(text: &str, roster: Option<&str>) -> Result<String, Failure> {
    in_roster(&ATHLETE, text, roster).ok_or_else(|| unnamed("an athlete", text, "hall/wren"))
}

/// `hall/wren/SET`, or `wren/SET` of the roster given, as a resource name.
pub(crate) fn set(text: &str, roster: Option<&str>) -> Result<String, Failure> {
    in_roster(&SET, text, roster).ok_or_else(|| unnamed("a set", text, "hall/wren/wren:2026-03-14:1:2"))
}

/// `hall/wren/ID`, or `wren/ID` of the roster given, as a resource name.
pub(crate) fn prescription(text: &str, roster: Option<&str>) -> Result<String, Failure> {
    let example = "hall/wren/ID as `nextrung prescriptions list hall/wren` shows it";
    in_roster(&PRESCRIPTION, text, roster).ok_or_else(|| unnamed("a prescription", text, example))
}

/// `pull` as `ladders/pull`.
pub(crate) fn ladder(text: &str) -> Result<String, Failure> {
    full(&["ladders"], text).ok_or_else(|| unnamed("a ladder", text, "pull"))
}

/// `pull/pull-up` as `ladders/pull/rungs/pull-up`. Other text is passed on: the service says what is wrong with it.
pub(crate) fn rung(text: &str) -> String {
    full(&RUNG, text).unwrap_or_else(|| text.to_owned())
}

/// `rosters/hall/athletes/wren` as `hall/wren`; text that is no resource name stays as it is.
pub(crate) fn short(name: &str) -> String {
    let parts: Vec<&str> = name.split('/').collect();
    if !parts.len().is_multiple_of(2) || !matches!(parts.first(), Some(&("rosters" | "ladders"))) {
        return name.to_owned();
    }
    parts.chunks(2).filter_map(<[&str]>::last).copied().collect::<Vec<_>>().join("/")
}

/// The last part of a resource name.
pub(crate) fn last(name: &str) -> &str {
    name.rsplit('/').next().unwrap_or(name)
}

/// The resource a name is in: `rosters/hall` of `rosters/hall/athletes/wren`.
pub(crate) fn parent(name: &str) -> &str {
    let mut cuts = name.rmatch_indices('/').map(|(at, _)| at).skip(1);
    cuts.next().map_or(name, |at| &name[..at])
}

fn in_roster(collections: &[&str], text: &str, roster: Option<&str>) -> Option<String> {
    let alone = text.split('/').count() + 1 == collections.len();
    match roster.filter(|_| alone) {
        Some(roster) => full(collections, &format!("{}/{text}", last(roster))),
        None => full(collections, text),
    }
}

/// The resource name of text that is either short or a resource name already.
fn full(collections: &[&str], text: &str) -> Option<String> {
    let parts: Vec<&str> = text.split('/').collect();
    if parts.iter().any(|part| part.is_empty()) {
        return None;
    }
    if parts.len() == collections.len() {
        let pairs: Vec<String> =
            collections.iter().zip(parts).map(|(kind, id)| format!("{kind}/{id}")).collect();
        return Some(pairs.join("/"));
    }
    let is_full = parts.len() == 2 * collections.len()
        && parts.chunks(2).zip(collections).all(|(pair, kind)| pair.first() == Some(kind));
    is_full.then(|| text.to_owned())
}

fn unnamed(what: &str, text: &str, example: &str) -> Failure {
    let advice = if what == "an athlete" { " A bare name needs --roster or NEXTRUNG_ROSTER." } else { "" };
    Failure::usage(format!("`{text}` does not name {what}"), format!("Write it like {example}.{advice}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_and_full_names_mean_the_same() {
        for text in ["hall/wren", "rosters/hall/athletes/wren"] {
            assert_eq!(athlete(text, None).unwrap(), "rosters/hall/athletes/wren");
        }
        assert_eq!(athlete("wren", Some("hall")).unwrap(), "rosters/hall/athletes/wren");
        assert_eq!(athlete("wren", Some("rosters/hall")).unwrap(), "rosters/hall/athletes/wren");
        assert_eq!(set("wren/a:1", Some("hall")).unwrap(), "rosters/hall/athletes/wren/sets/a:1");
        assert_eq!(rung("pull/pull-up"), "ladders/pull/rungs/pull-up");
        assert_eq!(rung("ladders/pull/rungs/pull-up"), "ladders/pull/rungs/pull-up");
    }

    #[test]
    fn a_name_that_is_none_is_refused() {
        for text in ["wren", "", "hall/", "/wren", "a/b/c", "rosters/hall/athlete/wren"] {
            assert!(athlete(text, None).is_err(), "{text}");
        }
        assert_eq!(rung("pull-up"), "pull-up");
    }

    #[test]
    fn names_are_shortened_for_people() {
        assert_eq!(short("rosters/hall/athletes/wren"), "hall/wren");
        assert_eq!(short("ladders/pull/rungs/pull-up"), "pull/pull-up");
        assert_eq!(short("hall/wren"), "hall/wren");
        assert_eq!(parent("rosters/hall/athletes/wren"), "rosters/hall");
        assert_eq!(last("rosters/hall"), "hall");
    }
}
