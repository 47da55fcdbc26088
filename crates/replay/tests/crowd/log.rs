//! Log: what reaches the log of a simulated athlete is sound and comes out the same each time.

use std::collections::BTreeSet;

use nextrung_domain::draft::Setting;
use nextrung_domain::event::EventBody;
use nextrung_replay::athlete_log::standing;
use nextrung_replay::simulate::crowd::files::draft;
use nextrung_replay::simulate::crowd::{CrowdPlan, SimulatedAthlete, roster};
use nextrung_replay::simulate::family::{GAPS, MATCHED, all};
use nextrung_replay::simulate::world::{ALL, PULL};

use crate::scene::{SEED, catalog, crowd, plan};

/// One athlete of each family in each world.
fn everybody() -> Vec<SimulatedAthlete> {
    let plan = CrowdPlan {
        families: all().to_vec(),
        worlds: ALL.to_vec(),
        athletes: u64::try_from(all().len() * ALL.len()).unwrap(),
        weeks: 12,
        seed: SEED,
    };
    roster(&catalog(), plan).unwrap().athletes().map(Result::unwrap).collect()
}

#[test]
fn every_recorded_set_passes_the_domains_checks() {
    let catalog = catalog();
    let mut sets = 0;
    for athlete in everybody() {
        let EventBody::Profiled { profile } = &athlete.log.events[0].body else {
            panic!("a profile comes first")
        };
        let mut keys = BTreeSet::new();
        for (event, n) in athlete.log.events.iter().zip(1..) {
            assert_eq!(event.sequence, n, "{}", athlete.log.athlete);
            let (EventBody::Recorded { set } | EventBody::Corrected { set, .. }) = &event.body else {
                continue;
            };
            let setting = Setting { catalog: &catalog, profile, today: set.date };
            let checked = draft(set).check(&setting);
            assert_eq!(checked.as_ref(), Ok(set), "{}, {}", athlete.family, set.client_set_id);
            let is_first = matches!(event.body, EventBody::Recorded { .. });
            assert_eq!(keys.insert(set.client_set_id.clone()), is_first, "{}", set.client_set_id);
            sets += 1;
        }
        let arrivals: Vec<i64> = athlete.log.events.iter().map(|e| e.arrived_at_ms).collect();
        assert!(arrivals.is_sorted(), "{}: arrival makes the order of a log", athlete.log.athlete);
    }
    assert!(sets > 3000, "{sets} sets");
}

#[test]
fn the_truth_speaks_of_exactly_the_sets_that_stand() {
    for athlete in everybody() {
        let stand: BTreeSet<_> =
            standing(&athlete.log.events).into_iter().map(|set| set.client_set_id.clone()).collect();
        let told: BTreeSet<_> = athlete.oracle.iter().map(|o| o.client_set_id.clone()).collect();
        assert_eq!(stand, told, "{}", athlete.log.athlete);
        assert_eq!(told.len(), athlete.oracle.len());
        assert!(!told.is_empty(), "{}, {}: nothing done", athlete.family, athlete.world.name);
        for oracle in &athlete.oracle {
            let chance = oracle.chance().unwrap();
            assert!(chance > 0.0, "{}: {} was impossible", athlete.log.athlete, oracle.client_set_id);
        }
    }
}

#[test]
fn an_athlete_follows_from_seed_and_number_alone() {
    let one = crowd(GAPS, PULL, 8);
    let all: Vec<SimulatedAthlete> = one.athletes().map(Result::unwrap).collect();
    assert_eq!(all, one.athletes().map(Result::unwrap).collect::<Vec<_>>());
    assert_eq!(crowd(GAPS, PULL, 2).athlete(7).unwrap(), all[7], "whoever else is asked for");
    let other = roster(&catalog(), CrowdPlan { seed: SEED + 1, ..plan(GAPS, PULL, 8) }).unwrap();
    assert_ne!(other.athlete(7).unwrap().log.events, all[7].log.events);
    let names: BTreeSet<&str> = all.iter().map(|a| a.log.athlete.as_str()).collect();
    assert_eq!(names.len(), 8);
}

#[test]
fn families_and_worlds_are_taken_in_turn() {
    let plan = CrowdPlan { families: vec![MATCHED, GAPS], worlds: ALL.to_vec(), ..plan(MATCHED, PULL, 12) };
    let roster = roster(&catalog(), plan).unwrap();
    let who: Vec<(&str, &str)> = [0, 1, 2, 5, 6]
        .map(|n| roster.athlete(n).unwrap())
        .iter()
        .map(|a| (a.family, a.world.name))
        .collect();
    assert_eq!(
        who,
        [
            ("matched", "pull"),
            ("gaps", "pull"),
            ("matched", "front lever"),
            ("gaps", "press"),
            ("matched", "pull")
        ]
    );
}

#[test]
fn a_roster_of_nobody_is_refused() {
    let none = CrowdPlan { families: Vec::new(), ..plan(MATCHED, PULL, 1) };
    assert!(roster(&catalog(), none).is_err());
}
