//! What is wrong with a sheet: found here or by the service, told at its cell, set aside, mended, and imported after all.

use std::process::Stdio;
use std::time::{Duration, Instant};

use crate::hall::{hall, line, mapped, of_corpus, path, put, read, sets, sheet};
use crate::program::{Served, program, run};

const HEADER: &str = "Date;Name;Exercise;Sets;Load;Notes\n";
const ROWS: &str = "\
14.03.2026;wren;pull-up;5 5;2,5;first
;;pull-up;4-5;;\"says; fine\"
;;pull-up;3;;
14.03.2026;lark;pull-up;2 2;;
15.03.2026;wren;pull-up;5 4 f;;=1+1
";

fn told(ended: &crate::program::Ended, parts: &[&str]) {
    let page = line(&ended.stdout);
    for part in parts {
        assert!(page.contains(part), "{part}: {}\n{}", ended.stdout, ended.stderr);
    }
}

fn ids(served: &Served, athlete: &str) -> Vec<String> {
    sets(served, athlete).iter().map(|set| set["clientSetId"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn bad_rows_stop_everything_or_are_set_aside_with_their_session_and_come_back() {
    let served = hall();
    let log = put(&served, "log.csv", format!("{HEADER}{}", ROWS.replace("4-5", "4 5")));
    let map = mapped(&served, &log, &[]);
    put(&served, "log.csv", format!("{HEADER}{ROWS}"));
    let stopped = sheet(&served, "import", &log, &["--map", &map]);
    assert_eq!(stopped.code, 2);
    told(
        &stopped,
        &[
            "log.csv, D3 (Sets) found `-`",
            "sessions 1 with bad rows, 3 sound sets beside them",
            "Nothing was recorded.",
        ],
    );
    assert!(
        stopped.said().contains("1 row has a problem") && stopped.said().contains("--set-aside"),
        "{}",
        stopped.stderr
    );
    assert!(ids(&served, "hall/wren").is_empty() && ids(&served, "hall/lark").is_empty());

    let rejected = path(&served, "rejected.csv");
    let aside = ["--map", &map, "--set-aside", &rejected];
    let tried = sheet(&served, "import", &log, &[&aside[..], &["--dry-run"]].concat());
    assert!(tried.page().contains("4 new, 0 recorded already"), "{}", tried.stdout);
    assert!(std::fs::read(&rejected).is_err(), "a trial writes nothing");
    let done = sheet(&served, "import", &log, &aside);
    assert_eq!(done.code, 0, "{}", done.stderr);
    told(&done, &["4 new sets recorded", "3 rows set aside in"]);
    assert_eq!(ids(&served, "hall/wren"), ["wren:2026-03-15:1:1", "wren:2026-03-15:1:2"]);
    let text = read(&served, "rejected.csv");
    assert_eq!(text.lines().count(), 4, "the header and the whole session: {text}");
    let again = sheet(&served, "import", &log, &aside);
    assert!(again.code == 2 && again.said().contains("is there already"), "{}", again.stderr);
    assert_eq!(read(&served, "rejected.csv"), text);

    put(&served, "rejected.csv", text.replace("4-5", "4 5"));
    let mended = sheet(&served, "import", &rejected, &["--map", &map]);
    told(&mended, &["5 new sets recorded"]);
    put(&served, "log.csv", format!("{HEADER}{}", ROWS.replace("4-5", "4 5")));
    let whole = sheet(&served, "import", &log, &["--map", &map]);
    told(&whole, &["0 new sets recorded, 9 known already."]);
    let left: Vec<String> = std::fs::read_dir(served.folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.starts_with(".nextrung-"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn what_the_service_finds_is_told_at_its_cell_and_may_be_set_aside_too() {
    let served = hall();
    // Lark has no body mass, which a load asks for; the last day is still to come.
    let rows = "14.03.2026;wren;pull-up;5 5;2,5;\n14.03.2026;lark;pull-up;4;;\n;lark;pull-up;5 4;2,5;\n01.12.2026;wren;pull-up;5;;\n";
    let log = put(&served, "log.csv", format!("{HEADER}{rows}"));
    let map = mapped(&served, &log, &["--day-order", "day-month-year"]);
    let refused = sheet(&served, "import", &log, &["--map", &map]);
    assert_eq!(refused.code, 2);
    told(
        &refused,
        &["log.csv, E4 (Load)", "log.csv, A5 (Date) found", "rows 4: 2 with 3 sets, 2 with problems"],
    );
    assert!(
        refused.said().contains("2 rows have problems") && ids(&served, "hall/wren").is_empty(),
        "{}",
        refused.stderr
    );
    let rejected = path(&served, "rejected.csv");
    let done = sheet(&served, "import", &log, &["--map", &map, "--set-aside", &rejected]);
    told(&done, &["2 new sets recorded", "3 rows set aside in"]);
    assert_eq!((ids(&served, "hall/wren").len(), ids(&served, "hall/lark").len()), (2, 0));
    let mended = read(&served, "rejected.csv").replace("5 4;2,5", "5 4;").replace("01.12.2026", "01.11.2026");
    put(&served, "rejected.csv", mended);
    told(&sheet(&served, "import", &rejected, &["--map", &map]), &["4 new sets recorded"]);
    assert_eq!(
        ids(&served, "hall/lark"),
        ["lark:2026-03-14:1:1", "lark:2026-03-14:1:2", "lark:2026-03-14:1:3"]
    );
}

#[test]
fn what_the_service_finds_under_a_day_is_told_at_its_cell_and_the_other_days_are_recorded() {
    let served = hall();
    // The last day is still to come.
    let rows = "Name;Exercise;14.03.2026;16.03.2026;01.12.2026\nwren;pull-up;5 5;6;5\n;push-up;3x12;;12\n";
    let log = put(&served, "log.csv", rows);
    let map = mapped(&served, &log, &[]);
    assert!(read(&served, "map.toml").contains("layout = \"days-across\""));
    let refused = sheet(&served, "import", &log, &["--map", &map]);
    assert_eq!(refused.code, 2);
    let cells = "rows 2, of their cells under days: 3 with 6 sets, 2 with problems";
    told(&refused, &["log.csv, E2 (01.12.2026) and 1 more (E3) found 2026-12-01", cells]);
    let rejected = path(&served, "rejected.csv");
    let done = sheet(&served, "import", &log, &["--map", &map, "--set-aside", &rejected]);
    told(&done, &["6 new sets recorded", "2 rows set aside in"]);
    let text = read(&served, "rejected.csv");
    assert_eq!(text, "Name;Exercise;14.03.2026;16.03.2026;01.12.2026\nwren;pull-up;;;5\nwren;push-up;;;12\n");
    put(&served, "rejected.csv", text.replace("01.12.2026", "01.11.2026"));
    told(&sheet(&served, "import", &rejected, &["--map", &map]), &["2 new sets recorded"]);
    assert_eq!(ids(&served, "hall/wren").len(), 8);
}

#[test]
fn a_block_that_was_pasted_twice_is_told_before_it_is_recorded() {
    let served = hall();
    let log = of_corpus("pasted_twice.csv");
    let map = mapped(&served, &log, &[]);
    let trial = ["--map", &map, "--dry-run"];
    told(
        &sheet(&served, "import", &log, &trial),
        &["said again rows 6 to 9 say what rows 2 to 5 say; pasted twice? they count as further sets"],
    );
    let json = sheet(&served, "import", &log, &[&trial[..], &["--json"]].concat()).json();
    assert_eq!(json["again"], serde_json::json!([{ "rows": [6, 9], "like": [2, 5] }]));
}

/// The commands that a page tells to correct sets, each on one line.
fn corrections(ended: &crate::program::Ended) -> Vec<String> {
    let page = line(&ended.stdout);
    let told = page.split("nextrung sets correct ").skip(1);
    told.map(|rest| rest.split("; ").next().unwrap().replace('\'', "")).collect()
}

/// Does what the commands say.
fn correct(served: &Served, commands: &[String]) {
    for command in commands {
        let (flags, reason) = command.split_once(" --reason ").unwrap();
        let words = ["sets", "correct"].into_iter().chain(flags.split(' ')).chain(["--reason", reason]);
        served.run(&words.collect::<Vec<_>>()).page();
    }
}

#[test]
fn a_set_recorded_before_with_other_content_is_told_at_its_cell_with_the_command_that_corrects_it() {
    let served = hall();
    let log = put(&served, "log.csv", format!("{HEADER}14.03.2026;wren;pull-up;5 5;;\n"));
    let map = mapped(&served, &log, &[]);
    sheet(&served, "import", &log, &["--map", &map]).page();
    put(&served, "log.csv", format!("{HEADER}14.03.2026;wren;pull-up;5 4;;\n"));
    let refused = sheet(&served, "import", &log, &["--map", &map]);
    assert_eq!(refused.code, 2);
    told(
        &refused,
        &[
            "log.csv, D2 (Sets)",
            "`wren:2026-03-14:1:2`, recorded before with other content (done 5 reps, here 4 reps)",
            "a forgotten set goes below the others of its day",
        ],
    );
    let commands = corrections(&refused);
    assert_eq!(commands, ["hall/wren/wren:2026-03-14:1:2 --reps=4 --reason as in the sheet"]);
    correct(&served, &commands);
    told(&sheet(&served, "import", &log, &["--map", &map]), &["0 new sets recorded, 2 known already."]);
}

#[test]
fn another_sheet_of_the_same_days_is_a_session_of_its_own() {
    let served = hall();
    let log = put(&served, "log.csv", format!("{HEADER}14.03.2026;wren;pull-up;5 5;;\n"));
    let map = mapped(&served, &log, &[]);
    sheet(&served, "import", &log, &["--map", &map]).page();
    let evening = put(&served, "evening.csv", format!("{HEADER}14.03.2026;wren;pull-up;5 4;;\n"));
    let refused = sheet(&served, "import", &evening, &["--map", &map]);
    told(
        &refused,
        &["another sheet of the same days is a session of its own: --session, or session in its mapping"],
    );
    let second = ["--map", map.as_str(), "--session", "2"];
    told(&sheet(&served, "import", &evening, &second), &["2 new sets recorded, 0 known already."]);
    told(&sheet(&served, "import", &evening, &second), &["0 new sets recorded, 2 known already."]);
    told(&sheet(&served, "import", &log, &["--map", &map]), &["0 new sets recorded, 2 known already."]);
    let ids = |session: i64| {
        let of = |set: &&serde_json::Value| set["session"] == session;
        sets(&served, "hall/wren").iter().filter(of).map(|set| set["clientSetId"].clone()).collect::<Vec<_>>()
    };
    assert_eq!(ids(2), ["wren:2026-03-14:2:1", "wren:2026-03-14:2:2"]);
    assert_eq!(ids(1).len(), 2);

    let own = mapped(&served, &evening, &["--session", "2"]);
    assert!(read(&served, "map.toml").contains("\nsession = 2\n"), "it is kept with the mapping");
    told(&sheet(&served, "import", &evening, &["--map", &own]), &["0 new sets recorded, 2 known already."]);
    for wrong in ["0", "10", "two"] {
        let refused = sheet(&served, "import", &evening, &["--map", &map, "--session", wrong]);
        assert!(refused.code == 2 && refused.said().contains("a session of the day, 1 to 9"), "{wrong}");
    }
}

#[test]
fn a_set_put_in_between_recorded_ones_is_told_set_by_set_and_taken_once_they_are_corrected() {
    let served = hall();
    let day = "14.03.2026;wren;pull-up;5 5 4;;\n;;push-up;12 11;;odd\n";
    let log = put(&served, "log.csv", format!("{HEADER}{day}"));
    let map = mapped(&served, &log, &[]);
    sheet(&served, "import", &log, &["--map", &map]).page();
    put(&served, "log.csv", format!("{HEADER}14.03.2026;wren;pull/chin-over-hold;10s;;forgotten\n{day}"));
    let refused = sheet(&served, "import", &log, &["--map", &map]);
    told(
        &refused,
        &[
            "rung pull/pull-up, here pull/chin-over-hold; done 5 reps, here 10 s held; note none, here forgotten",
        ],
    );
    let commands = corrections(&refused);
    assert_eq!(commands.len(), 4, "the second set is what it was: {commands:#?}");
    correct(&served, &commands);
    told(&sheet(&served, "import", &log, &["--map", &map]), &["1 new set recorded, 5 known already."]);
    // Below the others of its day, it needs no correction.
    let more = "14.03.2026;wren;pull/chin-over-hold;9s;;\n";
    put(
        &served,
        "log.csv",
        format!("{HEADER}14.03.2026;wren;pull/chin-over-hold;10s;;forgotten\n{day}{more}"),
    );
    told(&sheet(&served, "import", &log, &["--map", &map]), &["1 new set recorded, 6 known already."]);
    // A withdrawn set keeps its key.
    served.run(&["sets", "withdraw", "hall/wren/wren:2026-03-14:1:7", "--reason", "twice"]).page();
    put(
        &served,
        "log.csv",
        format!(
            "{HEADER}14.03.2026;wren;pull/chin-over-hold;10s;;forgotten\n{day}{}",
            more.replace('9', "8")
        ),
    );
    let refused = sheet(&served, "import", &log, &["--map", &map]);
    told(&refused, &["it was withdrawn and its key stays taken"]);
    assert!(corrections(&refused).is_empty(), "{}", refused.stdout);
}

#[test]
fn what_was_recorded_is_found_among_more_than_a_page_of_sets() {
    let served = hall();
    let day = |n: usize| (2023 + n / 336, n / 28 % 12 + 1, n % 28 + 1);
    let row = |n: usize, reps: usize| {
        let (year, month, day) = day(n);
        format!("{day:02}.{month:02}.{year};wren;pull-up;{reps};;\n")
    };
    let rows: Vec<String> = (0..1000).map(|n| row(n, 5)).collect();
    let log = put(&served, "log.csv", format!("{HEADER}{}", rows.concat()));
    let map = mapped(&served, &log, &["--day-order", "day-month-year"]);
    told(&sheet(&served, "import", &log, &["--map", &map]), &["1000 new sets recorded"]);
    // One more on the first day, and the last one stands on a second page.
    let one =
        ["--date", "2023-01-01", "--set", "2", "--rung", "pull/pull-up", "--reps", "5", "--stop", "other"];
    served.run(&[&["record", "hall/wren"], &one[..]].concat()).page();
    let changed = [&[row(0, 4)], &rows[1..999], &[row(999, 3)]].concat().concat();
    put(&served, "log.csv", format!("{HEADER}{changed}"));
    let commands = corrections(&sheet(&served, "import", &log, &["--map", &map]));
    let (year, month, day) = day(999);
    let last = format!("hall/wren/wren:{year}-{month:02}-{day:02}:1:1 --reps=3 --reason as in the sheet");
    assert_eq!(commands, ["hall/wren/wren:2023-01-01:1:1 --reps=4 --reason as in the sheet", &last]);
}

#[test]
fn every_bad_cell_is_found_however_many_the_service_names_at_a_time() {
    let served = hall();
    let day = |n: usize| format!("{:02}.{:02}.2027;wren;pull-up;5;;\n", n % 28 + 1, n / 28 + 1);
    let rows: String = (0..300).map(day).collect();
    let log = put(&served, "log.csv", format!("{HEADER}{rows}14.03.2026;wren;pull-up;5;;\n"));
    let map = mapped(&served, &log, &[]);
    let refused = sheet(&served, "import", &log, &["--map", &map]);
    told(&refused, &["301: 1 with 1 set, 300 with problems", "A2 (Date) and 299 more"]);
    let mapping = read(&served, "map.toml").replace("stop = \"other\"", "stop = \"target\"");
    put(&served, "map.toml", mapping);
    let one = put(&served, "one.csv", format!("{HEADER}{}", "14.03.2026;wren;pull-up;5;;\n".repeat(150)));
    let refused = sheet(&served, "import", &one, &["--map", &map, "--set-aside", &path(&served, "all.csv")]);
    assert_eq!(refused.code, 2);
    assert!(
        refused.said().contains("is sound") && refused.said().contains("nothing was set aside"),
        "{}",
        refused.stderr
    );
    assert!(std::fs::read(path(&served, "all.csv")).is_err());
}

/// Forty athletes, each on as many days as it takes.
fn long_log(served: &Served, rows: usize) -> String {
    let mut text = HEADER.to_owned();
    for n in 0..rows {
        let (who, at) = (n / 1000, n % 1000);
        text += &format!(
            "{:02}.{:02}.{};athlete-{who};pull-up;{};;\n",
            at % 28 + 1,
            at / 28 % 12 + 1,
            2023 + at / 336,
            n % 7
        );
    }
    for who in 0..rows.div_ceil(1000) {
        let name = format!("hall/athlete-{who}");
        served.run(&["athlete", "add", &name]).page();
    }
    put(served, "long.csv", text)
}

#[test]
fn a_service_lost_half_way_is_told_and_the_same_command_finishes_it() {
    let mut served = hall();
    let log = long_log(&served, 40_000);
    let map = mapped(&served, &log, &[]);
    let import =
        ["sheet", "import", &log, "--roster", "hall", "--map", &map, "--server", &served.url.clone()];
    let child = program(&import).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let began = Instant::now();
    // Four parcels are under way at once, so that the fifth says that one was answered.
    while sets(&served, "hall/athlete-4").is_empty() {
        assert!(began.elapsed() < Duration::from_secs(60), "nothing was recorded");
    }
    served.stop_at_once();
    let lost = child.wait_with_output().unwrap();
    let said = String::from_utf8(lost.stderr).unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(lost.status.code(), Some(3), "{said}");
    assert!(said.contains("of 40000 sets are recorded. The same command again finishes it"), "{said}");
    let told: usize = said
        .split(" of 40000 sets are recorded")
        .next()
        .unwrap()
        .rsplit(' ')
        .next()
        .unwrap()
        .parse()
        .unwrap();
    served.start_again();
    let done = sheet(&served, "import", &log, &["--map", &map]);
    let page = line(done.page());
    let number = |after: &str| -> usize {
        let before = page.split(after).next().unwrap();
        before.split_whitespace().last().unwrap().parse().unwrap()
    };
    let (fresh, known) = (number(" new sets recorded"), number(" known already"));
    assert_eq!(fresh + known, 40_000, "{}", done.stdout);
    assert!(fresh > 0 && told >= 1000, "{told} told: {}", done.stdout);
    assert!(
        (told..=told + 4000).contains(&known),
        "{told} told, the answers of four parcels may be lost: {known}"
    );
    assert_eq!((sets(&served, "hall/athlete-0").len(), sets(&served, "hall/athlete-39").len()), (1000, 1000));
}

#[test]
fn a_key_that_may_ask_for_little_waits_and_comes_to_the_end() {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("hall.db").to_str().unwrap().to_owned();
    let secret = |arguments: &[&str]| {
        let made =
            [&["key", "make"], arguments, &["--title", "Zoe", "--database", &database, "--json"]].concat();
        run(&made).json()["secret"].as_str().unwrap().to_owned()
    };
    let operator = secret(&["operator"]);
    // A call with sets costs five points.
    let little = ["--keys", "true", "--limits-key-points", "10", "--limits-key-burst", "20"];
    let served = Served::with(folder, "hall.db", &little);
    served.run(&["roster", "add", "hall", "--title", "The hall", "--key", &operator]).page();
    let coach = secret(&["coach", "--of", "hall"]);
    let mut text = HEADER.to_owned();
    for who in ["wren", "lark", "swift", "kite"] {
        served.run(&["athlete", "add", &format!("hall/{who}"), "--key", &coach]).page();
        text += &format!("14.03.2026;{who};pull-up;5;;\n");
    }
    let log = put(&served, "log.csv", text);
    let guessed = ["--purpose", "working", "--stop", "other", "--as-guessed", "--key", &coach];
    let began = Instant::now();
    let done = sheet(&served, "import", &log, &guessed);
    told(&done, &["4 new sets recorded, 0 known already."]);
    assert!(began.elapsed() > Duration::from_secs(1), "eight calls cost forty points");
}
