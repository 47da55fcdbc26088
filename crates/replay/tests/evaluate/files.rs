//! Files: sheets good and bad.

use std::path::PathBuf;

use nextrung_replay::evaluate::selection::Exclusion;
use nextrung_replay::evaluate::source::{Source, SourceError, Traced};
use nextrung_replay::files::athletes_file;
use nextrung_replay::files::roster_files::{BadRows, BadSheet, RosterFiles};
use nextrung_replay::files::set_file::{self, SetFileError};
use nextrung_replay::simulate::crowd::{CrowdPlan, files, roster};
use nextrung_replay::simulate::world::PULL;
use tempfile::TempDir;

use super::scene::{catalog, data, named, replay};

const HEAD: &str = "athlete,training_date,set_number,rung,purpose,reps,planned_target,stop\n";

/// The only sheet of a folder.
fn sheet(folder: &TempDir, text: &str, bad_rows: BadRows) -> RosterFiles {
    let path = folder.path().join("sets.csv");
    std::fs::write(&path, text).unwrap();
    RosterFiles::new(path, std::collections::BTreeMap::new(), catalog(), bad_rows)
}

fn read(files: &RosterFiles) -> Result<Vec<Traced>, SourceError> {
    files.logs()?.collect()
}

#[test]
fn the_demo_roster_is_read_whole() {
    let profiles = std::fs::read_to_string(data().join("demo/athletes.toml")).unwrap();
    let profiles = athletes_file::read(&profiles, &catalog()).unwrap();
    assert_eq!(profiles.len(), 12);
    let files = RosterFiles::new(data().join("demo/sets.csv"), profiles, catalog(), BadRows::Refuse);
    let logs = read(&files).unwrap();
    assert_eq!(logs.len(), 12);
    assert_eq!(logs.iter().map(|t| t.log.events.len() - 1).sum::<usize>(), 6642);
}

#[test]
fn what_was_simulated_is_what_is_read_back_with_its_truth() {
    let plan =
        CrowdPlan { families: vec![named("gaps")], worlds: vec![PULL], athletes: 3, weeks: 6, seed: 4 };
    let roster = roster(&catalog(), plan).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let written = files::write(&roster, folder).unwrap();
    let profiles =
        athletes_file::read(&std::fs::read_to_string(folder.join("athletes.toml")).unwrap(), &catalog())
            .unwrap();
    let mut files = RosterFiles::new(folder.join("sets.csv"), profiles, catalog(), BadRows::Refuse);
    files.oracle = Some(folder.join("oracle.csv"));
    let logs = read(&files).unwrap();
    assert_eq!(logs.len(), 3);
    assert_eq!(logs.iter().map(|t| u64::try_from(t.truths.len()).unwrap()).sum::<u64>(), written.sets);
    let first = roster.athlete(0).unwrap();
    for set in &first.oracle {
        assert_eq!(logs[0].truths.get(&set.client_set_id), Some(&set.standing));
    }
    // A truth that belongs to somebody else is not taken for theirs.
    let oracle = std::fs::read_to_string(folder.join("oracle.csv"))
        .unwrap()
        .replace("athlete-0000001,", "athlete-0000009,");
    std::fs::write(folder.join("oracle.csv"), oracle).unwrap();
    let told = read(&files).unwrap_err().to_string();
    assert!(told.contains("found athlete-0000009; expected athlete-0000001"), "{told}");
}

#[test]
fn every_bad_row_is_told_or_left_out_and_counted() {
    let rows = "wren,2026-03-02,1,pull/pull-up,working,5,5,target\n\
                wren,2026-03-02,2,pull/pul-up,working,5,5,target\n\
                wren,2026-03-02,3,pull/pull-up,working,five,5,target\n\
                wren,2026-03-02,1,pull/pull-up,working,5,5,target\n\
                lark,2026-03-03,1,pull/pull-up,working,4,5,target\n\
                lark,2026-03-03,2,pull/pull-up,working,4,5,strength\n";
    let text = format!("{HEAD}{rows}");
    let folder = tempfile::tempdir().unwrap();
    let told = read(&sheet(&folder, &text, BadRows::Refuse)).unwrap_err();
    let BadSheet { refused } = told.downcast_ref::<BadSheet>().unwrap();
    assert_eq!(refused.rows, 4);
    let fields: Vec<&str> = refused.problems.iter().map(|p| p.field.as_str()).collect();
    for field in ["row[3].rung", "row[4].reps", "row[5].client_set_id", "row[6].stop"] {
        assert!(fields.contains(&field), "{field} is not among {fields:?}");
    }
    let suggestion = refused.problems.iter().find(|p| p.field == "row[3].rung").unwrap();
    assert!(suggestion.expected.contains("pull-up"), "{suggestion}");
    let files = sheet(&folder, &text, BadRows::LeaveOut);
    let replay = replay();
    let replay = nextrung_replay::evaluate::run::Replay { who: replay.who[..2].to_vec(), ..replay };
    let learned = replay.learn(&files, &mut |_| true).unwrap();
    let part = replay.score(&learned, &files, None, &mut |_| true).unwrap();
    assert_eq!((part.sets, part.excluded[&Exclusion::BadRow], part.tallies[0].sums.sets), (6, 4, 2));
}

#[test]
fn bad_rows_before_the_first_athlete_are_nobodys() {
    let folder = tempfile::tempdir().unwrap();
    let text = format!(
        "{HEAD}wren,someday,1,pull/pull-up,working,5,5,target\nlark,2026-03-03,1,pull/pull-up,working,5,5,target\n"
    );
    let logs = read(&sheet(&folder, &text, BadRows::LeaveOut)).unwrap();
    let told: Vec<(&str, usize, u64)> =
        logs.iter().map(|t| (t.log.athlete.as_str(), t.log.events.len(), t.left_out)).collect();
    assert_eq!(told.iter().map(|(_, _, left_out)| left_out).sum::<u64>(), 1);
    assert_eq!(told.last().map(|(athlete, events, _)| (*athlete, *events)), Some(("lark", 2)));
    assert!(read(&sheet(&folder, &text, BadRows::Refuse)).is_err());
}

#[test]
fn what_is_no_sheet_of_sets_is_said_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let told = |text: &str| read(&sheet(&folder, text, BadRows::LeaveOut)).unwrap_err().to_string();
    assert!(
        told("athlete,training_date,colour\nwren,2026-03-02,red\n").contains("header"),
        "{}",
        told("athlete\n")
    );
    let bare = told("athlete,training_date\nwren,2026-03-02\n");
    for column in ["set_number", "rung", "purpose", "stop", "the units done"] {
        assert!(bare.contains(column), "{column} is not told in {bare}");
    }
    assert!(told("").contains("found nothing"), "{}", told(""));
    let missing =
        RosterFiles::new(PathBuf::from("no-such-file.csv"), Default::default(), catalog(), BadRows::Refuse);
    assert!(read(&missing).is_err());
}

#[test]
fn a_long_sheet_is_read_athlete_by_athlete_and_a_scattered_one_refused() {
    let row = |athlete: &str, number: usize| {
        format!("{athlete},2026-03-02,{number},pull/pull-up,working,5,5,target\n")
    };
    let good = HEAD.to_owned() + &row("wren", 1) + &row("wren", 2) + &row("lark", 1);
    let bytes = |text: &str| std::io::Cursor::new(text.as_bytes().to_vec());
    let together: Vec<_> = set_file::together(bytes(&good)).map(Result::unwrap).collect();
    assert_eq!(together, set_file::gathered(bytes(&good)).unwrap());
    let scattered = good + &row("wren", 3);
    let told = set_file::together(bytes(&scattered)).find_map(Result::err);
    assert!(
        matches!(&told, Some(SetFileError::Scattered { row: 5, athlete }) if athlete == "wren"),
        "{told:?}"
    );
    assert_eq!(set_file::gathered(bytes(&scattered)).unwrap()[0].rows.len(), 3);
}
