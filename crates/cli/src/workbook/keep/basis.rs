//! Basis: what a look at a workbook rests on. While that is the same there is nothing to ask the service about its athletes,
//! and nobody's data is looked at for nothing.

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use nextrung_api::v1;
use nextrung_domain::date::CivilDate;
use prost_types::Timestamp;

use super::super::file::Stamp;

/// Longest that a basis counts: a newer service may prescribe otherwise without anything of the below having changed.
const LONGEST: Duration = Duration::from_secs(3600);

/// A workbook, and the mapping beside it if there is one.
pub(super) type Stamps = (Stamp, Option<Stamp>);

/// What is the same for all workbooks of a look.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Circumstances {
    today: CivilDate,
    roster_changed: Option<Timestamp>,
    /// Names and versions.
    ladders: Vec<(String, i32)>,
}

impl Circumstances {
    pub(super) fn of(today: CivilDate, roster: &v1::Roster, ladders: &[v1::Ladder]) -> Self {
        let ladders = ladders.iter().map(|ladder| (ladder.name.clone(), ladder.version)).collect();
        Self { today, roster_changed: roster.update_time, ladders }
    }
}

/// What the look at one workbook rested on.
#[derive(Debug, Clone)]
pub(super) struct Basis {
    begun: Instant,
    circumstances: Circumstances,
    stamps: Stamps,
    athletes: Athletes,
}

/// Positions of the logs of some athletes, nothing for who is not there.
type Athletes = Vec<(String, Option<i64>)>;

impl Basis {
    /// Of a look that began at `begun` and left files with these stamps, with rows of `athletes`.
    pub(super) fn new(
        begun: Instant,
        circumstances: &Circumstances,
        stamps: Stamps,
        athletes: &BTreeSet<String>,
        position: impl Fn(&str) -> Option<i64>,
    ) -> Self {
        let athletes = athletes.iter().map(|id| (id.clone(), position(id))).collect();
        Self { begun, circumstances: circumstances.clone(), stamps, athletes }
    }

    /// Whether all of it is as it was.
    pub(super) fn holds(
        &self,
        now: Instant,
        circumstances: &Circumstances,
        stamps: Stamps,
        position: impl Fn(&str) -> Option<i64>,
    ) -> bool {
        now.saturating_duration_since(self.begun) < LONGEST
            && self.circumstances == *circumstances
            && self.stamps == stamps
            && self.athletes.iter().all(|(id, then)| position(id) == *then)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_holds_until_any_part_of_it_changes() {
        let folder = tempfile::tempdir().unwrap();
        let stamp = |text: &str| {
            std::fs::write(folder.path().join(text), text).unwrap();
            Stamp::of(&folder.path().join(text)).unwrap()
        };
        let (begun, file) = (Instant::now(), (stamp("one"), None));
        let today = CivilDate::parse("2026-11-24").unwrap();
        let roster =
            v1::Roster { update_time: Some(Timestamp { seconds: 1, nanos: 0 }), ..Default::default() };
        let ladder = v1::Ladder { name: "ladders/pull".to_owned(), version: 1, ..Default::default() };
        let then = Circumstances::of(today, &roster, std::slice::from_ref(&ladder));
        let position = |id: &str| (id == "wren").then_some(7);
        let athletes = ["wren".to_owned(), "nobody".to_owned()].into();
        let basis = Basis::new(begun, &then, file, &athletes, position);
        let soon = begun + LONGEST / 2;
        assert!(basis.holds(soon, &then, file, position));
        assert!(!basis.holds(begun + LONGEST, &then, file, position));
        assert!(!basis.holds(soon, &then, (stamp("other"), None), position));
        assert!(!basis.holds(soon, &then, (file.0, Some(file.0)), position));
        assert!(!basis.holds(soon, &then, file, |id| (id == "wren").then_some(8)));
        assert!(!basis.holds(soon, &then, file, |_| None));
        assert!(!basis.holds(soon, &then, file, |_| Some(7)), "nobody has come");
        let others = [
            Circumstances::of(today.plus_days(1), &roster, std::slice::from_ref(&ladder)),
            Circumstances::of(today, &v1::Roster::default(), std::slice::from_ref(&ladder)),
            Circumstances::of(today, &roster, &[v1::Ladder { version: 2, ..ladder.clone() }]),
            Circumstances::of(today, &roster, &[]),
        ];
        for now in others {
            assert!(!basis.holds(soon, &now, file, position), "{now:?}");
        }
    }
}
