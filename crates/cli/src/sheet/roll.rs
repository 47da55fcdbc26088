//! Roll: the rungs of the service and the athletes of a roster, which sheets are read against.

use nextrung_api::v1;
use nextrung_domain::measure::Unit;
use nextrung_sheet::mapping::{Directory, KnownRung};

use crate::connection::Connection;
use crate::failure::Failure;
use crate::names;

/// What the words of a sheet may mean.
#[derive(Debug)]
pub(crate) struct Roll {
    pub(crate) rungs: Vec<KnownRung>,
    /// The roster, a resource name, and its athletes; nothing when none is named.
    pub(crate) roster: Option<(String, Directory)>,
}

impl Roll {
    /// Asks the service.
    pub(crate) async fn call(service: &Connection, roster: Option<&str>) -> Result<Self, Failure> {
        let ladders = service.all_ladders().await?.ladders;
        let Some(roster) = roster else { return Ok(Self::of(&ladders, None)) };
        let name = names::roster(roster)?;
        let athletes = service.all_athletes(&name).await?.athletes;
        Ok(Self::of(&ladders, Some((&name, &athletes))))
    }

    /// Of what the service said; the roster is a resource name.
    pub(crate) fn of(ladders: &[v1::Ladder], roster: Option<(&str, &[v1::Athlete])>) -> Self {
        let rungs = ladders.iter().flat_map(|ladder| &ladder.rungs).filter_map(known).collect();
        let roster = roster.map(|(name, athletes)| {
            let called = athletes.iter().map(|one| (names::last(&one.name), one.display_name.as_str()));
            (name.to_owned(), Directory::new(names::last(name), called))
        });
        Self { rungs, roster }
    }
}

/// A rung as sheets know it; nothing for one in a unit of a newer contract, which no sheet can be counted in.
fn known(rung: &v1::Rung) -> Option<KnownRung> {
    let unit = match rung.unit() {
        v1::Unit::Reps => Unit::Reps,
        v1::Unit::HoldSeconds => Unit::HoldSeconds,
        v1::Unit::LoweringSeconds => Unit::LoweringSeconds,
        v1::Unit::Unspecified => return None,
    };
    Some(KnownRung { title: rung.display_name.clone(), ..KnownRung::new(&names::short(&rung.name), unit) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rung_is_known_by_its_short_name_and_title() {
        let rung = v1::Rung {
            name: "ladders/pull/rungs/chin-over-hold".to_owned(),
            display_name: "Chin-over-bar hold".to_owned(),
            unit: i32::from(v1::Unit::HoldSeconds),
            ..v1::Rung::default()
        };
        let found = known(&rung).unwrap();
        assert_eq!((found.name.as_str(), found.unit), ("pull/chin-over-hold", Unit::HoldSeconds));
        assert_eq!(found.title, "Chin-over-bar hold");
        assert_eq!(known(&v1::Rung { unit: 99, ..rung }), None);
    }
}
