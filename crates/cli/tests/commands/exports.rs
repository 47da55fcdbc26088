//! Exports: a folder with everything, from which sets can be recorded again and lead to the same prescription.

use std::collections::BTreeSet;
use std::path::Path;

use serde_json::Value;

use crate::program::{Ended, Served};

const SHEET: &str = "athlete,training_date,session,set_number,rung,purpose,shadings,reps,hold_seconds,planned_target,stop,reps_in_reserve,rest_seconds,load_kg,body_mass_kg,tempo,pain,client_set_id,note
hall/wren,2026-11-16,1,1,pull/pull-up,working,,5,,5,target,2,,,61.5,31X1,,one,\"first, \"\"good\"\"\"
hall/wren,2026-11-16,1,2,pull/pull-up,working,,4,,5,strength,,180,2.5,,,1,two,
hall/wren,2026-11-18,1,1,pull/pull-up,working,,5,,5,target,,,,,,,three,=1+1
hall/wren,2026-11-18,1,2,pull/pull-up,working,,9,,5,target,,,,,,,four,
hall/wren,2026-11-20,1,1,pull/archer,attempt,,1,,2,strength,,,,,,,five,
hall/wren,2026-11-20,2,1,pull/pull-up,working,,5,,5,target,,,,,,,six,
";

fn read(folder: &Path, name: &str) -> String {
    std::fs::read_to_string(folder.join(name)).unwrap()
}

/// A prescription without what tells one athlete and moment from another.
fn bits(served: &Served, who: &str) -> Value {
    let asked = ["prescribe", who, "--date", "2026-11-23", "--dry-run", "--json"];
    let mut made = served.run(&asked).json();
    for own in ["issueTime", "logPosition", "name"] {
        made.as_object_mut().unwrap().remove(own);
    }
    made
}

fn trained() -> Served {
    let served = Served::with_wren();
    let sheet = served.folder.path().join("in.csv");
    std::fs::write(&sheet, SHEET).unwrap();
    served.run(&["record", "--csv", sheet.to_str().unwrap()]).page();
    let corrected = ["sets", "correct", "hall/wren/two", "--reps", "3", "--reason", "misread"];
    served.run(&corrected).page();
    served.run(&["sets", "withdraw", "hall/wren/four", "--reason", "not mine"]).page();
    served.run(&["athlete", "edit", "hall/wren", "--ban", "pull/one-foot-supported=left elbow"]).page();
    served.run(&["prescribe", "hall/wren", "--date", "2026-11-23"]).page();
    served
}

fn export(served: &Served, to: &Path) -> Ended {
    served.run(&["athlete", "export", "hall/wren", "--to", to.to_str().unwrap()])
}

#[test]
fn a_folder_holds_everything_and_its_sheet_leads_to_the_same_prescription() {
    let served = trained();
    let to = served.folder.path().join("out/wren");
    let told = export(&served, &to).page().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("10 events, 1 prescriptions, 0 keys, "), "{told}");
    #[cfg(unix)]
    {
        let mode = std::os::unix::fs::PermissionsExt::mode(&std::fs::metadata(&to).unwrap().permissions());
        assert_eq!(mode & 0o777, 0o700, "for its owner alone");
    }
    let names: BTreeSet<String> = std::fs::read_dir(&to)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    let wanted = ["athlete.json", "prescriptions.csv", "profile.csv", "sets.csv"].map(str::to_owned);
    assert_eq!(names, BTreeSet::from(wanted));
    assert_eq!(std::fs::read_dir(served.folder.path().join("out")).unwrap().count(), 1, "nothing beside it");
    let all: Value = serde_json::from_str(&read(&to, "athlete.json")).unwrap();
    assert_eq!(all["events"].as_array().unwrap().len(), 10);
    assert_eq!(all["events"][1]["recorded"]["note"], "first, \"good\"");
    assert_eq!(all["events"][7]["corrected"]["changeReason"], "misread");
    assert_eq!(all["events"][8]["withdrawn"]["reason"], "not mine");
    let kept = served.run(&["prescriptions", "list", "hall/wren", "--json"]).json();
    assert_eq!(all["prescriptions"], kept["prescriptions"]);
    assert_eq!(all["athlete"], served.run(&["athlete", "show", "hall/wren", "--json"]).json());
    assert_eq!(all["end"]["eventCount"], "10");
    tables(&to, &kept["prescriptions"][0]);
    again(&served, &to);
}

fn tables(to: &Path, made: &Value) {
    let sets = read(to, "sets.csv");
    assert_eq!(sets.lines().count(), 1 + 5, "{sets}");
    assert!(sets.contains("\"first, \"\"good\"\"\"") && !sets.contains(",four,"), "{sets}");
    let profile = read(to, "profile.csv");
    let ban = profile.lines().find(|line| line.starts_with("10,")).unwrap();
    assert!(ban.contains("limits") && ban.contains("left elbow"), "{profile}");
    assert!(profile.contains(",displayName,,Wren\n"), "{profile}");
    let prescriptions = read(to, "prescriptions.csv");
    let mut sentences = 0;
    for reason in
        made["items"].as_array().unwrap().iter().flat_map(|item| item["reasons"].as_array().unwrap())
    {
        let sentence = reason["sentence"].as_str().unwrap().replace('"', "\"\"");
        assert!(prescriptions.contains(&sentence), "{sentence}\n{prescriptions}");
        sentences += 1;
    }
    assert!(sentences > 0);
}

fn again(served: &Served, to: &Path) {
    let wren = ["athlete", "add", "hall/again", "--name", "Wren", "--goal", "pull/one-arm-pull-up"];
    let rest =
        ["--equipment", "bar,band,box", "--body-mass", "61.5", "--ban", "pull/one-foot-supported=left elbow"];
    served.run(&[&wren[..], &rest].concat()).page();
    let sheet = read(to, "sets.csv").replace("hall/wren,", "hall/again,");
    let path = served.folder.path().join("again.csv");
    std::fs::write(&path, sheet).unwrap();
    served.run(&["record", "--csv", path.to_str().unwrap()]).page();
    assert_eq!(bits(served, "hall/again"), bits(served, "hall/wren"));
    let known = |who: &str| {
        let mut known = served.run(&["capacity", who, "--json"]).json();
        assert!(known.as_object_mut().unwrap().remove("logPosition").is_some());
        known
    };
    assert_eq!(known("hall/again"), known("hall/wren"), "estimates too");
}

#[test]
fn a_folder_is_made_whole_or_not_at_all() {
    let served = trained();
    let to = served.folder.path().join("wren");
    std::fs::create_dir(&to).unwrap();
    let taken = export(&served, &to);
    assert_eq!(taken.code, 2);
    assert!(taken.said().contains("is there already"), "{}", taken.stderr);
    assert_eq!(std::fs::read_dir(&to).unwrap().count(), 0);
    let under_a_file = served.folder.path().join("hall.db/wren");
    let refused = export(&served, &under_a_file);
    assert_eq!(refused.code, 2, "{}", refused.stderr);
    let nobody = served.folder.path().join("nobody");
    let missing = served.run(&["athlete", "export", "hall/kite", "--to", nobody.to_str().unwrap()]);
    assert_eq!(missing.code, 1);
    assert!(!nobody.exists(), "nothing is left of what failed");
    let beside = std::fs::read_dir(served.folder.path()).unwrap();
    let names: Vec<String> = beside.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    assert!(names.iter().all(|name| !name.starts_with(".export-")), "{names:?}");
}
