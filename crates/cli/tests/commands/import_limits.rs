//! Limits of imports: whatever a file asks for, the program keeps to its memory and ends with a clear error.

use std::fs;
use std::process::Stdio;
use std::time::{Duration, Instant};

use crate::hall::{hall, line, mapped, path, put, sets, sheet};
use crate::kept::{self, MAP};
use crate::program::{Served, program};
use crate::workbook::workbook;

/// Most kilobytes of the program.
const MOST: u64 = 256 * 1024;
const NO_TEXTS: (&str, (usize, &str), &str) = ("<sst>", (0, ""), "</sst>");
const END: &str = "</sheetData></worksheet>";
const ROW: &str = "<row><c t=\"d\"><v>2026-03-14</v></c><c t=\"inlineStr\"><is><t>pull-up</t></is></c><c><v>5</v></c></row>";

/// How a command ended, and the most memory it had.
struct Watched {
    code: i32,
    text: String,
    kilobytes: u64,
    took: Duration,
}

/// Runs a command and looks at its memory all the time.
fn watch(served: &Served, arguments: &[&str]) -> Watched {
    let all = [arguments, &["--server", &served.url]].concat();
    let (out, errors) = (path(served, "out.txt"), path(served, "errors.txt"));
    let file = |path: &str| fs::File::create(path).unwrap();
    let began = Instant::now();
    let mut child =
        program(&all).stdout(Stdio::from(file(&out))).stderr(Stdio::from(file(&errors))).spawn().unwrap();
    let mut kilobytes = 0;
    let code = loop {
        // The kernel keeps the most there ever was, so only what is taken in the last moment can be missed.
        kilobytes = kilobytes.max(most_kilobytes(child.id()).unwrap_or(0));
        match child.try_wait().unwrap() {
            Some(status) => break status.code().unwrap_or(-1),
            None => std::thread::sleep(Duration::from_millis(2)),
        }
    };
    let text = line(&(fs::read_to_string(out).unwrap() + &fs::read_to_string(errors).unwrap()));
    Watched { code, text, kilobytes, took: began.elapsed() }
}

/// The most memory of a process so far (proc(5), `VmHWM`).
fn most_kilobytes(process: u32) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.split_whitespace().next()?.parse().ok()
}

fn titles(more: &str) -> String {
    let cells =
        ["Date", "Exercise", "Reps"].map(|title| format!("<c t=\"inlineStr\"><is><t>{title}</t></is></c>"));
    format!("<worksheet><sheetData><row>{}{more}</row>", cells.concat())
}

fn book(middle: (usize, &str), tail: &str) -> Vec<u8> {
    workbook((&titles(""), middle, tail), NO_TEXTS)
}

type Make = fn() -> Vec<u8>;

/// Files with what their end must say.
const FILES: &[(&str, Make, &str)] = &[
    (
        "a million rows of a workbook",
        || book((1_000_000, ROW), END),
        "row 500001: found one filled row more; expected at most 500000 rows",
    ),
    (
        "a million rows of CSV",
        || format!("Date,Exercise,Reps\n{}", "2026-03-14,pull-up,5\n".repeat(1_000_000)).into_bytes(),
        "row 500001: found one filled row more",
    ),
    (
        "a cell at the last corner",
        || {
            book(
                (1, ROW),
                "<row r=\"1048576\"><c r=\"XFD1048576\"><v>1</v></c></row></sheetData></worksheet>",
            )
        },
        "XFD1048576: found a filled cell; expected cells in the first 256 columns",
    ),
    (
        "a bomb of texts",
        || {
            let text = format!("<si><t>{}</t></si>", "x".repeat(32_000));
            workbook((&titles(""), (1, ROW), END), ("<sst>", (2000, &text), "</sst>"))
        },
        "expected at most 1000000 texts of 33554432 bytes",
    ),
    (
        "a header of long titles",
        || {
            let title = format!("<c t=\"inlineStr\"><is><t>{}</t></is></c>", "x".repeat(250_000));
            workbook((&titles(&title.repeat(250)), (1, ROW), END), NO_TEXTS)
        },
        "bytes of text in a row; expected rows of at most 1048576 bytes",
    ),
    (
        "exercises of long names, each another",
        || {
            let name = |n: u32| format!("2026-03-14,{n:0>30000},5\n");
            (0..2000).fold("Date,Exercise,Reps\n".to_owned(), |sheet, n| sheet + &name(n)).into_bytes()
        },
        "2000 rows have problems",
    ),
    (
        "half a million athletes nobody knows",
        || {
            let row = |n: u32| format!("2026-03-14,{n:0>100},pull-up,5\n");
            (0..499_999).fold("Date,Name,Exercise,Reps\n".to_owned(), |sheet, n| sheet + &row(n)).into_bytes()
        },
        "who `",
    ),
    (
        "a day too late, half a million times",
        || {
            let row = |n: u32| {
                format!("{}-{:02}-{:02},pull-up,5\n", 2030 + n / 50_000, n / 28 % 12 + 1, n % 28 + 1)
            };
            (0..499_000).fold("Date,Exercise,Reps\n".to_owned(), |sheet, n| sheet + &row(n)).into_bytes()
        },
        "the service refused so many sets of",
    ),
];

#[test]
fn hostile_files_end_with_a_clear_error_in_little_memory() {
    let served = hall();
    let answers = ["--purpose", "working", "--stop", "other", "--athlete", "wren", "--as-guessed"];
    let mut wrong = Vec::new();
    let mut most = 0;
    for (name, make, says) in FILES {
        let file = put(&served, "bad", make());
        let all = [&["sheet", "import", &file, "--roster", "hall"], &answers[..]].concat();
        let ended = watch(&served, &all);
        most = most.max(ended.kilobytes);
        if ended.code != 2 || !ended.text.contains(says) || ended.kilobytes > MOST {
            let text: String = ended.text.chars().take(600).collect();
            wrong.push(format!(
                "{name}: exit {}, {} KB, {:?}; {text}",
                ended.code, ended.kilobytes, ended.took
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(most > 60 * 1024, "{most} KB: less than the largest file, so memory is not counted");
    assert!(sets(&served, "hall/wren").is_empty());
}

#[test]
fn fifty_thousand_rows_are_recorded_in_little_memory() {
    let served = hall();
    let mut text = "Date,Name,Exercise,Reps,Notes\n".to_owned();
    for n in 0..50_000_u32 {
        let (day, who) = (n / 200, n / 5 % 40);
        let date = format!("{}-{:02}-{:02}", 2024 + day / 336, 1 + day / 28 % 12, 1 + day % 28);
        text += &format!("{date},athlete-{who},Pull-up,{},tired but fine\n", n % 7);
    }
    for who in 0..40 {
        served.run(&["athlete", "add", &format!("hall/athlete-{who}")]).page();
    }
    let log = put(&served, "long.csv", text);
    let map = mapped(&served, &log, &[]);
    let done = watch(&served, &["sheet", "import", &log, "--roster", "hall", "--map", &map]);
    assert_eq!(done.code, 0, "{}", done.text);
    assert!(done.text.ends_with("50000 new sets recorded, 0 known already."), "{}", done.text);
    assert!(done.kilobytes < 96 * 1024, "{} KB", done.kilobytes);
    let again = sheet(&served, "import", &log, &["--map", &map]);
    assert!(again.page().ends_with("\n0 new sets recorded, 50000 known already.\n"), "{}", again.stdout);
    assert_eq!(sets(&served, "hall/athlete-39").len(), 1250);
}

#[test]
fn no_more_of_a_file_is_read_than_a_sheet_may_have() {
    let served = hall();
    let (folder, map) = (path(&served, "folder"), put(&served, "map.toml", MAP));
    fs::create_dir(&folder).unwrap();
    let file = put(&served, "folder/vast.xlsx", "");
    fs::File::options().write(true).open(&file).unwrap().set_len(1 << 30).unwrap();
    let import = ["sheet", "import", &file, "--roster", "hall", "--map", &map];
    let keep = ["workbook", "keep", &folder, "--roster", "hall", "--map", &map, "--once"];
    for command in [&import[..], &keep] {
        let ended = watch(&served, command);
        assert_eq!(ended.code, 2, "{}", ended.text);
        assert!(ended.text.contains("67108865 bytes; expected at most 67108864 bytes"), "{}", ended.text);
        assert!(ended.kilobytes < MOST, "{} KB", ended.kilobytes);
    }
}

#[test]
fn what_is_refused_too_often_is_neither_recorded_nor_set_aside_in_part() {
    let served = hall();
    let days = |year: u32| move |n: u32| format!("{year}-{:02}-{:02}", n / 200 / 28 + 1, n / 200 % 28 + 1);
    // A thousand sound sets go to the service first, then six thousand of days to come.
    let sound = (0..1000).map(days(2026)).map(|day| (day, "lark"));
    let rows: Vec<(String, &str)> = sound.chain((0..6000).map(days(2030)).map(|day| (day, "wren"))).collect();
    let line = |(day, who): &(String, &str)| format!("{day},{who},pull/pull-up,5,\n");
    let text: String =
        std::iter::once("Date,Who,What,Reps,Note\n".to_owned()).chain(rows.iter().map(line)).collect();
    let (log, map, aside) =
        (put(&served, "log.csv", text), put(&served, "map.toml", MAP), path(&served, "aside.csv"));
    let refused = sheet(&served, "import", &log, &["--map", &map, "--set-aside", &aside]);
    assert_eq!(refused.code, 2);
    assert!(refused.said().contains("the service refused so many sets of"), "{}", refused.stderr);
    assert!(sets(&served, "hall/lark").is_empty() && fs::read(&aside).is_err());

    let cells: Vec<_> = rows.iter().map(|(day, who)| (day.as_str(), *who, "pull/pull-up", "5")).collect();
    let folder = path(&served, "folder");
    fs::create_dir(&folder).unwrap();
    put(&served, "folder/log.xlsx", kept::book(&cells));
    let looked = served.run(&["workbook", "keep", &folder, "--roster", "hall", "--map", &map, "--once"]);
    assert_eq!(looked.code, 2);
    assert!(looked.said().contains("so many sets that none were recorded"), "{}", looked.stderr);
    assert!(sets(&served, "hall/lark").is_empty());
}
