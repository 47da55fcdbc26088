//! Files: a roster written as files says the same as the roster.

use std::path::{Path, PathBuf};

use nextrung_domain::ability::AbilityKind;
use nextrung_replay::athlete_log::standing;
use nextrung_replay::simulate::crowd::files::{draft, write};
use nextrung_replay::simulate::crowd::foretold::ending;
use nextrung_replay::simulate::crowd::{CrowdPlan, SimulatedAthlete, roster};
use nextrung_replay::simulate::family::{GAPS, HEAVY_TAILS, OWN_CHOICE};
use nextrung_replay::simulate::noise::Noise;
use nextrung_replay::simulate::standing::{Demanded, Standing};
use nextrung_replay::simulate::world::{PRESS, PULL};
use nextrung_sheet::read_sets;

use crate::scene::{catalog, plan};

/// A roster of nine, and the folder that holds it as files.
fn written(folder: &str) -> (Vec<SimulatedAthlete>, PathBuf) {
    let plan = CrowdPlan {
        families: vec![GAPS, HEAVY_TAILS, OWN_CHOICE],
        worlds: vec![PULL, PRESS],
        weeks: 6,
        ..plan(GAPS, PULL, 9)
    };
    let roster = roster(&catalog(), plan).unwrap();
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(folder);
    let written = write(&roster, &folder).unwrap();
    let athletes: Vec<SimulatedAthlete> = roster.athletes().map(Result::unwrap).collect();
    let sets: usize = athletes.iter().map(|a| a.oracle.len()).sum();
    assert_eq!((written.athletes, written.sets), (9, u64::try_from(sets).unwrap()));
    assert!(written.performed > written.sets, "some were never told");
    (athletes, folder)
}

#[test]
fn the_sheet_holds_the_sets_as_they_stand_by_athlete_and_arrival() {
    let (athletes, folder) = written("crowd-sheet");
    let rows = read_sets(&std::fs::read(folder.join("sets.csv")).unwrap()).unwrap();
    let mut rows = rows.into_iter();
    for athlete in &athletes {
        for set in standing(&athlete.log.events) {
            let row = rows.next().unwrap();
            assert_eq!((row.athlete.as_str(), row.draft), (athlete.log.athlete.as_str(), draft(set)));
        }
    }
    assert!(rows.next().is_none());
}

#[test]
fn the_file_of_athletes_has_the_form_of_the_demo_rosters() {
    let (athletes, folder) = written("crowd-people");
    let text = std::fs::read_to_string(folder.join("athletes.toml")).unwrap();
    let file: toml::Table = text.parse().unwrap();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data/demo/athletes.toml");
    let demo: toml::Table = std::fs::read_to_string(demo).unwrap().parse().unwrap();
    let keys = |table: &toml::Table| table.keys().cloned().collect::<Vec<String>>();
    assert_eq!(keys(&file), keys(&demo));
    assert_eq!(keys(file["roster"].as_table().unwrap()), keys(demo["roster"].as_table().unwrap()));
    let known: Vec<String> =
        demo["athlete"].as_array().unwrap().iter().flat_map(|a| keys(a.as_table().unwrap())).collect();
    let listed = file["athlete"].as_array().unwrap();
    assert_eq!(listed.len(), athletes.len());
    for (one, athlete) in listed.iter().zip(&athletes) {
        assert_eq!(one["id"].as_str(), Some(athlete.log.athlete.as_str()));
        assert_eq!(one["goals"][0].as_str(), Some(athlete.world.goal));
        assert!(keys(one.as_table().unwrap()).iter().all(|key| known.contains(key)), "{one:?}");
        assert_eq!(one["clearance"].as_array().map(Vec::len), Some(3));
    }
}

#[test]
fn every_distribution_can_be_made_anew_from_its_row() {
    let (athletes, folder) = written("crowd-oracle");
    let mut reader = csv::Reader::from_path(folder.join("oracle.csv")).unwrap();
    let mut rows = reader.records().map(Result::unwrap);
    for athlete in &athletes {
        for set in standing(&athlete.log.events) {
            let row = rows.next().unwrap();
            assert_eq!((&row[0], &row[1]), (athlete.log.athlete.as_str(), set.client_set_id.as_str()));
            let oracle = athlete.oracle.iter().find(|o| o.client_set_id == set.client_set_id).unwrap();
            let mut standing = Standing::new(Noise::from_word(&row[5]).unwrap(), row[6].parse().unwrap());
            for word in row[8].split(' ') {
                let parts: Vec<&str> = word.split(':').collect();
                let kind = AbilityKind::ALL.into_iter().find(|k| k.word() == parts[0]).unwrap();
                let (eta, scale) = (parts[1].parse().unwrap(), parts[2].parse().unwrap());
                standing.push(Demanded { kind, eta, scale });
            }
            let endings = standing.endings(row[7].parse().unwrap()).unwrap();
            assert_eq!(endings, oracle.endings, "the same bits");
            let chance: f64 = row[4].parse().unwrap();
            assert_eq!(chance.to_bits(), endings.of(ending(set)).unwrap().to_bits());
        }
    }
    assert!(rows.next().is_none());
}
