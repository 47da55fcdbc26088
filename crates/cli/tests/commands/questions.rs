//! The coach's questions on the demo's invented athletes: every verb answers with a page, as JSON and, where it draws, as SVG.

use std::path::Path;

use serde_json::Value;

use crate::program::{Served, run};

/// The demo's database, served on its own day.
fn demo() -> Served {
    let folder = tempfile::tempdir().unwrap();
    run(&["demo", "--keep", folder.path().to_str().unwrap()]).page();
    Served::on(folder, "demo.db")
}

/// Runs a verb about an athlete of the demo for its page, its JSON and its picture.
fn asked(served: &Served, verb: &[&str], svg: bool) -> (String, Value) {
    let verb = [verb, &["--roster", "climbing-hall"]].concat();
    let page = served.run(&verb).page().to_owned();
    let json = served.run(&[&verb[..], &["--json"]].concat()).json();
    if svg {
        let path = served.folder.path().join("picture.svg");
        served.run(&[&verb[..], &["--svg", path.to_str().unwrap()]].concat()).page();
        assert_picture(&path, &page);
    }
    assert!(page.lines().all(|line| line.chars().count() <= 100), "lines fit a terminal: {page}");
    (page, json)
}

fn assert_picture(path: &Path, page: &str) {
    let svg = std::fs::read_to_string(path).unwrap();
    for part in ["<svg", "<title", "<desc", "role=\"img\"", "</svg>"] {
        assert!(svg.contains(part), "{part}");
    }
    let advice = "not medical advice";
    assert!(svg.contains(advice) || !page.contains(advice), "cautions go with the picture");
    assert!(
        !svg.contains("<script") && !svg.contains("http://www.w3.org/1999/xlink"),
        "nothing but a picture"
    );
    std::fs::remove_file(path).unwrap();
}

#[test]
fn every_question_is_answered_as_a_page_as_json_and_as_a_picture() {
    let served = demo();
    let (page, json) = asked(&served, &["review", "redstart", "--to", "2026-11-22"], true);
    assert!(page.contains("Change first\n") && page.contains("not medical advice"), "{page}");
    assert_eq!(json["findings"].as_array().unwrap().len(), 5);

    let (page, json) = asked(&served, &["gates", "redstart", "--date", "2026-11-22"], false);
    assert!(page.contains("hall coach, 2026-05-23"), "who confirmed what and when: {page}");
    assert_eq!(json["confirmations"].as_array().unwrap().len(), 3);

    let (page, json) = asked(&served, &["week", "redstart", "--start", "2026-11-23"], true);
    assert!(page.contains("\nWishes\n"), "{page}");
    assert_eq!(json["days"].as_array().unwrap().len(), 7);

    let (page, json) = asked(&served, &["trend", "wren", "--to", "2026-11-22"], true);
    assert!(page.contains("of 64 sets failed"), "{page}");
    assert!(!json["rungs"].as_array().unwrap().is_empty());

    let (page, json) = asked(&served, &["forecast", "wren", "--date", "2026-11-22"], true);
    assert!(page.contains("Training goes on as in the last 4 weeks"), "{page}");
    assert_eq!(json["lines"][0]["weeks"].as_array().unwrap().len(), 12);

    let made = served.run(&["prescriptions", "list", "climbing-hall/wren", "--json"]).json();
    let name = made["prescriptions"][0]["name"].as_str().unwrap().rsplit('/').next().unwrap().to_owned();
    let (page, json) = asked(&served, &["why", &format!("wren/{name}")], true);
    assert!(page.contains("What the next session could change\n"), "{page}");
    assert_eq!(json["turns"].as_array().unwrap().len(), 2);
}

#[test]
fn what_is_supposed_is_said_and_nothing_is_kept() {
    let served = demo();
    let before = served.run(&["sets", "list", "climbing-hall/wren", "--json"]).json();
    let suppose = ["suppose", "wren", "--date", "2026-11-23"];
    let did = ["--did", "pull/pull-up=12:target", "--did", "pull/one-arm-lowering=2:strength"];
    let (page, json) = asked(&served, &[&suppose[..], &did, &["--pause", "3"]].concat(), false);
    assert!(page.contains("A pause of 3 days: 2026-11-26 instead of 2026-11-23."), "{page}");
    assert_eq!(json["sentences"].as_array().unwrap().len(), 3);
    let (page, json) = asked(&served, &[&suppose[..], &["--insist", "pull/archer"]].concat(), false);
    assert!(page.contains("Insisting on archer pull-up."), "{page}");
    assert!(json["supposed"]["items"].to_string().contains("REASON_CODE_PINNED_BY_COACH"));
    assert_eq!(served.run(&["sets", "list", "climbing-hall/wren", "--json"]).json(), before);
}

#[test]
fn a_watcher_is_told_of_each_athlete() {
    let served = demo();
    let watch = ["watch", "wren", "plover", "--date", "2026-11-23", "--times", "2"];
    let told = served.run(&[&watch[..], &["--roster", "climbing-hall"]].concat());
    let lines: Vec<&str> = told.page().lines().filter(|line| !line.starts_with(' ')).collect();
    let day = "Monday 23 November 2026";
    assert_eq!(lines, [format!("climbing-hall/plover, {day}"), format!("climbing-hall/wren, {day}")]);
}

#[test]
fn what_cannot_be_asked_is_said_by_field() {
    let served = demo();
    let bad = ["review", "wren", "--to", "2026-11-22", "--from", "2026-11-23", "--rung", "pull/nowhere"];
    let refused = served.run(&[&bad[..], &["--roster", "climbing-hall"]].concat());
    assert_eq!(refused.code, 1);
    for part in ["start_date", "rung", "pull/nowhere"] {
        assert!(refused.said().contains(part), "{part}: {}", refused.stderr);
    }
    let missing = served.run(&["forecast", "climbing-hall/nobody", "--date", "2026-11-22"]);
    assert_eq!(missing.code, 1);
    let unwritable = ["week", "climbing-hall/wren", "--start", "2026-11-23", "--svg", "/nowhere/at/all.svg"];
    assert_eq!(served.run(&unwritable).code, 2);
}
