//! What sheets leave to be said: questions, their flags, and athletes nobody knows.

use crate::hall::{hall, line, mapped, of_corpus, path, put, read, sets, sheet};
use crate::program::run;

const HEADER: &str = "Date,Name,Exercise,Reps\n";

#[test]
fn a_first_import_asks_then_shows_and_records_only_when_told() {
    let served = hall();
    let log = put(&served, "log.csv", format!("{HEADER}2026-03-14,Wren,Pull-up,5\n"));
    let asked = sheet(&served, "import", &log, &[]);
    assert_eq!(asked.code, 2);
    assert!(asked.stdout.contains("To be said"), "the guess is shown: {}", asked.stdout);
    for part in ["leaves 2 things to be said", "Nothing was sent", "nextrung sheet map", "log.toml"] {
        assert!(asked.said().contains(part), "{part}: {}", asked.stderr);
    }
    let answers = ["--purpose", "working", "--stop", "other"];
    let looked = sheet(&served, "import", &log, &answers);
    assert!(looked.page().contains("Nothing was recorded."), "{}", looked.stdout);
    assert!(looked.said().contains("--as-guessed records it"), "{}", looked.stderr);
    assert!(sets(&served, "hall/wren").is_empty());
    let done = sheet(&served, "import", &log, &[&answers[..], &["--as-guessed"]].concat());
    assert!(done.page().ends_with("\n1 new set recorded, 0 known already.\n"), "{}", done.stdout);
    assert_eq!(sets(&served, "hall/wren").len(), 1);
}

#[test]
fn days_of_two_readings_are_asked_for_and_read_as_told() {
    let served = hall();
    let file = of_corpus("open_days.csv");
    let asked = sheet(&served, "map", &file, &[]);
    let page = line(asked.page());
    assert!(page.contains("`03/04/2026` in A2 and 1 more can be read either way"), "{page}");
    assert!(page.contains("--day-order day-month-year|month-day-year"), "{page}");
    for (order, day) in [("day-month-year", 3), ("month-day-year", 4)] {
        let served = hall();
        let map = mapped(&served, &file, &["--day-order", order]);
        sheet(&served, "import", &file, &["--map", &map]).page();
        let first = &sets(&served, "hall/wren")[0]["trainingDate"];
        assert_eq!((&first["day"], &first["month"]), (&day.into(), &(7 - day).into()), "{order}");
    }
}

#[test]
fn words_nobody_knows_are_asked_for_and_said_by_flags() {
    let served = hall();
    let rows = "2026-03-14,Wren,Chins,5\n2026-03-14,Wren,Warm-up,1\n2026-03-15,Sam,Pull-up,3\n2026-03-15,Wrenn,Pull-up,2\n";
    let log = put(&served, "log.csv", format!("{HEADER}{rows}"));
    let asked = sheet(&served, "map", &log, &[]);
    let page = line(asked.page());
    for part in [
        "what `chins` means, 1 row",
        "--exercise chins=LADDER/RUNG",
        "--exercise warm-up=LADDER/RUNG",
        "who `sam` is: sam-o or sam-p; say which",
        "--who sam=ATHLETE",
        "who `wrenn` is: an athlete of the roster",
        "did you mean `wren`?",
        "sam 1 to be said",
    ] {
        assert!(page.contains(part), "{part}: {}", asked.stdout);
    }
    let said = [
        "--exercise",
        "Chins=pull/pull-up",
        "--exercise",
        "warm-up=",
        "--who",
        "SAM=sam-p",
        "--who",
        "wrenn=wren",
    ];
    let map = mapped(&served, &log, &said);
    assert!(!read(&served, "map.toml").contains("To be said"), "{}", read(&served, "map.toml"));
    let done = sheet(&served, "import", &log, &["--map", &map]);
    assert!(
        line(done.page()).contains("left out 1 row: exercises that the mapping leaves out"),
        "{}",
        done.stdout
    );
    assert_eq!((sets(&served, "hall/wren").len(), sets(&served, "hall/sam-p").len()), (2, 1));
    assert!(sets(&served, "hall/sam-o").is_empty());
}

#[test]
fn athletes_nobody_knows_stop_an_import_at_their_cells() {
    let served = hall();
    let log = put(&served, "log.csv", format!("{HEADER}2026-03-14,Wren,Pull-up,5\n"));
    let map = mapped(&served, &log, &[]);
    let rows = "2026-03-14,Wren,Pull-up,5\n2026-03-15,Sam,Pull-up,3\n2026-03-15,Larc,Pull-up,2\n2026-03-16,Larc,Pull-up,2\n";
    put(&served, "log.csv", format!("{HEADER}{rows}"));
    let refused = sheet(&served, "import", &log, &["--map", &map]);
    assert_eq!(refused.code, 2);
    let page = line(&refused.stdout);
    for part in [
        "log.csv, B3 (Name) found `Sam` expected who `sam` is: sam-o or sam-p; say which under [athletes] in the mapping",
        "log.csv, B4 (Name) and 1 more (B5) found `Larc` expected who `larc` is: an athlete of the roster",
        "did you mean `lark`?",
    ] {
        assert!(page.contains(part), "{part}: {}", refused.stdout);
    }
    assert!(refused.said().contains("3 rows have problems"), "{}", refused.stderr);
    assert!(sets(&served, "hall/wren").is_empty(), "all or nothing");
    let wrong = read(&served, "map.toml") + "\n[athletes]\n\"sam\" = \"sam-q\"\n\"larc\" = \"lark\"\n";
    put(&served, "map.toml", wrong);
    let refused = sheet(&served, "import", &log, &["--map", &map]);
    let page = line(&refused.stdout);
    assert!(page.contains("found `Sam`, `sam-q` by the mapping") && !page.contains("Larc"), "{page}");
}

#[test]
fn columns_may_be_named_and_a_sheet_may_be_of_one_athlete() {
    let served = hall();
    let log = put(&served, "log.csv", "Date,Exercise,Mood\n2026-03-14,Pull-up,5\n");
    let page = line(sheet(&served, "map", &log, &[]).page());
    for part in ["--column sets=HEADER", "--athlete ATHLETE", "explains: Mood"] {
        assert!(page.contains(part), "{part}: {page}");
    }
    let map = mapped(&served, &log, &["--column", "reps=Mood", "--athlete", "Lark Ash"]);
    sheet(&served, "import", &log, &["--map", &map]).page();
    assert_eq!(sets(&served, "hall/lark")[0]["clientSetId"], "lark:2026-03-14:1:1");
    sheet(&served, "import", &log, &["--map", &map, "--athlete", "wren"]).page();
    assert_eq!(sets(&served, "hall/wren").len(), 1);
}

#[test]
fn columns_of_other_words_are_named_and_then_looked_into_like_any() {
    let served = hall();
    let text = "Training\nTag;Wer;Ding;Mood;Gewicht\n03/04/2026;WREN;Klimmzug;5;2,5\n";
    let log = put(&served, "log.csv", text);
    let asked = sheet(&served, "map", &log, &[]);
    assert_eq!(asked.code, 2);
    for part in ["found no row of headers", "--column date=HEADER --column exercise=HEADER"] {
        assert!(asked.said().contains(part), "{part}: {}", asked.stderr);
    }
    let mut named = vec!["--column", "date=tag", "--column", "athlete=Wer", "--column", "exercise=C"];
    named.extend(["--column", "reps=Mood", "--column", "load=E"]);
    let page = line(sheet(&served, "map", &log, &named).page());
    for part in [
        "header in row 2, 1 row under it",
        "`03/04/2026` in A3 can be read either way",
        "numbers have a decimal comma, as in 1 cell",
        "klimmzug 1 to be said",
        "wren 1 wren",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    named.extend(["--day-order", "day-month-year", "--exercise", "klimmzug=pull/pull-up"]);
    let map = mapped(&served, &log, &named);
    sheet(&served, "import", &log, &["--map", &map]).page();
    let set = &sets(&served, "hall/wren")[0];
    assert_eq!(
        (&set["reps"], &set["loadKg"], &set["trainingDate"]["month"]),
        (&5.into(), &2.5.into(), &4.into())
    );
    let wrong = ["--column", "date=Tage", "--column", "reps=Mood", "--column", "load=Gewicht"];
    let missed = sheet(&served, "map", &log, &wrong);
    assert_eq!(missed.code, 2);
    assert!(missed.said().contains("found no column `Tage`"), "{}", missed.stderr);
    assert!(missed.said().contains("did you mean `Tag`?"), "{}", missed.stderr);
}

#[test]
fn older_letters_are_read_when_told() {
    let served = hall();
    let log = put(&served, "log.csv", b"Date,Name,Exercise,Reps,Notes\n2026-03-14,wren,Pull-up,5,caf\xE9\n");
    let asked = sheet(&served, "map", &log, &[]);
    assert!(asked.code == 2 && asked.said().contains("--encoding windows-1252"), "{}", asked.stderr);
    let map = mapped(&served, &log, &["--encoding", "windows-1252"]);
    sheet(&served, "import", &log, &["--map", &map]).page();
    assert_eq!(sets(&served, "hall/wren")[0]["note"], "café");
}

#[test]
fn wrong_usage_says_what_is_missing() {
    let served = hall();
    let log = put(&served, "log.csv", HEADER);
    let nobody = served.run(&["sheet", "import", &log]);
    assert!(nobody.code == 2 && nobody.said().contains("--roster"), "{}", nobody.stderr);
    let elsewhere = served.run(&["sheet", "import", &log, "--roster", "nowhere"]);
    assert_eq!(elsewhere.code, 1, "{}", elsewhere.stderr);
    let missing = sheet(&served, "import", &path(&served, "no.csv"), &[]);
    assert!(missing.code == 2 && missing.said().contains("no.csv cannot be read"), "{}", missing.stderr);
    let twice = sheet(&served, "import", &log, &["--map", "m.toml", "--purpose", "working"]);
    assert!(twice.code == 2 && twice.said().contains("cannot be used with"), "{}", twice.stderr);
    for verb in ["map", "import"] {
        let help = run(&["sheet", verb, "--help"]);
        assert!(help.page().contains("Examples:\n  nextrung sheet "), "{}", help.stdout);
    }
}

#[test]
fn a_trial_by_a_guess_records_nothing_whatever_else_is_said() {
    let served = hall();
    let log = put(&served, "log.csv", format!("{HEADER}2026-03-14,Wren,Pull-up,5\n"));
    let said = ["--purpose", "working", "--stop", "other", "--as-guessed", "--dry-run"];
    let tried = sheet(&served, "import", &log, &said);
    assert!(tried.page().contains("Nothing was recorded."), "{}", tried.stdout);
    assert!(sets(&served, "hall/wren").is_empty());
}

#[test]
fn only_what_is_asked_about_can_be_left_unread() {
    let served = hall();
    let rows = "Date,Name,Exercise,Reps,Weight (% of body)\n2026-03-14,Wren,Pull-up,5,10\n";
    let log = put(&served, "log.csv", rows);
    let known = ["--purpose", "working", "--stop", "other"];
    let with = |titles: &[&str]| {
        let flags: Vec<&str> = titles.iter().flat_map(|title| ["--unread", *title]).collect();
        sheet(&served, "map", &log, &[&known[..], &flags].concat())
    };
    assert!(with(&[]).page().contains("--unread 'Weight (% of body)'"));
    assert!(!with(&["Weight (% of body)"]).page().contains("To be said"));
    let wrong = with(&["Reps", "weight"]);
    assert_eq!(wrong.code, 2, "{}", wrong.stderr);
    for part in ["nothing is asked about `Reps`, `weight`", "Asked about are `Weight (% of body)`"] {
        assert!(wrong.said().contains(part), "{part}: {}", wrong.stderr);
    }
    let plain = put(&served, "plain.csv", format!("{HEADER}2026-03-14,Wren,Pull-up,5\n"));
    let none = sheet(&served, "map", &plain, &["--unread", "Reps"]);
    assert!(none.code == 2 && none.said().contains("are not read anyway"), "{}", none.stderr);
}
