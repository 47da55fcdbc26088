//! Every verb of a client, once, in the order of an athlete's first week.

use crate::program::Served;

fn record(served: &Served, set: &str, reps: &str, stop: &str) -> String {
    let set = [
        "record",
        "hall/wren",
        "--date",
        "2026-11-20",
        "--set",
        set,
        "--rung",
        "pull/pull-up",
        "--reps",
        reps,
    ];
    served.run(&[&set[..], &["--target", "5", "--stop", stop, "--rest", "180"]].concat()).page().to_owned()
}

#[test]
fn rosters_and_athletes_are_added_changed_and_shown() {
    let served = Served::with_wren();
    assert!(served.run(&["roster", "list"]).page().contains("hall    The hall"));
    assert!(served.run(&["roster", "show", "hall"]).page().starts_with("hall: The hall\n"));
    let list = served.run(&["athlete", "list", "hall"]);
    assert!(list.page().contains("hall/wren  Wren  pull/one-arm-pull-up"), "{}", list.stdout);

    let edit = ["athlete", "edit", "hall/wren", "--ban", "pull/archer=elbow", "--max-pain", "2"];
    assert!(served.run(&edit).page().contains("banned     Archer pull-up [pull/archer]: elbow"));
    let edit = ["athlete", "edit", "wren", "--roster", "hall", "--unban", "pull/archer", "--days", "mon,fri"];
    let shown = served.run(&edit);
    assert!(!shown.page().contains("banned") && shown.page().contains("mon, fri"), "{}", shown.stdout);
    let athlete = served.run(&["athlete", "show", "hall/wren", "--json"]).json();
    assert_eq!(athlete["limits"]["maxPain"], 2);
    assert_eq!(athlete["displayName"], "Wren");
    assert_eq!(athlete["bodyMassKg"], 61.5);
}

#[test]
fn sets_are_recorded_once_corrected_and_withdrawn() {
    let served = Served::with_wren();
    let first = record(&served, "1", "5", "target");
    assert_eq!(first, "hall/wren/wren:2026-11-20:1:1 recorded\n");
    assert_eq!(record(&served, "1", "5", "target"), first, "the same set again changes nothing");
    record(&served, "2", "4", "strength");
    let dry = ["record", "hall/wren", "--date", "2026-11-20", "--set", "3", "--rung", "pull/pull-up"];
    let dry = served.run(&[&dry[..], &["--reps", "3", "--stop", "failed", "--dry-run"]].concat());
    assert!(dry.page().contains("nothing recorded"));

    let set = "hall/wren/wren:2026-11-20:1:2";
    let corrected = ["sets", "correct", set, "--reps", "3", "--pain", "1", "--reason", "miscounted"];
    assert!(served.run(&corrected).page().contains("(corrected: miscounted)"));
    let sets = served.run(&["sets", "list", "hall/wren", "--json"]).json();
    assert_eq!(sets["sets"].as_array().unwrap().len(), 2);
    assert_eq!(sets["sets"][1]["reps"], 3);
    assert_eq!(sets["sets"][1]["stop"], "STOP_STRENGTH", "what no flag names stays");
    assert_eq!(sets["sets"][1]["restSeconds"], 180);

    served.run(&["sets", "withdraw", set, "--reason", "another athlete's"]).page();
    let left = served.run(&["sets", "list", "hall/wren", "--json"]).json();
    assert_eq!(left["sets"].as_array().unwrap().len(), 1);
    let all = served.run(&["sets", "list", "hall/wren", "--withdrawn"]);
    assert!(all.page().contains("(withdrawn: another athlete's)"), "{}", all.stdout);
}

#[test]
fn a_day_is_prescribed_explained_and_found_again() {
    let served = Served::with_wren();
    for set in ["1", "2", "3", "4"] {
        record(&served, set, "5", "target");
    }
    let looked = served.run(&["prescribe", "hall/wren", "--date", "2026-11-23", "--dry-run"]);
    assert!(looked.page().contains("not kept"), "{}", looked.stdout);
    let made = served.run(&["prescribe", "hall/wren", "--date", "2026-11-23"]);
    assert!(made.page().starts_with("hall/wren, Monday 23 November 2026: "), "{}", made.stdout);
    assert!(made.page().contains("Cautions\n  - General training information, not medical advice."));
    let name = made.stderr.trim().strip_prefix("Why: nextrung why ").unwrap().to_owned();

    assert!(
        served
            .run(&["why", &name])
            .page()
            .starts_with("Why hall/wren got this for Monday 23 November 2026\n")
    );
    let why = served.run(&["why", &name, "--json"]).json();
    assert_eq!(why["prescription"]["date"]["day"], 23);
    let list = served.run(&["prescriptions", "list", "hall/wren", "--json"]).json();
    let kept = list["prescriptions"].as_array().unwrap();
    assert_eq!(kept.len(), 1, "a look is not kept");
    let shown = served.run(&["prescriptions", "show", &name]);
    assert_eq!(shown.page(), made.page(), "shown as it was issued");
}

#[test]
fn capacities_and_ladders_are_shown() {
    let served = Served::with_wren();
    record(&served, "1", "5", "strength");
    let capacity = ["capacity", "hall/wren", "--ladder", "pull", "--date", "2026-11-23"];
    assert!(served.run(&capacity).page().contains("Pull-up to one-arm pull-up\n  rung "));
    let json = served.run(&[&capacity[..], &["--json"]].concat()).json();
    assert_eq!(json["rungs"][0]["intervals"][1]["level"], 0.8);
    assert!(served.run(&["ladders", "list"]).page().contains("front-lever"));
    assert!(served.run(&["ladders", "show", "pull"]).page().contains("one-arm-pull-up"));
    let ladders = served.run(&["ladders", "list", "--json"]).json();
    assert!(ladders["ladders"].as_array().unwrap().len() >= 12);
}

#[test]
fn a_ladder_file_is_checked() {
    let served = Served::fresh();
    let sound = concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/ladders/pull.toml");
    assert!(served.run(&["ladders", "check", sound]).page().ends_with("pull.toml is sound\n"));
    let text = std::fs::read_to_string(sound).unwrap().replacen("unit = \"reps\"", "unit = \"rep\"", 1);
    let faulty = served.folder.path().join("faulty.toml");
    std::fs::write(&faulty, text).unwrap();
    let checked = served.run(&["ladders", "check", faulty.to_str().unwrap()]);
    assert_eq!(checked.code, 2);
    assert!(checked.said().contains("faulty.toml:") && checked.said().contains("unit"), "{}", checked.stderr);
}

#[test]
fn the_service_drains_when_it_is_asked_to_end() {
    let mut served = Served::with_wren();
    assert_eq!(served.terminate(), 0);
    assert_eq!(served.run(&["roster", "list"]).code, 3);
}
