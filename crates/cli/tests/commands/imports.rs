//! Imports of sheets of coaches' own making: CSV, xlsx and ods, once and again.

use crate::hall::{hall, line, mapped, of_corpus, path, put, read, sets, sheet};

/// Days and athletes said once, sets in a cell, a load with a decimal comma; two rows that are none of anybody's sets.
const LOG: &str = "\
Log of spring;;;;;
Date;Name;Exercise;Sets;Load;Notes
14.03.2026;Wren;Pull-ups;5 5 4 f;2,5;=felt + good
;;Push-ups;3x12;;
;lark ash;Pull-up;3/2;;
16.03.2026;wren;pull/pull-up;5 5;;
Date;Name;Exercise;Sets;Load;Notes
17.03.2026;LARK;Pull-up;4;;
";

#[test]
fn a_sheet_is_guessed_shown_saved_tried_recorded_and_again_changes_nothing() {
    let served = hall();
    let log = put(&served, "log.csv", LOG);
    let looked = sheet(&served, "map", &log, &[]);
    let page = line(looked.page());
    for part in [
        "header in row 2, 6 rows under it",
        "A Date date 14.03.2026",
        "D Sets sets 5 5 4 f",
        "numbers have a decimal comma, as in 1 cell",
        "pull-ups 1 pull/pull-up",
        "lark ash 1 lark",
        "what the sets were for",
        "--purpose working|attempt|practice|test|free",
        "how sets ended that do not say it",
        "Not saved. The same command with -o",
    ] {
        assert!(page.contains(part), "{part}: {}", looked.stdout);
    }
    let map = mapped(&served, &log, &[]);
    assert!(read(&served, "map.toml").contains("decimal = \"comma\""));

    let tried = sheet(&served, "import", &log, &["--map", &map, "--dry-run"]);
    let page = line(tried.page());
    for part in [
        "rows 7: 5 with 11 sets, 0 with problems",
        "days 2026-03-14 to 2026-03-17",
        "sets 11 new, 0 recorded already",
        "left out 1 row: above the header",
        "left out 1 row: the header again",
        "filled down 3 cells from above",
        "given purpose = working by the mapping, to 11 sets",
        "hall/wren 8",
        "hall/lark 3",
        "pull/pull-up 8",
        "Nothing was recorded.",
    ] {
        assert!(page.contains(part), "{part}: {}", tried.stdout);
    }
    assert!(sets(&served, "hall/wren").is_empty(), "a trial records nothing");

    let first = sheet(&served, "import", &log, &["--map", &map]);
    assert!(first.page().ends_with("\n11 new sets recorded, 0 known already.\n"), "{}", first.stdout);
    let wren = sets(&served, "hall/wren");
    assert_eq!((wren.len(), sets(&served, "hall/lark").len()), (8, 3));
    assert_eq!(wren[0]["clientSetId"], "wren:2026-03-14:1:1");
    assert_eq!((&wren[0]["loadKg"], &wren[0]["note"]), (&2.5.into(), &"=felt + good".into()));
    assert_eq!((&wren[2]["stop"], &wren[1]["stop"]), (&"STOP_FAILED".into(), &"STOP_OTHER".into()));
    let again = sheet(&served, "import", &log, &["--map", &map]);
    assert!(again.page().ends_with("\n0 new sets recorded, 11 known already.\n"), "{}", again.stdout);
    assert_eq!(sets(&served, "hall/wren"), wren, "nothing has changed");

    // A day more in the same sheet is that day more.
    let longer = put(&served, "log.csv", format!("{LOG}18.03.2026;wren;Pull-up;5;;\n"));
    let later = sheet(&served, "import", &longer, &["--map", &map]);
    assert!(later.page().ends_with("\n1 new set recorded, 11 known already.\n"), "{}", later.stdout);
}

#[test]
fn workbooks_come_in_by_the_same_way() {
    for book in ["plain_workbook.xlsx", "plain_document.ods"] {
        let served = hall();
        let file = of_corpus(book);
        let map = mapped(&served, &file, &[]);
        let done = sheet(&served, "import", &file, &["--map", &map]);
        assert!(done.page().ends_with("\n2 new sets recorded, 0 known already.\n"), "{}", done.stdout);
        let kept = sets(&served, "hall/wren");
        let reps: Vec<_> = kept.iter().map(|set| set["reps"].as_i64().unwrap()).collect();
        assert_eq!(
            (reps.as_slice(), kept[1]["clientSetId"].as_str()),
            (&[5, 4][..], Some("wren:2026-03-14:1:2"))
        );
    }
}

#[test]
fn a_workbook_of_several_sheets_asks_which_and_takes_each_by_one_mapping() {
    let served = hall();
    let file = of_corpus("two_sheets.xlsx");
    let asked = sheet(&served, "map", &file, &[]);
    assert_eq!(asked.code, 2);
    let said = asked.said();
    assert!(
        said.contains("the name of one") && said.contains("`Lark`") && said.contains("--sheet"),
        "{said}"
    );
    let map = mapped(&served, &file, &["--sheet", "Lark"]);
    let own = sheet(&served, "import", &file, &["--map", &map]);
    assert!(own.page().contains("sheet `Lark`, for hall"), "{}", own.stdout);
    let other = sheet(&served, "import", &file, &["--map", &map, "--sheet", "Log"]);
    assert!(other.page().contains("sheet `Log`, for hall"), "{}", other.stdout);
    assert_eq!(sets(&served, "hall/lark").len(), 1);
    assert!(!sets(&served, "hall/wren").is_empty());
}

#[test]
fn programs_get_the_same_as_data() {
    let served = hall();
    let log = put(&served, "log.csv", LOG);
    let guess = sheet(&served, "map", &log, &["--json"]).json();
    assert_eq!(guess["headerRow"], 2);
    assert_eq!(guess["columns"][3]["field"], "sets");
    assert_eq!(guess["questions"][0]["flag"], "--purpose working|attempt|practice|test|free");
    assert_eq!(guess["exercises"][1]["rung"], "pull/pull-up");
    assert!(guess["saved"].is_null() && guess["mapping"].as_str().unwrap().contains("[columns]"));
    let map = mapped(&served, &log, &[]);
    let tried = sheet(&served, "import", &log, &["--map", &map, "--dry-run", "--json"]).json();
    assert_eq!((&tried["sets"], &tried["newSets"], &tried["knownSets"]), (&11.into(), &11.into(), &0.into()));
    assert_eq!((&tried["firstDay"], &tried["lastDay"]), (&"2026-03-14".into(), &"2026-03-17".into()));
    assert_eq!(tried["athletes"][1]["athlete"], "wren");
    assert_eq!(tried["leftOut"].as_array().unwrap().len(), 2);
    assert!(tried["recorded"].is_null() && tried["findings"].as_array().unwrap().is_empty());
    let done = sheet(&served, "import", &log, &["--map", &map, "--json"]).json();
    assert_eq!(done["recorded"]["newSets"], 11);

    let bad = put(&served, "bad.csv", LOG.replace("5 5 4 f", "5-8"));
    let refused = sheet(&served, "import", &bad, &["--map", &map, "--json"]);
    assert_eq!(refused.code, 2);
    let told: serde_json::Value = serde_json::from_str(&refused.stdout).unwrap();
    let finding = &told["findings"][0];
    assert_eq!(
        (&finding["cell"], &finding["header"], &finding["count"]),
        (&"D3".into(), &"Sets".into(), &1.into())
    );
    assert!(finding["expected"].as_str().is_some_and(|text| !text.is_empty()), "{finding}");
    assert_eq!(told["badRows"], 1);
    assert_eq!(refused.error()["exitCode"], 2);
}

#[test]
fn a_mapping_is_not_replaced_unless_asked_and_is_judged_when_it_is_read() {
    let served = hall();
    let log = put(&served, "log.csv", LOG);
    let map = mapped(&served, &log, &[]);
    let mine = read(&served, "map.toml");
    let taken = sheet(&served, "map", &log, &["-o", &map]);
    assert_eq!((taken.code, read(&served, "map.toml")), (2, mine.clone()));
    assert!(
        taken.said().contains("is there already") && taken.said().contains("--replace"),
        "{}",
        taken.stderr
    );
    put(&served, "map.toml", mine.replace("layout", "layuot"));
    let wrong = sheet(&served, "import", &log, &["--map", &map]);
    assert_eq!(wrong.code, 2);
    assert!(wrong.said().contains("layuot: found a key nobody reads"), "{}", wrong.stderr);
    let missing = sheet(&served, "import", &log, &["--map", &path(&served, "no.toml")]);
    assert!(missing.code == 2 && missing.said().contains("nextrung sheet map"), "{}", missing.stderr);
}
