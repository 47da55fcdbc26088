//! Workbooks: an athlete's, a roster's, whole or not at all.

use std::fs;

use crate::hall::{hall, path, put};
use crate::kept::{stored, text};

const SETS: &str = "athlete,training_date,set_number,rung,purpose,reps,hold_seconds,planned_target,stop,note
wren,2026-11-16,1,pull/pull-up,working,5,,5,target,=1+1
wren,2026-11-16,2,pull/pull-up,working,4,,5,strength,@SUM(A1)
wren,2026-11-18,1,pull/pull-up,working,6,,6,target,
lark,2026-11-18,1,front-lever/tuck,working,,9,10,strength,
";

fn trained() -> crate::program::Served {
    let served = hall();
    let sheet = put(&served, "sets.csv", SETS);
    served.run(&["record", "--roster", "hall", "--csv", &sheet]).page();
    served
}

#[test]
fn a_workbook_has_what_the_command_line_says_and_the_same_bytes_each_time() {
    let served = trained();
    let file = path(&served, "wren.xlsx");
    let write = ["workbook", "write", "hall/wren", "-o", &file, "--date", "2026-11-24"];
    assert_eq!(served.run(&write).page(), format!("{file} written\n"));
    let bytes = fs::read(&file).unwrap();
    let strings = text(&bytes, "xl/sharedStrings.xml").replace("&apos;", "'").replace("&quot;", "\"");
    let strings = strings.replace('\n', " ");
    let made = served.run(&["prescribe", "hall/wren", "--date", "2026-11-24", "--dry-run", "--json"]).json();
    let mut sentences = vec![made["headline"].as_str().unwrap()];
    for item in made["items"].as_array().unwrap() {
        sentences.extend(
            item["reasons"].as_array().unwrap().iter().map(|reason| reason["sentence"].as_str().unwrap()),
        );
    }
    sentences.extend(made["cautions"].as_array().unwrap().iter().map(|caution| caution.as_str().unwrap()));
    assert!(sentences.len() > 5);
    for sentence in sentences {
        let held = sentence.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
        assert!(strings.contains(&held), "{sentence}");
    }
    assert!(strings.contains("=1+1") && strings.contains("@SUM(A1)"));
    assert!(!stored(&bytes).keys().any(|name| name.contains("calcChain")));
    for sheet in 1..=4 {
        let xml = text(&bytes, &format!("xl/worksheets/sheet{sheet}.xml"));
        assert!(!xml.contains("<f>") && !xml.contains("<f "), "no formula: {xml}");
    }
    let refused = served.run(&write);
    assert_eq!(refused.code, 2);
    assert!(refused.said().contains("is there already"), "{}", refused.stderr);
    served.run(&[&write[..], &["--replace"]].concat()).page();
    assert!(fs::read(&file).unwrap() == bytes, "the same log, the same bytes");
    let none = served.run(&["prescriptions", "list", "hall/wren", "--json"]).json();
    assert_eq!(none["prescriptions"].as_array().map_or(0, Vec::len), 0, "nothing is kept of it");
}

#[test]
fn a_roster_is_a_folder_with_an_overview() {
    let served = trained();
    let folder = path(&served, "out");
    let write = ["workbook", "write", "--roster", "hall", "-o", &folder, "--date", "2026-11-24"];
    served.run(&write).page();
    let mut names: Vec<String> = fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort_unstable();
    assert_eq!(names, ["lark.xlsx", "roster overview.xlsx", "sam-o.xlsx", "sam-p.xlsx", "wren.xlsx"]);
    let overview = fs::read(served.folder.path().join("out/roster overview.xlsx")).unwrap();
    let strings = text(&overview, "xl/sharedStrings.xml").replace('\n', " ");
    for part in ["The hall (hall): next sessions", "Lark Ash", "Wren", "x 3-5 reps"] {
        assert!(strings.contains(part), "{part}: {strings}");
    }
    assert!(text(&overview, "xl/worksheets/_rels/sheet1.xml.rels").contains("wren.xlsx"));
    let wren = fs::read(served.folder.path().join("out/wren.xlsx")).unwrap();
    for (_, content) in stored(&wren) {
        assert!(!String::from_utf8_lossy(&content).contains("Lark"), "nobody else is in it");
    }
    assert!(!text(&wren, "xl/sharedStrings.xml").contains("Lark"));
    for first_or_last in ["out/lark.xlsx", "out/wren.xlsx"] {
        fs::remove_file(served.folder.path().join(first_or_last)).unwrap();
        let refused = served.run(&write);
        assert_eq!(refused.code, 2, "{}", refused.stderr);
        assert!(!served.folder.path().join(first_or_last).exists(), "all of it or nothing");
    }
}

#[cfg(unix)]
#[test]
fn new_workbooks_are_as_the_mask_has_it_and_replaced_ones_as_they_were() {
    use std::os::unix::fs::PermissionsExt;
    let served = trained();
    let (file, folder) = (path(&served, "wren.xlsx"), path(&served, "out"));
    let write = |what: &str, to: &str, more: &str| {
        let command = format!(
            "umask 027; exec \"$0\" workbook write {what} -o {to} --date 2026-11-24 {more} --server {}",
            served.url
        );
        let mut shell = std::process::Command::new("sh");
        let done = shell.args(["-c", &command, env!("CARGO_BIN_EXE_nextrung")]).output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    };
    let mode = |file: &str| fs::metadata(file).unwrap().permissions().mode() & 0o777;
    write("hall/wren", &file, "");
    write("--roster hall", &folder, "");
    assert_eq!((mode(&file), mode(&format!("{folder}/wren.xlsx"))), (0o640, 0o640));
    fs::set_permissions(&file, PermissionsExt::from_mode(0o664)).unwrap();
    write("hall/wren", &file, "--replace");
    assert_eq!(mode(&file), 0o664);
}

#[test]
fn nobody_and_nowhere_are_said() {
    let served = hall();
    let file = path(&served, "kite.xlsx");
    assert_eq!(served.run(&["workbook", "write", "hall/kite", "-o", &file]).code, 1);
    assert!(!std::path::Path::new(&file).exists());
    let nowhere = path(&served, "no/such/wren.xlsx");
    assert_eq!(served.run(&["workbook", "write", "hall/wren", "-o", &nowhere]).code, 2);
    assert_eq!(served.run(&["workbook", "write", "-o", &file]).code, 2, "whose?");
}
