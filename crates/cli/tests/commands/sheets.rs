//! Sheets of sets: all or nothing, by row and column, and safe to send again.

use std::fs;

use crate::program::Served;

const HEADER: &str = "athlete,training_date,set_number,rung,purpose,reps,planned_target,stop\n";
const GOOD: &str = "wren,2026-11-18,1,pull/pull-up,working,5,5,target\nwren,2026-11-18,2,pull/pull-up,working,4,5,strength\n";

fn send(served: &Served, text: &str, more: &[&str]) -> crate::program::Ended {
    let path = served.folder.path().join("week.csv");
    fs::write(&path, text).unwrap();
    served.run(&[&["record", "--roster", "hall", "--csv", path.to_str().unwrap()], more].concat())
}

fn kept(served: &Served) -> usize {
    let list = served.run(&["sets", "list", "hall/wren", "--json"]).json();
    list["sets"].as_array().map_or(0, Vec::len)
}

#[test]
fn a_sheet_is_recorded_and_again_changes_nothing() {
    let served = Served::with_wren();
    let checked = send(&served, &format!("{HEADER}{GOOD}"), &["--dry-run"]);
    assert_eq!((checked.page(), kept(&served)), ("2 sets of 1 athlete checked, nothing recorded\n", 0));
    for _ in 0..2 {
        let recorded = send(&served, &format!("{HEADER}{GOOD}"), &[]);
        assert_eq!((recorded.page(), kept(&served)), ("2 sets of 1 athlete recorded\n", 2));
    }
    let json = send(&served, &format!("{HEADER}{GOOD}"), &["--json"]).json();
    assert_eq!(json["athletes"][0]["athlete"], "rosters/hall/athletes/wren");
}

#[test]
fn a_cell_that_cannot_be_read_stops_the_whole_sheet() {
    let served = Served::with_wren();
    let bad =
        send(&served, &format!("{HEADER}{GOOD}wren,2026-11-18,3,pull/pull-up,working,five,5,target\n"), &[]);
    assert_eq!((bad.code, kept(&served)), (2, 0));
    assert!(
        bad.said().contains("row[4].reps: found `five`") && bad.said().contains("Nothing was sent"),
        "{}",
        bad.stderr
    );
}

#[test]
fn what_only_the_service_knows_is_named_by_row_too() {
    let served = Served::with_wren();
    let rows = "wren,2026-11-18,3,pull/pul-up,working,5,5,target\nwren,2026-12-24,1,pull/pull-up,working,400,5,target\n";
    let bad = send(&served, &format!("{HEADER}{GOOD}{rows}"), &[]);
    assert_eq!((bad.code, kept(&served)), (2, 0));
    for place in ["row[4].rung", "did you mean `pull/pull-up`", "row[5].training_date", "row[5].reps"] {
        assert!(bad.said().contains(place), "{place}: {}", bad.stderr);
    }
}

#[test]
fn a_set_recorded_before_with_other_content_is_named_by_row() {
    let served = Served::with_wren();
    send(&served, &format!("{HEADER}{GOOD}"), &[]).page();
    let bad = send(&served, &format!("{HEADER}{}", GOOD.replace(",4,5,", ",3,5,")), &[]);
    assert_eq!(bad.code, 2);
    assert!(
        bad.said().contains("row[3].reps: found `wren:2026-11-18:1:2`, recorded before"),
        "{}",
        bad.stderr
    );
}

#[test]
fn a_file_that_is_not_there_is_wrong_usage() {
    let served = Served::fresh();
    let missing = served.run(&["record", "--roster", "hall", "--csv", "no-such-file.csv"]);
    assert_eq!(missing.code, 2);
    assert!(missing.said().contains("no-such-file.csv cannot be read"), "{}", missing.stderr);
}
